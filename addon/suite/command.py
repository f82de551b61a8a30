"""The command line: `python -m addon ...` and `blender --command platewright ...` are this one function.

Standard output holds what was asked for; standard error holds progress, warnings and faults, a line each.
Exit status: 0 all done; 2 bad input, said in one line; 1 a defect of ours, with its traceback.
"""

from __future__ import annotations

import argparse
import sys
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import bpy

from ..engine import study as studies
from ..engine.analyses import Study
from ..engine.coat.wires import placed
from ..engine.errors import InputError
from ..engine.field import solve as field
from ..engine.mesh.part import Part
from ..engine.progress import Progress, subrange
from ..engine.reporting import plan, plan_even, report
from ..engine.settings import job as jobs
from ..engine.settings.job import Job
from ..engine.units import DM2, LENGTH, MM
from . import outputs, versions
from .quiet import quiet
from .scene import load, scenes, stl
from .scene.tracers import HostTracer

T = TypeVar("T")

NAME = "platewright"
FIRST, EVERY = 1.0, 2.0  # s: when progress is first told, and how often after that
OPTIONS = {
    "report": "the report, JSON",
    "plan": "the plan for the bench, text",
    "arrays": "one row a triangle, NumPy .npz",
    "blend": "the part in its colors, .blend",
    "picture": "the picture for the client, .png",
    "inset": "a smaller copy to print, so that the plated part is to size, .stl",
    "cut": "a cut through the tank with potential and current, a picture, .png",
}

_commands: list[Any] = []


def main(arguments: Sequence[str]) -> int:
    """Run one command. Returns the exit status; never raises for bad input."""
    try:
        options = _parser().parse_args(list(arguments))
        return options.run(options)
    except InputError as fault:
        return _tell(fault)
    except KeyboardInterrupt:
        _say("stopped; the job in hand wrote nothing")
        return 130


def register() -> None:
    _commands.append(bpy.utils.register_cli_command(NAME, main))


def unregister() -> None:
    while _commands:
        bpy.utils.unregister_cli_command(_commands.pop())


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, as all of our faults do."""

    def error(self, message: str) -> NoReturn:
        raise InputError(f"{message}; see {self.prog} --help")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog=NAME, description="Plan the electroplating of a printed part.")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    whole = commands.add_parser(
        "plan",
        help="the whole study of a job file (.toml) or of a model file with defaults",
        epilog="With several jobs, write {name} in each file name: it becomes the name of the job.",
    )
    whole.add_argument("jobs", nargs="+", metavar="JOB", help=".toml, .stl, .obj, .ply, .glb or .blend")
    for option, what in OPTIONS.items():
        whole.add_argument(f"--{option}", metavar="FILE", help=what)
    whole.set_defaults(run=_plan)
    even = commands.add_parser(
        "compare",
        help="what would even the deposit out: other densities, anodes and turns, best first",
        epilog="With several jobs, write {name} in each file name: it becomes the name of the job.",
    )
    even.add_argument("jobs", nargs="+", metavar="JOB", help=".toml, .stl, .obj, .ply, .glb or .blend")
    for option in ("report", "plan"):
        even.add_argument(f"--{option}", metavar="FILE", help=OPTIONS[option])
    even.set_defaults(run=_compare)
    area = commands.add_parser("area", help="the plated area of model files, one line each")
    area.add_argument("models", nargs="+", metavar="MODEL", help=".stl, .obj, .ply, .glb or .blend")
    area.add_argument("--unit", choices=tuple(LENGTH), help="what one unit of the file means (default: mm)")
    area.add_argument("--object", default="", help="name of the object in a .blend")
    area.set_defaults(run=_area)
    return parser


def _plan(options: argparse.Namespace) -> int:
    asked = {option: getattr(options, option) for option in OPTIONS if getattr(options, option)}
    if not asked:
        raise InputError(f"plan: nothing to write; add --report FILE or another of --{', --'.join(OPTIONS)}")
    if len(options.jobs) > 1:
        _check_names(options.jobs, asked)
    return _each(options.jobs, lambda name: _plan_one(Path(name), asked))


def _check_names(names: Sequence[str], asked: dict[str, str]) -> None:
    """Several jobs must not write over each other."""
    for option, pattern in asked.items():
        if "{name}" not in pattern:
            raise InputError(f"--{option} {pattern}: several jobs would write this file; put {{name}} in its name")
    stems = [Path(name).stem for name in names]
    twice = next((stem for stem in stems if stems.count(stem) > 1), None)
    if twice:
        raise InputError(f"two jobs are called '{twice}' and would write the same files; rename one")


def _plan_one(path: Path, asked: dict[str, str], only: Sequence[str] | None = None) -> Study:
    targets = {option: Path(pattern.replace("{name}", path.stem)) for option, pattern in asked.items()}
    outputs.check(targets, [path])
    job = jobs.load_job(path)
    outputs.check(targets, [path, *map(Path, load.files(job))])
    if "cut" in targets:
        job = replace(job, effort=replace(job.effort, also=f"{job.effort.also}, cut"))
    part, job, bodies = load.staged(job)
    study = _shown(_studied(path, part, job, bodies, only), path)
    failed = [study.reasons[name] for name in only or () if name in study.reasons]
    if failed:
        raise InputError(f"{path}: {failed[0]}")
    table = report.build(study, versions.found())
    for warning in table["warnings"] if only is None else ():
        _say(f"warning: {warning}")
    with outputs.together(targets) as made:
        _write(study, study.job, table, made)
    return study


def _studied(path: Path, part: Part, job: Job, bodies: dict[str, Part], only: Sequence[str] | None) -> Progress[Study]:
    """The study. Raises InputError, before anything is computed, where what the job puts into its tank cannot stand
    there, or a wire of the job cannot touch the part's coat."""
    kept: dict[str, Any] = {}
    bare = yield from subrange(0.0, 0.02, studies.run(part, job, HostTracer, only=(), kept=kept, bodies=bodies))
    if bare.surface is not None and bare.surface.plated_area.any():
        try:
            placed(bare.surface, bare.job.wires)
            if _furnished(job):
                yield from subrange(0.02, 0.04, field.stands(bare.surface, bare.job, bodies))
        except InputError as fault:
            raise InputError(f"{path}: {fault}") from None
    run = studies.run(part, job, HostTracer, only=only, kept=kept, bodies=bodies)
    return (yield from subrange(0.04, 1.0, run))


