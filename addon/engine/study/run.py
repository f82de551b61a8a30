"""The run of a study: every analysis in its order, each cached under the key of what it read.

An analysis is one entry of `ANALYSES`: its name, the sections of the job that it reads, the results
that are its inputs, and a function of the study so far. Staleness, caching and "only what changed
is computed again" all follow from `keys`.
"""

from __future__ import annotations

import hashlib
import logging
import time
from collections.abc import Collection, Generator, Mapping
from dataclasses import replace
from operator import attrgetter
from types import MappingProxyType

from ..chemistry import deposit
from ..errors import InputError
from ..field.problem import NotSolvedError
from ..filled import filled
from ..hanging.hung import is_recommended
from ..linalg.blas import in_one_thread, one_thread
from ..mesh import extent, inspection
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer, TracerMaker
from ..progress import Progress, Step, subrange
from ..settings.job import Job
from ..settings.schema import specs
from ..settings.target import Target
from ..tank import vessel
from .analyses import ANALYSES, HUNG, NAMES, USUAL
from .analysis import Analysis
from .cache import Cache
from .current import copies
from .study import LEFT_OUT, Study

log = logging.getLogger(__name__)


def keys(
    part: Part, job: Job, bodies: Mapping[str, Part] | None = None, held: Collection[str] = NAMES
) -> dict[str, str]:
    """The key of every analysis: the part's fingerprint, the sections it reads, the keys of the results it reads.

    held : analyses that have a result to be read
    """
    known = {"surface": _surface_key(part, job)}
    models = [(file, body.fingerprint) for file, body in sorted((bodies or {}).items())]
    for analysis in ANALYSES:
        sections: list[object] = [attrgetter(name)(job) for name in analysis.sections]
        sections += models if "anodes" in analysis.sections else []
        read = [known[name] for name in (*analysis.inputs, *analysis.optional_inputs) if name in held]
        known[analysis.name] = _digest(known["surface"], analysis.name, sections, read)
    return known


def _surface_key(part: Part, job: Job) -> str:
    return _digest(part.fingerprint, job.part.sheet_sides)


def stale(study: Study, part: Part, job: Job, bodies: Mapping[str, Part] | None = None) -> set[str]:
    """The analyses of a study that no longer answer for this part and job, or that a later result would change.

    bodies : as for `run`; None: as they were
    """
    job = vessel.fitted(job, study.surface)
    tried = {name for name, reason in study.reasons.items() if reason != LEFT_OUT}
    old: set[str] = set()
    for _ in range(2):  # a stale result makes no others stale
        now = keys(part, job, study.bodies if bodies is None else bodies, held=tried | set(study.results.names) - old)
        old = {name for name in study.results.names if study.keys.get(name) != now[name]}
    return old


def run(
    part: Part,
    job: Job,
    make_tracer: TracerMaker,
    *,
    only: Collection[str] | None = None,
    also: Collection[str] = (),
    cache: Cache | None = None,
    bodies: Mapping[str, Part] | None = None,
) -> Progress[Study]:
    """Run the analyses in order; results cached under a valid key are reused.

    only : analyses that are wanted; their inputs are added. None: the usual ones and those that the job asks for
    (`effort.also`, `rack.suggest`, `target.purpose`), but none of `job.effort.skip`.
    also : analyses that are wanted beside the usual ones, though the job does not ask for them
    cache : read and added to
    bodies : models of the files that the job names for tank, anodes, shields and thieves, in meters
    An analysis that meets bad input (InputError) gets no result and its sentence in `reasons`; the rest goes on.
    Raises InputError where the job asks for an unknown analysis, or for a target that contradicts itself.
    """
    cache = Cache() if cache is None else cache
    skipped = _skipped(job)
    usual = {*USUAL, *also, *_named(job.effort.also, "also"), *_asked_by_settings(job)}
    wanted = _wanted(usual if only is None else only)
    if any("hung" in analysis.optional_inputs for analysis in ANALYSES if analysis.name in wanted - skipped):
        wanted |= _wanted(HUNG)
    if asks_for_spacing(job) and any(
        "rack" in spec.optional_inputs for spec in ANALYSES if spec.name in wanted - skipped
    ):
        wanted |= _wanted(("rack",))
    wanted -= skipped
    start = time.perf_counter()
    surface, tracer = yield from _traced(part, job, make_tracer, cache)
    job = _settled(job, surface)
    unasked = set() if asks_for_spacing(job) else {"rack"}
    possible = keys(part, job, bodies, held=set(NAMES) - skipped - unasked)
    cached = {name for name in NAMES if name not in skipped and possible[name] in cache.results}
    now = keys(part, job, bodies, held=wanted | cached)
    read_too = cached & {name for analysis in ANALYSES if analysis.name in wanted for name in analysis.optional_inputs}
    study = Study(part, job, surface, keys=now, bodies=bodies or {}, timings={"surface": time.perf_counter() - start})
    walked = wanted | read_too
    weight_done, total = 0.0, sum(analysis.weight for analysis in ANALYSES if analysis.name in walked) or 1.0
    for analysis in ANALYSES:
        if analysis.name not in walked:
            study = _without(study, analysis.name, LEFT_OUT)
            continue
        low, high = (0.05 + 0.95 * (weight_done + share) / total for share in (0.0, analysis.weight))
        study = yield from subrange(low, high, _answered(study, analysis, tracer, cache))
        weight_done += analysis.weight
    yield Step(1.0, "done")
    return study


