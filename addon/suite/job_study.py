"""One job on the command line: which analyses its outputs need, and what stops it before anything is computed."""

from __future__ import annotations

from collections.abc import Sequence, Set
from pathlib import Path

from ..engine import study as studies
from ..engine.coat.wires import specified_pads
from ..engine.errors import InputError
from ..engine.field import solve as field
from ..engine.filled import filled
from ..engine.hanging.hung import is_recommended
from ..engine.mesh.part import Part
from ..engine.progress import Progress, subrange
from ..engine.settings.job import Job
from ..engine.study import Study
from ..engine.study import printed as standing
from ..engine.study.kinds import BY_OPTION, TOGETHER
from .scene import scenes
from .scene.tracers import HostTracer


def check_helpers(path: Path, job: Job, targets: Set[str]) -> None:
    """Raises InputError where a printed helper cannot be made, whatever the study finds."""
    for option in BY_OPTION:
        if option in targets:
            try:
                standing.check(job, option)
            except InputError as fault:
                raise InputError(f"{path}: {fault}") from None


def with_helpers(job: Job, targets: Set[str]) -> list[str]:
    """The analyses that the printed helpers ask for: what they change in deposit only where a field is computed."""
    skipped = {word.strip() for word in job.effort.skip.split(",")}
    solids = []
    for option in targets & BY_OPTION.keys():
        kind = BY_OPTION[option]
        solids += [kind.analysis] if skipped & {"field", kind.effect} else [kind.analysis, kind.effect]
    several = len(targets & BY_OPTION.keys()) > 1 and not skipped & {"field", TOGETHER}
    return [*solids, TOGETHER] if several else solids


def studied(
    path: Path, part: Part, job: Job, bodies: dict[str, Part], only: Sequence[str] | None, also: Sequence[str]
) -> Progress[Study]:
    """The study. Raises InputError, before anything is computed, where what the job puts into its tank cannot stand
    there, or a wire of the job cannot touch the part's coat."""
    cache = studies.Cache()
    first = ("hung",) if _furnished(job) and is_recommended(job) else ()
    bare = yield from subrange(0.0, 0.02, studies.run(part, job, HostTracer, only=first, cache=cache, bodies=bodies))
    if bare.surface.plated_area.any():
        try:
            specified_pads(bare.surface, bare.job.wires)
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
