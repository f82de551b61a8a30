"""Many files in one call: which jobs, and where their outputs go. A failed job is reported; the others still run."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..engine.errors import InputError
from ..engine.filled import filled
from ..engine.settings import job_file
from . import outputs
from .console import Gauge, say, tell

BATCH_HELP = (
    "With several jobs, write {name} in each file name: it becomes the name of the job. Or name a folder that is there,"
    " as --report FOLDER: the file in it is called after job and option."
)


@dataclass(frozen=True)
class Task:
    """One job of a call: its file, where its outputs go, and its progress gauge."""

    path: Path
    targets: dict[str, Path]
    gauge: Gauge


def each_job(names: Sequence[str], asked: dict[str, str], run: Callable[[Task], object]) -> int:
    """Run for each job; no job may overwrite what another reads or writes."""
    names = [file for name in names for file in job_file.jobs_in(name)]
    asked = {option: outputs.pattern(option, values) for option, values in asked.items()}
    for option, pattern in asked.items():
        if len(names) > 1 and "{name}" not in pattern:
            raise InputError(
                filled(
                    "--{label} {path}: several jobs would write this file; put {{name}} in its name",
                    label=option,
                    path=pattern,
                )
            )
    claims = outputs.Claims({Path(name): job_file.files_read(Path(name)) for name in names})

    def run_one(name: str, gauge: Gauge) -> None:
        path = Path(name)
        targets = {option: Path(pattern.replace("{name}", path.stem)) for option, pattern in asked.items()}
        claims.check(path, targets)
        run(Task(path, targets, gauge))

    return each(names, run_one)


def each(names: Sequence[str], run: Callable[[str, Gauge], None]) -> int:
    """Run for each name; a failure is reported, and the others still run."""
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