def _traced(part: Part, job: Job, make_tracer: TracerMaker, cache: Cache) -> Progress[tuple[Surface, Tracer]]:
    """The part's surface and its ray tracer."""
    key = _surface_key(part, job)
    if key not in cache.surfaces:
        extent.check(part, job.part.unit)
        steps = in_one_thread(inspection.inspect(part, sheet_sides=job.part.sheet_sides))
        surface = yield from subrange(0.0, 0.05, steps)
        cache.surfaces[key] = surface, make_tracer(surface)
    return cache.surfaces[key]


def _answered(study: Study, analysis: Analysis, tracer: Tracer, cache: Cache) -> Progress[Study]:
    """The study with the result of an analysis, or with the reason why it has none."""
    start, name = time.perf_counter(), analysis.name
    key = study.keys[name]
    if key not in cache.results:
        try:
            cache.results[key] = yield from _steps(analysis, study, tracer)
        except NotSolvedError as fault:
            log.info("%s: not solved: %s", name, fault)
            refusals = MappingProxyType({**study.refusals, name: fault.findings})
            return replace(_without(study, name, str(fault)), refusals=refusals)
        except InputError as fault:
            log.info("%s: no result: %s", name, fault)
            return _without(study, name, str(fault))
    log.debug("%s: %.3f s", name, time.perf_counter() - start)
    timings = {**study.timings, name: time.perf_counter() - start}
    return replace(study, results=study.results.added(name, cache.results[key]), timings=MappingProxyType(timings))


def _without(study: Study, name: str, reason: str) -> Study:
    """The study with the reason why an analysis has no result."""
    return replace(study, reasons=MappingProxyType({**study.reasons, name: reason}))


def _settled(job: Job, surface: Surface) -> Job:
    """The job with its target settled by a fixed current or time, and with a tank for the part if it names none."""
    job = vessel.fitted(job, surface)
    area = float(surface.plated_area.sum())
    if (job.target.current is None and job.target.time is None) or not area > 0:
        return job  # without plated area the deposit reports the error
    if job.target.current is not None and job.supply.hold is not None:
        raise InputError(filled("{target.current_A} and {supply.hold_V} cannot both be held; leave one of them out"))
    stated = {name for name, spec in specs(Target).items() if f"target.{spec.key}" in (job.specified or ())}
    return replace(job, target=deposit.settled(job.target, job.bath, copies(job) * area, stated))


def asks_for_spacing(job: Job) -> bool:
    """Whether the spacing of copies is to be computed."""
    return job.rack.suggest > 1 and not job.rack.positions


def _skipped(job: Job) -> set[str]:
    """Analyses not to run: those that the job skips, and those of a recommended way up where none applies."""
    left_out = _named(job.effort.skip, "skip")
    left_out |= {"field_at_target"} if "field" in left_out else set()
    if "hanging" in left_out or not is_recommended(job):
        return left_out | set(HUNG)
    return left_out | {f"{name}_hung" for name in ("gas", "drainage") if name in left_out}


def _asked_by_settings(job: Job) -> list[str]:
    """Analyses requested implicitly by a setting."""
    return ["rack"] * (job.rack.suggest > 1) + ["purpose"] * (job.target.purpose != "none")


def _named(text: str, key: str) -> set[str]:
    """The analyses that a setting of the effort names."""
    names = {word.strip() for word in text.split(",") if word.strip()}
    for word in names:
        if word not in NAMES:
            raise InputError(
                filled(
                    "effort.{label}: there is no analysis '{name}'; known: {path}",
                    label=key,
                    name=word,
                    path=", ".join(NAMES),
                )
            )
    return names


def _wanted(only: Collection[str]) -> set[str]:
    """The analyses asked for and all their inputs."""
    known = {analysis.name: analysis for analysis in ANALYSES}
    wanted: set[str] = set()
    ask = list(only)
    while ask:
        name = ask.pop()
        if name not in wanted:
            wanted.add(name)
            ask.extend(known[name].inputs)
    return wanted


def _steps(analysis: Analysis, study: Study, tracer: Tracer) -> Progress[object]:
    yield Step(0.0, analysis.name)
    with one_thread():
        result = analysis.run(study, tracer)
    return (yield from in_one_thread(result)) if isinstance(result, Generator) else result


def _digest(*content: object) -> str:
    return hashlib.blake2b(repr(content).encode(), digest_size=16).hexdigest()
