"""One study: every analysis in its order, each kept under the key of what it read.

An analysis is one entry of `ANALYSES`: its name, the sections of the job that it reads, the earlier
results that it uses, and a function of the study so far. Staleness, caching and "only what changed
is computed again" all follow from `keys`.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Collection, Generator, Mapping, MutableMapping
from dataclasses import replace
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from .analyses import ANALYSES, HUNG, LEFT_OUT, NAMES, USUAL, Analysis, Study, copies
from .chemistry import deposit
from .errors import InputError
from .hanging.hung import is_recommended
from .mesh import extent, inspection
from .mesh.part import Part
from .mesh.surface import Surface
from .mesh.tracer import Tracer, TracerMaker
from .progress import Progress, Step, subrange
from .settings.bath import Target
from .settings.job import Job
from .settings.schema import specs
from .tank import vessel


def keys(
    part: Part, job: Job, bodies: Mapping[str, Part] | None = None, held: Collection[str] = NAMES
) -> dict[str, str]:
    """The key of every analysis: the part's fingerprint, the sections it reads, the keys of the results it reads.

    held : analyses that have a result to be read
    """
    found = {"surface": _surface_key(part, job)}
    models = [(file, body.fingerprint) for file, body in sorted((bodies or {}).items())]
    for analysis in ANALYSES:
        sections: list[Any] = [attrgetter(name)(job) for name in analysis.sections]
        sections += models if "anodes" in analysis.sections else []
        read = [found[name] for name in (*analysis.uses, *analysis.betters) if name in held]
        found[analysis.name] = _digest(found["surface"], analysis.name, sections, read)
    return found


def _surface_key(part: Part, job: Job) -> str:
    return _digest(part.fingerprint, job.part.sheet_sides)


def stale(study: Study, part: Part, job: Job, bodies: Mapping[str, Part] | None = None) -> set[str]:
    """The analyses of a study that no longer answer for this part and job, or that a later result would better.

    bodies : as for `run`; None: as they were
    """
    if study.surface is not None:
        job = vessel.fitted(job, study.surface)
    tried = {name for name, reason in study.reasons.items() if reason != LEFT_OUT}
    old: set[str] = set()
    for _ in range(2):  # what is stale itself betters nothing
        now = keys(part, job, study.bodies if bodies is None else bodies, held=tried | set(study.results) - old)
        old = {name for name in study.results if study.keys.get(name) != now[name]}
    return old


def run(
    part: Part,
    job: Job,
    make_tracer: TracerMaker,
    *,
    only: Collection[str] | None = None,
    also: Collection[str] = (),
    kept: MutableMapping[str, Any] | None = None,
    bodies: Mapping[str, Part] | None = None,
) -> Progress[Study]:
    """Walk the analyses once, forwards; what `kept` holds under a valid key is not computed again.

    only : analyses that are wanted; what they use is added. None: the usual ones and those that the job asks for
    (`effort.also`, `rack.suggest`), but none of `job.effort.skip`.
    also : analyses that are wanted beside the usual ones, though the job does not ask for them
    kept : results by key, read and added to; drop it to forget them.
    bodies : models of the files that the job names for tank, anodes, shields and thieves, in meters
    An analysis that meets bad input (InputError) gets no result and its sentence in `reasons`; the rest goes on. Raises
    InputError where the job asks for an analysis that there is not, or for a target that contradicts itself.
    """
    kept = {} if kept is None else kept
    skipped = _skipped(job)
    usual = {*USUAL, *also, *_named(job.effort.also, "also"), *(["rack"] if job.rack.suggest > 1 else [])}
    wanted = _wanted(usual if only is None else only)
    if any("hung" in analysis.betters for analysis in ANALYSES if analysis.name in wanted - skipped):
        wanted |= _wanted(HUNG)
    wanted -= skipped
    start = time.perf_counter()
    surface, tracer = kept.get(_surface_key(part, job), (None, None))
    if surface is None:
        extent.check(part, job.part.unit)
        surface = yield from subrange(0.0, 0.05, inspection.inspect(part, sheet_sides=job.part.sheet_sides))
        tracer = make_tracer(surface)
        kept[_surface_key(part, job)] = surface, tracer
    job = _settled(job, surface)
    known = keys(part, job, bodies, held=set(NAMES) - skipped)
    there = {name for name in NAMES if name not in skipped and known[name] in kept}
    now = keys(part, job, bodies, held=wanted | there)
    betters = there & {name for analysis in ANALYSES if analysis.name in wanted for name in analysis.betters}
    study = Study(part, job, surface, keys=now, bodies=bodies or {}, timings={"surface": time.perf_counter() - start})
    done, total = 0.0, sum(a.weight for a in ANALYSES if a.name in wanted) or 1.0
    for analysis in ANALYSES:
        if analysis.name not in wanted | betters:
            study = _with(study, reasons={analysis.name: LEFT_OUT})
            continue
        start = time.perf_counter()
        key = now[analysis.name]
        if key not in kept:
            low, high = (0.05 + 0.95 * (done + share) / total for share in (0.0, analysis.weight))
            try:
                kept[key] = yield from subrange(low, high, _steps(analysis, study, tracer))
            except InputError as fault:
                study = _with(study, reasons={analysis.name: str(fault)})
        done += analysis.weight
        if key in kept:
            seconds = time.perf_counter() - start
            study = _with(study, results={analysis.name: kept[key]}, timings={analysis.name: seconds})
    yield Step(1.0, "done")
    return study


def _settled(job: Job, surface: Surface) -> Job:
    """The job with what a fixed current or time makes of its target; where it names no tank, with one for the part."""
    job = vessel.fitted(job, surface)
    area = float(surface.plated_area.sum())
    if (job.target.current is None and job.target.time is None) or not area > 0:
        return job  # without area the deposit says what is wrong
    if job.target.current is not None and job.supply.hold is not None:
        raise InputError("target.current_A and supply.hold_V cannot both be held; leave one of them out")
    said = {name for name, spec in specs(Target).items() if f"target.{spec.key}" in (job.said or ())}
    return replace(job, target=deposit.settled(job.target, job.bath, copies(job) * area, said))


def _skipped(job: Job) -> set[str]:
    """The analyses that are not to run: those that the job leaves out, and another way up where none is to be taken."""
    left_out = _named(job.effort.skip, "skip")
    if "hanging" in left_out or not is_recommended(job):
        return left_out | set(HUNG)
    return left_out | {f"{name}_hung" for name in ("gas", "drainage") if name in left_out}


def _named(text: str, key: str) -> set[str]:
    """The analyses that a setting of the effort names."""
    found = {word.strip() for word in text.split(",") if word.strip()}
    for word in found:
        if word not in NAMES:
            raise InputError(f"effort.{key}: there is no analysis '{word}'; known: {', '.join(NAMES)}")
    return found


def _wanted(only: Collection[str]) -> set[str]:
    """The analyses asked for and all that they use."""
    known = {analysis.name: analysis for analysis in ANALYSES}
    wanted: set[str] = set()
    ask = list(only)
    while ask:
        name = ask.pop()
        if name not in wanted:
            wanted.add(name)
            ask.extend(known[name].uses)
    return wanted


def _steps(analysis: Analysis, study: Study, tracer: Tracer) -> Progress[Any]:
    yield Step(0.0, analysis.name)
    result = analysis.run(study, tracer)
    if isinstance(result, Generator):
        result = yield from result
    return result


def _with(study: Study, **more: Mapping[str, Any]) -> Study:
    """The study with entries added to some of its tables."""
    grown: dict[str, Any] = {name: MappingProxyType({**getattr(study, name), **new}) for name, new in more.items()}
    return replace(study, **grown)


def _digest(*content: object) -> str:
    return hashlib.blake2b(repr(content).encode(), digest_size=16).hexdigest()
