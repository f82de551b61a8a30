"""One study: every analysis in its order, each kept under the key of what it read.

An analysis is one entry of `ANALYSES`: its name, the sections of the job that it reads, the earlier
results that it uses, and a function of the study so far. Staleness, caching and "only what changed
is computed again" all follow from `keys`.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Collection, Generator, Mapping, MutableMapping
from dataclasses import dataclass, field, replace
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from . import contact, deposit, gas, mesh, narrow, openness, prepare, tables
from .coat import study as coat
from .errors import Fault
from .faraday import METALS
from .field import cut, layouts, rack
from .field import solve as field_room
from .hang import suggest as hanging
from .hang.fit import anode_directions
from .job import Job
from .part import Part
from .schema import specs
from .sections import Target
from .steps import Step, Steps, between
from .surface import Surface
from .tracer import Tracer, TracerMaker
from .units import GRAM_PER_ML


@dataclass(frozen=True, eq=False)
class Study:
    """The answers about one part and one job: a result a question, or None and the reason."""

    part: Part
    job: Job
    surface: Surface | None = None
    results: Mapping[str, Any] = field(default_factory=dict)  # analysis -> its result
    reasons: Mapping[str, str] = field(default_factory=dict)  # analysis -> why it has none
    timings: Mapping[str, float] = field(default_factory=dict)  # analysis -> s
    keys: Mapping[str, str] = field(default_factory=dict)  # analysis -> key of what it read
    bodies: Mapping[str, Part] = field(default_factory=dict)  # file that the job names for the tank -> its model


@dataclass(frozen=True)
class Analysis:
    """One question.

    sections : sections of the job that it reads, or single fields of them: "effort.rays"
    uses : analyses whose results it reads, which are asked for with it; where one has no result it must do without
    run : (study so far, tracer) -> result, or a generator of steps that returns it
    weight : share of the progress bar
    betters : analyses whose results it reads where they are there; too dear to be asked for with it
    asked : whether it runs only where it is asked for by name
    """

    name: str
    sections: tuple[str, ...]
    uses: tuple[str, ...]
    run: Callable[[Study, Tracer], Any]
    weight: float = 1.0
    betters: tuple[str, ...] = ()
    asked: bool = False


def _deposit(study: Study, tracer: Tracer) -> Any:
    job = study.job
    return deposit.estimate(_surface(study), job.target, job.bath, job.supply, _copies(job))


def _gas(study: Study, tracer: Tracer) -> Any:
    return gas.trapped(_surface(study), study.job.part.up, capillary_length=study.job.bath.capillary_length)


def _drainage(study: Study, tracer: Tracer) -> Any:
    return gas.held(_surface(study), study.job.part.up, capillary_length=study.job.bath.capillary_length)


def _narrow(study: Study, tracer: Tracer) -> Any:
    return narrow.openings(_surface(study), tracer, capillary_length=study.job.bath.capillary_length)


def _openness(study: Study, tracer: Tracer) -> Any:
    return openness.survey(_surface(study), rays=study.job.effort.rays)


def _contacts(study: Study, tracer: Tracer) -> Any:
    job = study.job
    seen, kept_dry = study.results.get("openness"), study.results.get("gas")
    return contact.rank(
        _surface(study),
        up=job.part.up,
        sheet_resistance=job.coat.sheet_resistance,
        density=job.target.density,
        openness=seen.openness if seen else None,
        dry=kept_dry.face if kept_dry else None,
    )


def _coat(study: Study, tracer: Tracer) -> Any:
    found = study.results.get("field")
    density = found.density if found else None
    contacts = study.results.get("contacts")
    return coat.run(_surface(study), study.job, contacts=contacts, density=density, meshes=study.bodies)


def _field(study: Study, tracer: Tracer) -> Steps[Any]:
    lost = yield from between(0.0, 0.05, _lost(study))
    run = field_room.run(_surface(study), study.job, meshes=study.bodies, wire_drop=lost)
    return (yield from between(0.05, 1.0, run))


def _potential(study: Study, tracer: Tracer) -> Steps[Any]:
    lost = yield from between(0.0, 0.05, _lost(study))
    run = field_room.solved(_surface(study), study.job, meshes=study.bodies, wire_drop=lost, level="preview")
    return (yield from between(0.05, 1.0, run))


def _lost(study: Study) -> Steps[Any]:
    """What the current loses along the coat, face by face; None while nobody knows where the wires are."""
    contacts = study.results.get("contacts")
    if contacts is None:
        return None
    return (yield from coat.half_grown(_surface(study), study.job, contacts)).at_faces


def _cut(study: Study, tracer: Tracer) -> Any:
    if "potential" not in study.results:
        raise Fault(study.reasons["potential"])
    return cut.run(_surface(study), study.results["potential"], study.job.cut)


def _layouts(study: Study, tracer: Tracer) -> Any:
    return layouts.compare(_surface(study), study.job, study.bodies)


def _hanging(study: Study, tracer: Tracer) -> Any:
    job, contacts = study.job, study.results.get("contacts")
    metal, found = study.results.get("deposit"), study.results.get("field")
    wires = [wire.point for wire in job.wires if wire.point is not None]
    plastic = tables.plastic(job.part.material, "part.material")
    return hanging.run(
        _surface(study),
        tracer,
        walls=job.part.walls,
        infill=job.part.infill,
        plastic_density=plastic["density_g_mL"] * GRAM_PER_ML,
        coat_thickness=job.coat.thickness,
        coat_density=job.coat.density,
        deposit=metal.mass if metal else 0.0,
        bath_density=job.bath.density,
        tank=job.tank,
        contacts=[*wires, *(one.point for one in (contacts.ranked if contacts else ()))],
        directions=job.effort.directions,
        wires=len(wires),
        weights=job.hang,
        metal_density=METALS[job.bath.metal].density,
        anodes=anode_directions(job),
        density=found.density if found else None,
    )


def _rack(study: Study, tracer: Tracer) -> Any:
    wanted = study.job.rack
    if wanted.suggest < 2:
        raise Fault("rack.suggest: say how many copies are to hang in the tank, two or more")
    return rack.suggest(_surface(study), study.job, wanted.suggest, wanted.tolerance, study.bodies)


def _preparation(study: Study, tracer: Tracer) -> Any:
    return prepare.inspect(_surface(study), study.job.print, study.job.target, study.job.coat)


_CAPILLARY = ("bath.density", "bath.surface_tension")
_COPIES = ("rack.positions", "rack.turns")
_CELL = (
    *("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES, "supply"),
    *("coat.name", "coat.sheet_resistance", "wires", "effort.panels"),
)

ANALYSES: tuple[Analysis, ...] = (
    Analysis("deposit", ("target", "bath", "supply", "rack.positions"), (), _deposit, 0.1),
    Analysis("gas", ("part.up", *_CAPILLARY), (), _gas, 1.0),
    Analysis("drainage", ("part.up", *_CAPILLARY), (), _drainage, 1.0),
    Analysis("narrow", _CAPILLARY, (), _narrow, 2.0),
    Analysis("openness", ("effort.rays",), (), _openness, 5.0),
    Analysis("contacts", ("part.up", "target.density", "coat.sheet_resistance"), ("gas", "openness"), _contacts, 5.0),
    Analysis("field", _CELL, (), _field, 30.0, betters=("contacts",)),
    Analysis(
        "coat",
        (
            *("part.up", "part.material", "target", "bath", "tank", "anodes", "shields", "thieves", "place"),
            *_COPIES,
            *("coat", "wires", "supply", "effort.panels"),
        ),
        ("contacts",),
        _coat,
        8.0,
        betters=("field",),
    ),
    Analysis(
        "hanging",
        ("part.walls", "part.infill", "part.material", "bath.density", "tank", "coat", "wires", "hang", "bath.metal",
         "anodes", "place.centre", "effort.directions"),
        ("deposit", "contacts"),
        _hanging,
        10.0,
        betters=("field",),
    ),
    Analysis("preparation", ("print", "target", "coat"), (), _preparation, 0.1),
    Analysis(
        "layouts",
        ("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES,
         "effort.panels"),
        (),
        _layouts,
        20.0,
        asked=True,
    ),
    Analysis(
        "rack",
        ("part.up", "target.density", "bath", "tank", "anodes", "shields", "thieves", "place", "supply.current",
         "rack.suggest", "rack.tolerance"),
        (),
        _rack,
        25.0,
        asked=True,
    ),
    Analysis("potential", _CELL, (), _potential, 8.0, betters=("contacts",), asked=True),
    Analysis("cut", ("cut",), ("potential",), _cut, 6.0, asked=True),
)
NAMES = tuple(analysis.name for analysis in ANALYSES)
USUAL = tuple(analysis.name for analysis in ANALYSES if not analysis.asked)
LEFT_OUT = "left out"


def _copies(job: Job) -> int:
    return max(len(job.rack.positions), 1)


def _surface(study: Study) -> Surface:
    assert study.surface is not None  # every analysis runs after it
    return study.surface


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
    kept: MutableMapping[str, Any] | None = None,
    bodies: Mapping[str, Part] | None = None,
) -> Steps[Study]:
    """Walk the analyses once, forwards; what `kept` holds under a valid key is not computed again.

    only : analyses that are wanted; what they use is added. None: the usual ones and those that the job asks for
    (`effort.also`, `rack.suggest`), but none of `job.effort.skip`.
    kept : results by key, read and added to; drop it to forget them.
    bodies : models of the files that the job names for tank, anodes, shields and thieves, in metres
    An analysis that meets bad input (Fault) gets no result and its sentence in `reasons`; the rest goes on. Raises Fault
    where the job asks for an analysis that there is not, or for a target that contradicts itself.
    """
    kept = {} if kept is None else kept
    skipped = _named(job.effort.skip, "skip")
    usual = {*USUAL, *_named(job.effort.also, "also"), *(["rack"] if job.rack.suggest > 1 else [])}
    wanted = _wanted(usual if only is None else only) - skipped
    start = time.perf_counter()
    surface, tracer = kept.get(_surface_key(part, job), (None, None))
    if surface is None:
        surface = yield from between(0.0, 0.05, mesh.inspect(part, sheet_sides=job.part.sheet_sides))
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
                kept[key] = yield from between(low, high, _steps(analysis, study, tracer))
            except Fault as fault:
                study = _with(study, reasons={analysis.name: str(fault)})
        done += analysis.weight
        if key in kept:
            seconds = time.perf_counter() - start
            study = _with(study, results={analysis.name: kept[key]}, timings={analysis.name: seconds})
    yield Step(1.0, "done")
    return study


def _settled(job: Job, surface: Surface) -> Job:
    """The job with what a fixed current or time makes of its target."""
    area = float(surface.plated_area.sum())
    if (job.target.current is None and job.target.time is None) or not area > 0:
        return job  # without area the deposit says what is wrong
    if job.target.current is not None and job.supply.hold is not None:
        raise Fault("target.current_A and supply.hold_V cannot both be held; leave one of them out")
    said = {name for name, spec in specs(Target).items() if f"target.{spec.key}" in (job.said or ())}
    return replace(job, target=deposit.settled(job.target, job.bath, _copies(job) * area, said))


def _named(text: str, key: str) -> set[str]:
    """The analyses that a setting of the effort names."""
    found = {word.strip() for word in text.split(",") if word.strip()}
    for word in found:
        if word not in NAMES:
            raise Fault(f"effort.{key}: there is no analysis '{word}'; known: {', '.join(NAMES)}")
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


def _steps(analysis: Analysis, study: Study, tracer: Tracer) -> Steps[Any]:
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
