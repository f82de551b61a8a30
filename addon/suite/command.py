"""The command line: `python -m addon ...` and `blender --command platewright ...` are this one function.

Standard output holds what was asked for; standard error holds progress, warnings and faults, a line each.
Exit status: 0 all done; 2 bad input, said in one line; 130 stopped; 1 of `diff` something is worse, else a defect of
ours, with its traceback.
"""

from __future__ import annotations

import argparse
import traceback
from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import bpy

from ..engine import study as studies
from ..engine.coat.wires import given_pads
from ..engine.errors import InputError, one_line
from ..engine.field import solve as field
from ..engine.filled import filled
from ..engine.hanging.hung import is_recommended
from ..engine.mesh.part import Part
from ..engine.printing import prepare
from ..engine.progress import Progress, subrange
from ..engine.reporting import (
    compare_text,
    finding_text,
    language,
    plan_even,
    png,
    report,
)
from ..engine.reporting.language import ENGLISH, Language
from ..engine.settings import job as jobs
from ..engine.settings.job import Job
from ..engine.sheet import client, marks, turntable
from ..engine.study import Study
from ..engine.study import printed as standing
from ..engine.units import DM2, LENGTH
from ..engine.verdict import compare, reports
from . import outputs, study_files, versions
from .console import NAME, Gauge, printed, say, tell
from .scene import load, scenes, vented
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
    "rack": "a printable rack for the copies at their spacing, .stl (tank axes, as the next three)",
    "anode-holder": "printable holders of the anodes, which sit on the tank's rim, .stl",
    "shield": "printable shields between part and anodes that even the deposit out, .stl",
    "thief": "a printable former for a thief of wire round the part, .stl",
    "sheet": "the client's sheet: metal, thickness, what to know, .pdf, .svg or .png",
    "turntable": "the part turning once, metal beside thickness, an animated .png",
    "cut": "a cut through the tank with potential and current, a picture, .png",
}
# Option -> its analysis, the one that says what it costs or gains in deposit, and its kind in the report
HELPERS = {
    "hanger": ("hanger", "hanger_shade", "hanger"),
    "plugs": ("plugs", "plugged", "plug"),
    "rack": ("rack_holder", "rack_shade", "rack"),
    "anode-holder": ("anode_holder", "anode_holder_shade", "anode-holder"),
    "shield": ("shield", "shield_shade", "shield"),
    "thief": ("thief", "thief_shade", "thief"),
}
JOB = ".toml, .stl, .obj, .ply, .glb or .blend; of a folder every job file, or every model where it has none"
MANY = (
    "With several jobs, write {name} in each file name: it becomes the name of the job. Or name a folder that is there,"
    " as --report FOLDER: the file in it is called after job and option."
)

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
    """Says what is wrong in one line, as all of our faults do."""

    def error(self, message: str) -> NoReturn:
        """Raises InputError, always."""
        raise InputError(filled("{message}; see {name} --help", message=message, name=self.prog))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog=NAME, description="Plan the electroplating of a printed part.")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    whole = commands.add_parser(
        "plan",
        help="the whole study of a job file (.toml) or of a model file with defaults",
        epilog=MANY,
    )
    whole.add_argument("jobs", nargs="+", metavar="JOB", help=JOB)
    for option, what in OPTIONS.items():
        whole.add_argument(f"--{option}", metavar="FILE", help=what)
    whole.add_argument("--page", choices=tuple(client.FORMS), default="portrait", help="form of the client's sheet")
    whole.add_argument("--theme", choices=tuple(marks.INKS), default="light", help="colors of the client's sheet")
    _add_language(whole)
    whole.set_defaults(run=_plan)
    even = commands.add_parser(
        "compare",
        help="what would even the deposit out: other densities, anodes and turns, best first",
        epilog=MANY,
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
    """How what people read is set: form and colors of the client's sheet, the language of plan and sheets."""

    page: client.Form = "portrait"
    theme: marks.Theme = "light"
    language: Language = ENGLISH


def _plan(options: argparse.Namespace) -> int:
    given = {option: getattr(options, option.replace("-", "_")) for option in OPTIONS}
    asked = {option: name for option, name in given.items() if name}
    if not asked:
        raise InputError(
            filled(
                "plan: nothing to write; add --report FILE or another of --{label}",
                label=", --".join(OPTIONS),
            )
        )
    look = _Look(options.page, options.theme, language.of(options.language))
    return _each_job(options.jobs, asked, partial(_plan_one, look=look))


def _each_job(names: Sequence[str], asked: dict[str, str], run: Callable[[_Errand], object]) -> int:
    """Run for each job, of which none may spoil what another reads or writes."""
    names = [one for name in names for one in jobs.jobs_in(name)]
    asked = {option: outputs.pattern(option, given) for option, given in asked.items()}
    for option, pattern in asked.items():
        if len(names) > 1 and "{name}" not in pattern:
            raise InputError(
                filled(
                    "--{label} {path}: several jobs would write this file; put {{name}} in its name",
                    label=option,
                    path=pattern,
                )
            )
    claims = outputs.Claims({Path(name): jobs.files_read(Path(name)) for name in names})

    def run_one(name: str, gauge: Gauge) -> None:
        path = Path(name)
        targets = {option: Path(pattern.replace("{name}", path.stem)) for option, pattern in asked.items()}
        claims.check(path, targets)
        run(_Errand(path, targets, gauge))

    return _each(names, run_one)


@dataclass(frozen=True)
class _Errand:
    """One job of a call: its file, where its outputs go, and what shows how far it is."""

    path: Path
    targets: dict[str, Path]
    gauge: Gauge


def _plan_one(errand: _Errand, look: _Look, only: Sequence[str] | None = None) -> Study:
    path, targets = errand.path, errand.targets
    job = jobs.load_job(path)
    if "sheet" in targets and job.sheet.logo:
        from .draw import sheets

        sheets.mark_of(job.sheet.logo)  # a mark that is no picture is told before anything is computed
    _check_helpers(path, job, targets.keys())
    also = [*(["cut"] if "cut" in targets else []), *_with_helpers(job, targets.keys())]
    part, job, bodies = load.staged(job)
    study = errand.gauge.run(_studied(path, part, job, bodies, only, also), path.name)
    failed = [study.reasons[name] for name in only or () if name in study.reasons]
    if failed:
        raise InputError(filled("{path}: {fault}", path=path, fault=failed[0]))
    opened = vented.made(study) if "vented" in targets else None
    sized = prepare.to_size(study.surface, study.layer()) if "inset" in targets else None
    for option, (analysis, _, _) in HELPERS.items():
        if option in targets and analysis not in study.results.names:
            raise InputError(filled("{path}: {fault}", path=path, fault=study.reasons[analysis]))
    try:
        standing.check_apart(study)
    except InputError as fault:
        raise InputError(filled("{path}: {fault}", path=path, fault=fault)) from None
    files = {HELPERS[option][2]: str(where) for option, where in targets.items() if option in HELPERS}
    table = report.build(study, versions.found(), opened, sized, files)
    for warning in table["warnings"] if only is None else ():
        say(f"warning: {warning}")
    with outputs.together(targets) as made:
        study_files.write(study, table, made, look.language)
        if sized is not None:
            study_files.write_inset(study, sized, made["inset"])
        if "vented" in made:
            study_files.write_vented(study, opened, made["vented"])
        if "sheet" in made:
            from .draw import sheets

            sheets.write(study, made["sheet"], look.page, look.theme, look.language)
        if "turntable" in made:
            frames = list(turntable.frames(study, look.theme))
            made["turntable"].write_bytes(png.animated(frames, turntable.FRAME_MS))
    return study


def _check_helpers(path: Path, job: Job, targets: Set[str]) -> None:
    """Raises InputError where a printed helper cannot be made, whatever the study finds."""
    for option in HELPERS:
        if option in targets:
            try:
                standing.check(job, option)
            except InputError as fault:
                raise InputError(f"{path}: {fault}") from None


def _with_helpers(job: Job, targets: Set[str]) -> list[str]:
    """The analyses that the printed helpers ask for: what they change in deposit only where a field is computed."""
    skipped = {word.strip() for word in job.effort.skip.split(",")}
    found = []
    for option in targets & HELPERS.keys():
        analysis, deposit, _ = HELPERS[option]
        found += [analysis] if skipped & {"field", deposit} else [analysis, deposit]
    return found


def _studied(
    path: Path, part: Part, job: Job, bodies: dict[str, Part], only: Sequence[str] | None, also: Sequence[str]
) -> Progress[Study]:
    """The study. Raises InputError, before anything is computed, where what the job puts into its tank cannot stand
    there, or a wire of the job cannot touch the part's coat."""
    cache = studies.Cache()
    first = ("hung",) if _furnished(job) and is_recommended(job) else ()
    bare = yield from subrange(0.0, 0.02, studies.run(part, job, HostTracer, only=first, cache=cache, bodies=bodies))
    if bare.surface.plated_area.any():
        try:
            given_pads(bare.surface, bare.job.wires)
            if _furnished(job):
                yield from subrange(0.02, 0.04, field.stands(bare.surface, bare.in_tank, bodies))
        except InputError as fault:
            raise InputError(filled("{path}: {fault}", path=path, fault=fault)) from None
    run = studies.run(part, job, HostTracer, only=only, also=also, cache=cache, bodies=bodies)
    return (yield from subrange(0.04, 1.0, run))


def _furnished(job: Job) -> bool:
    """Whether the job itself says what stands in the tank, and asks for what flows in it."""
    asked = "field" not in [word.strip() for word in job.effort.skip.split(",")]
    return asked and scenes.says_itself(job)


def _compare(options: argparse.Namespace) -> int:
    asked = {option: getattr(options, option) for option in ("report", "plan") if getattr(options, option)}
    if outputs.STANDARD in asked.values():
        raise InputError("compare: its table goes to standard output; name a file for the report and the plan")
    return _each_job(options.jobs, asked, partial(_compare_one, look=_Look(language=language.of(options.language))))


def _compare_one(errand: _Errand, look: _Look) -> None:
    study = _plan_one(errand, look, only=("deposit", "layouts"))
    table = plan_even.table(study.results.layouts, look.language)
    head = filled("{name}: what would even the deposit out, best first", name=one_line(str(errand.path)))
    printed(f"{language.told(head, look.language)}\n{table}\n")


def _diff(options: argparse.Namespace) -> int:
    before, after = (reports.load(Path(name)) for name in options.reports)
    changes = compare.compare(before, after)
    if changes:
        printed("\n".join([*compare_text.lines(changes), ""]))
    return int(compare.any_worse(changes))


def _area(options: argparse.Namespace) -> int:
    return _each(options.models, lambda name, gauge: _area_one(name, options.unit, options.object, gauge))


def _area_one(name: str, unit: str | None, object_name: str, gauge: Gauge) -> None:
    job = jobs.load_job(name)
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
    with outputs.together({"blend": path}) as made:
        count = materials.library(made["blend"])
    say(f"{one_line(str(path))}: {count} assets")
    return 0


def _each(names: Sequence[str], run: Callable[[str, Gauge], None]) -> int:
    """Run for each name; what goes wrong with one is told, and the rest goes on."""
    worst, gauge = 0, Gauge(len(names))
    for name in names:
        try:
            run(name, gauge)
        except InputError as fault:
            worst = max(worst, tell(fault))
        except MemoryError:
            small = InputError(filled("{name}: not enough memory; thin the mesh out or lower the effort", name=name))
            worst = max(worst, tell(small))
        except Exception:
            if len(names) == 1:
                raise
            traceback.print_exc()
            say(f"error: {name}: this is a defect of ours, not of your file; the other jobs go on")
            worst = max(worst, 1)
        gauge.next()
    return worst
