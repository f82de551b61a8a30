"""The command line: `python -m addon ...` and `blender --command platewright ...` are this one function.

Standard output holds what was asked for; standard error holds progress, warnings and faults, a line each.
Exit status: 0 success; 2 bad input, reported in one line; 130 interrupted; 1 from `diff`: something is worse,
otherwise a defect of ours, with its traceback.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import bpy

from ..engine import study as studies
from ..engine.errors import InputError, one_line
from ..engine.filled import filled
from ..engine.printing import prepare
from ..engine.reporting import (
    compare_text,
    finding_text,
    language,
    plan_even,
    png,
    report,
)
from ..engine.reporting.language import ENGLISH, Language
from ..engine.settings import job_file
from ..engine.sheet import client, marks, turntable
from ..engine.study import Study, together
from ..engine.study import printed as standing
from ..engine.study.kinds import KINDS
from ..engine.units import DM2, LENGTH
from ..engine.verdict import compare, reports
from . import outputs, study_files, versions
from .batch import BATCH_HELP, Task, each, each_job
from .console import NAME, Gauge, printed, say, tell
from .job_study import check_helpers, studied, with_helpers
from .scene import load, vented
from .scene.tracers import HostTracer
from .stopping import heeded

INTERRUPTED = 130  # exit status, as a shell gives it after Ctrl-C
OPTIONS = {
    "report": "the report, JSON",
    "plan": "the plan for the bench, text",
    "arrays": "one row a triangle, NumPy .npz",
    "blend": "the part in its colors, .blend",
    "picture": "the picture for the client, .png",
    "inset": "a smaller copy to print, so that the plated part is to size, .stl",
    "workshop": "the plan with pictures at its steps, to print on two pages or to keep on a phone, .html",
    "vented": "the part with vents and drains cut for the way it hangs, .stl",
    "hanger": "a printable hanger that holds the part as it is to hang, on the part in its model's axes, .stl",
    "plugs": "printable plugs for holes that only take current away, in their places, .stl",
    "masks": "printable caps and plugs for the masked ends of shafts and bores, in their places, .stl",
    "rack": "a printable rack for the copies at their spacing, .stl (tank axes, as the next three)",
    "anode-holder": "printable holders of the anodes, which sit on the tank's rim, .stl",
    "shield": "printable shields between part and anodes that even the deposit out, .stl",
    "thief": "a printable former for a thief of wire round the part, .stl",
    "sheet": "the client's sheet: metal, thickness, what to know, .pdf, .svg or .png",
    "turntable": "the part turning once, metal beside thickness, an animated .png",
    "cut": "a cut through the tank with potential and current, a picture, .png",
}
JOB = ".toml, .stl, .obj, .ply, .glb or .blend; of a folder every job file, or every model where it has none"

_commands: list[Any] = []


def main(arguments: Sequence[str]) -> int:
    """Run one command. Returns the exit status; never raises for bad input."""
    try:
        with heeded():
            options = _parser().parse_args(list(arguments))
            return options.run(options)
    except InputError as fault:
        return tell(fault)
    except KeyboardInterrupt:
        say("stopped; the job in hand wrote nothing")
        return INTERRUPTED
    finally:
        if bpy.data.filepath:
            load.empty_scene()  # a driver that was not allowed to run would keep Blender from ending


def register() -> None:
    _commands.append(bpy.utils.register_cli_command(NAME, main))


def unregister() -> None:
    while _commands:
        bpy.utils.unregister_cli_command(_commands.pop())


class _Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one line, like all other faults."""

    def error(self, message: str) -> NoReturn:
        """Raises InputError, always."""
        raise InputError(filled("{message}; see {name} --help", message=message, name=self.prog))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog=NAME, description="Plan the electroplating of a printed part.")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    whole = commands.add_parser(
        "plan",
        help="the whole study of a job file (.toml) or of a model file with defaults",
        epilog=BATCH_HELP,
    )
    whole.add_argument("jobs", nargs="+", metavar="JOB", help=JOB)
    for option, meaning in OPTIONS.items():
        whole.add_argument(f"--{option}", metavar="FILE", help=meaning)
    whole.add_argument("--page", choices=tuple(client.FORMS), default="portrait", help="form of the client's sheet")
    whole.add_argument("--theme", choices=tuple(marks.INKS), default="light", help="colors of the client's sheet")
    _add_language(whole)
    whole.set_defaults(run=_plan)
    even = commands.add_parser(
        "compare",
        help="what would even the deposit out: other densities, anodes and turns, best first",
        epilog=BATCH_HELP,
    )
    even.add_argument("jobs", nargs="+", metavar="JOB", help=JOB)
    for option in ("report", "plan"):
        even.add_argument(f"--{option}", metavar="FILE", help=OPTIONS[option])
    _add_language(even)
    even.set_defaults(run=_compare)
    diff = commands.add_parser(
        "diff",
        help="what became better and worse from one report to another, worst first",
        epilog="Exit status: 0 nothing is worse, 1 something is, 2 one of the files is no report.",
    )
    diff.add_argument("reports", nargs=2, metavar="REPORT", help="two reports of plan --report, the earlier one first")
    diff.set_defaults(run=_diff)
    area = commands.add_parser("area", help="the plated area of model files, one line each")
    area.add_argument("models", nargs="+", metavar="MODEL", help=".stl, .obj, .ply, .glb or .blend")
    area.add_argument("--unit", choices=tuple(LENGTH), help="what one unit of the file means (default: mm)")
    area.add_argument("--object", default="", help="name of the object in a .blend")
    area.set_defaults(run=_area)
    assets = commands.add_parser("assets", help="materials that follow the calculation, for an asset library")
    assets.add_argument("--blend", metavar="FILE", required=True, help="the library, .blend")
    assets.set_defaults(run=_assets)
    return parser