def _furnished(job: Job) -> bool:
    """Whether the job itself says what stands in the tank, and asks for what flows in it."""
    asked = "field" not in [word.strip() for word in job.effort.skip.split(",")]
    return asked and scenes.says_itself(job)


def _compare(options: argparse.Namespace) -> int:
    asked = {option: getattr(options, option) for option in ("report", "plan") if getattr(options, option)}
    if len(options.jobs) > 1:
        _check_names(options.jobs, asked)
    return _each(options.jobs, lambda name: _compare_one(Path(name), asked))


def _compare_one(path: Path, asked: dict[str, str]) -> None:
    study = _plan_one(path, asked, only=("deposit", "layouts"))
    print(f"{path}: what would even the deposit out, best first\n{plan_even.table(study.results['layouts'])}")


def _write(study: Study, job: Job, table: dict[str, Any], made: dict[str, Path]) -> None:
    """Everything that was asked for, into files beside their places."""
    if "report" in made:
        outputs.write_json(made["report"], table)
    if "plan" in made:
        made["plan"].write_text(plan.write(study), encoding="utf-8")
    if "arrays" in made:
        outputs.write_arrays(made["arrays"], report.arrays(study))
    if "blend" in made:
        from .draw import paint

        o = outputs.scene_of(study)
        paint.paint(study, o)
        outputs.write_blend(made["blend"], o)
    if "inset" in made:
        found = study.results.get("field")
        stl.write(made["inset"], outputs.inset(study, found and found.thickness) / LENGTH.get(job.part.unit, MM))
    if "picture" in made:
        from .draw import sheet

        load.empty_scene()
        with quiet():
            sheet.picture(study, made["picture"])
    if "cut" in made:
        from .draw import sheet_cut

        load.empty_scene()
        with quiet():
            sheet_cut.picture(study, made["cut"])


def _area(options: argparse.Namespace) -> int:
    return _each(options.models, lambda name: _area_one(name, options.unit, options.object))


def _area_one(name: str, unit: str | None, object_name: str) -> None:
    job = jobs.load_job(name)
    section = replace(job.part, unit=unit or job.part.unit, object=object_name or job.part.object)
    study = _shown(studies.run(load.part(section), job, HostTracer, only=()), Path(name))
    assert study.surface is not None
    for fault in study.surface.faults:
        _say(f"warning: {fault.sentence}")
    print(f"{name}: {study.surface.plated_area.sum() / DM2:.6g} dm2")


def _each(names: Sequence[str], run: Callable[[str], None]) -> int:
    """Run for each name; what goes wrong with one is told, and the rest goes on."""
    worst = 0
    for name in names:
        try:
            run(name)
        except InputError as fault:
            worst = max(worst, _tell(fault))
        except MemoryError:
            small = InputError(f"{name}: not enough memory; thin the mesh out or lower the effort")
            worst = max(worst, _tell(small))
        except Exception:
            if len(names) == 1:
                raise
            traceback.print_exc()
            _say(f"error: {name}: this is a defect of ours, not of your file; the other jobs go on")
            worst = max(worst, 1)
    return worst


def _shown(steps: Progress[T], path: Path) -> T:
    """Run steps to their end; where they take long, say how far they are."""
    start = told = time.monotonic()
    while True:
        try:
            fraction, sentence = next(steps)
        except StopIteration as end:
            return end.value
        now = time.monotonic()
        if now - start > FIRST and now - told > EVERY:
            told = now
            _say(f"{path.name}: {100 * fraction:.0f} %, {sentence}")


def _tell(fault: InputError) -> int:
    _say(f"error: {' '.join(str(fault).split())}")
    return 2


def _say(line: str) -> None:
    print(f"{NAME}: {line}", file=sys.stderr, flush=True)