def _add_language(command: argparse.ArgumentParser) -> None:
    command.add_argument("--language", choices=language.names(), default="en", help="of the plan and both sheets")


@dataclass(frozen=True)
class _Look:
    """Layout of the documents: form and colors of the client's sheet, language of plan and sheets."""

    page: client.Form = "portrait"
    theme: marks.Theme = "light"
    language: Language = ENGLISH


def _plan(options: argparse.Namespace) -> int:
    values = {option: getattr(options, option.replace("-", "_")) for option in OPTIONS}
    asked = {option: name for option, name in values.items() if name}
    if not asked:
        raise InputError(
            filled(
                "plan: nothing to write; add --report FILE or another of --{label}",
                label=", --".join(OPTIONS),
            )
        )
    look = _Look(options.page, options.theme, language.of(options.language))
    return each_job(options.jobs, asked, partial(_plan_one, look=look))


def _plan_one(task: Task, look: _Look, only: Sequence[str] | None = None) -> Study:
    path, targets = task.path, task.targets
    job = job_file.load_job(path)
    if "sheet" in targets and job.sheet.logo:
        from .draw import sheets

        sheets.mark_of(job.sheet.logo)  # report a logo that is not an image before computing anything
    check_helpers(path, job, targets.keys())
    job = standing.settled(job, targets.keys())
    also = [*(["cut"] if "cut" in targets else []), *with_helpers(job, targets.keys())]
    part, job, bodies = load.staged(job)
    try:
        study = task.gauge.run(studied(path, part, job, bodies, only, also), path.name)
    except InputError as fault:
        if str(fault).startswith(str(path)):
            raise
        raise InputError(filled("{path}: {fault}", path=path, fault=fault)) from None
    failed = [study.reasons[name] for name in only or () if name in study.reasons]
    if failed:
        raise InputError(filled("{path}: {fault}", path=path, fault=failed[0]))
    opened = vented.made(study) if "vented" in targets else None
    sized = prepare.to_size(study.surface, study.layer()) if "inset" in targets else None
    for kind in KINDS:
        if kind.option in targets and kind.analysis not in study.results.names:
            raise InputError(filled("{path}: {fault}", path=path, fault=study.reasons[kind.analysis]))
    try:
        together.check_apart(study)
    except InputError as fault:
        raise InputError(filled("{path}: {fault}", path=path, fault=fault)) from None
    files = {kind.entry: str(targets[kind.option]) for kind in KINDS if kind.option in targets}
    table = report.build(study, versions.running(), opened, sized, files)
    for warning in table["warnings"] if only is None else ():
        say(f"warning: {warning}")
    with outputs.together(targets) as paths:
        study_files.write(study, table, paths, look.language)
        if sized is not None:
            study_files.write_inset(study, sized, paths["inset"])
        if "vented" in paths:
            study_files.write_vented(study, opened, paths["vented"])
        if "sheet" in paths:
            from .draw import sheets

            sheets.write(study, paths["sheet"], look.page, look.theme, look.language)
        if "turntable" in paths:
            frames = list(turntable.frames(study, look.theme))
            paths["turntable"].write_bytes(png.animated(frames, turntable.FRAME_MS))
    return study


def _compare(options: argparse.Namespace) -> int:
    asked = {option: getattr(options, option) for option in ("report", "plan") if getattr(options, option)}
    if outputs.STANDARD in asked.values():
        raise InputError("compare: its table goes to standard output; name a file for the report and the plan")
    return each_job(options.jobs, asked, partial(_compare_one, look=_Look(language=language.of(options.language))))


def _compare_one(task: Task, look: _Look) -> None:
    study = _plan_one(task, look, only=("deposit", "layouts"))
    table = plan_even.table(study.results.layouts, look.language)
    head = filled("{name}: what would even the deposit out, best first", name=one_line(str(task.path)))
    printed(f"{language.translated(head, look.language)}\n{table}\n")


def _diff(options: argparse.Namespace) -> int:
    before, after = (reports.load(Path(name)) for name in options.reports)
    changes = compare.compare(before, after)
    if changes:
        printed("\n".join([*compare_text.lines(changes), ""]))
    return int(compare.any_worse(changes))


def _area(options: argparse.Namespace) -> int:
    return each(options.models, lambda name, gauge: _area_one(name, options.unit, options.object, gauge))


def _area_one(name: str, unit: str | None, object_name: str, gauge: Gauge) -> None:
    job = job_file.load_job(name)
    section = replace(job.part, unit=unit or job.part.unit, object=object_name or job.part.object)
    study = gauge.run(studies.run(load.part(section), job, HostTracer, only=()), Path(name).name)
    for fault in study.surface.faults:
        say(f"warning: {finding_text.text(fault)}")
    printed(f"{one_line(name)}: {study.surface.plated_area.sum() / DM2:.6g} dm2\n")


def _assets(options: argparse.Namespace) -> int:
    from .draw import materials

    path = Path(options.blend)
    outputs.Claims({}).check(path, {"blend": path})
    load.empty_scene()
    with outputs.together({"blend": path}) as paths:
        count = materials.library(paths["blend"])
    say(f"{one_line(str(path))}: {count} assets")
    return 0
