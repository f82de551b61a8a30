"""Every question that a study answers: what it reads, which answers it uses, and the room that knows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .chemistry import deposit
from .coat import contact
from .coat import study as coat
from .errors import InputError
from .faraday import METALS
from .field import cut, layouts, rack
from .field import solve as field_room
from .hanging import hung as hung_way
from .hanging import suggest as hanging
from .hanging.fit import anode_directions
from .mesh.part import Part
from .mesh.surface import Surface
from .mesh.tracer import Tracer
from .printing import prepare
from .progress import Progress, subrange
from .settings import tables
from .settings.job import Job
from .tank import vessel
from .trapping import gas, narrow
from .units import GRAM_PER_ML
from .visibility import openness

LEFT_OUT = "left out"  # the reason of an analysis that nobody wanted


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

    @property
    def hung(self) -> Job:
        """The job with the part as it hangs: the way up that contacts, current distribution, map and plan are of."""
        found = self.results.get("hung")
        return self.job if found is None else found.of(self.job)

    @property
    def in_tank(self) -> Job:
        """As `hung`, in the tank that it stands in: one that nobody gave fits the part as it hangs."""
        if not self.job.tank.assumed or self.surface is None:
            return self.hung
        return vessel.fitted(self.hung, self.surface)

    @property
    def job_used(self) -> Job:
        """The job as it was asked for, with the tank that its part stands in."""
        return replace(self.job, tank=self.in_tank.tank)

    @property
    def turned(self) -> bool:
        """Whether the part hangs another way up than the job models it."""
        return hung_way.differs(self.job, self.results.get("hung"))

    def as_hung(self, name: str) -> Any:
        """The result on "gas" or "drainage" of the way up that the part hangs; None where there is none."""
        return self.results.get(f"{name}_hung") or self.results.get(name)


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
    return deposit.estimate(_surface(study), job.target, job.bath, job.supply, copies(job))


def _gas(study: Study, tracer: Tracer) -> Any:
    return gas.trapped(_surface(study), study.job.part.up, capillary_length=study.job.bath.capillary_length)


def _drainage(study: Study, tracer: Tracer) -> Any:
    return gas.held(_surface(study), study.job.part.up, capillary_length=study.job.bath.capillary_length)


def _gas_hung(study: Study, tracer: Tracer) -> Any:
    up = study.hung.part.up
    if "gas" in study.results and not study.turned:
        return study.results["gas"]
    return gas.trapped(_surface(study), up, capillary_length=study.job.bath.capillary_length)


def _drainage_hung(study: Study, tracer: Tracer) -> Any:
    up = study.hung.part.up
    if "drainage" in study.results and not study.turned:
        return study.results["drainage"]
    return gas.held(_surface(study), up, capillary_length=study.job.bath.capillary_length)


def _narrow(study: Study, tracer: Tracer) -> Any:
    return narrow.openings(_surface(study), tracer, capillary_length=study.job.bath.capillary_length)


def _openness(study: Study, tracer: Tracer) -> Any:
    return openness.survey(_surface(study), rays=study.job.effort.rays)


def _contacts(study: Study, tracer: Tracer) -> Any:
    job = study.hung
    seen, kept_dry = study.results.get("openness"), study.as_hung("gas")
    return contact.rank(
        _surface(study),
        up=job.part.up,
        sheet_resistance=coat.at_start(job),
        density=job.target.density,
        openness=seen.openness if seen else None,
        dry=kept_dry.face if kept_dry else None,
    )


def _coat(study: Study, tracer: Tracer) -> Any:
    found = study.results.get("field")
    contacts = study.results.get("contacts")
    return coat.run(
        _surface(study),
        study.in_tank,
        contacts=contacts,
        density=found.density if found else None,
        meshes=study.bodies,
        level=found.level if found else None,
    )


def _field(study: Study, tracer: Tracer) -> Progress[Any]:
    lost = yield from subrange(0.0, 0.05, _lost(study))
    run = field_room.run(_surface(study), study.in_tank, meshes=study.bodies, wire_drop=lost)
    return (yield from subrange(0.05, 1.0, run))


def _potential(study: Study, tracer: Tracer) -> Progress[Any]:
    lost = yield from subrange(0.0, 0.05, _lost(study))
    run = field_room.solved(_surface(study), study.in_tank, meshes=study.bodies, wire_drop=lost, level="preview")
    return (yield from subrange(0.05, 1.0, run))


def _lost(study: Study) -> Progress[Any]:
    """What the current loses along the coat, face by face; None while nobody knows where the wires are."""
    contacts = study.results.get("contacts")
    if contacts is None:
        return None
    return (yield from coat.half_grown(_surface(study), study.in_tank, contacts))


def _cut(study: Study, tracer: Tracer) -> Any:
    if "potential" not in study.results:
        raise InputError(study.reasons["potential"])
    return cut.run(_surface(study), study.results["potential"], study.job.cut)


def _layouts(study: Study, tracer: Tracer) -> Any:
    return layouts.compare(_surface(study), study.in_tank, study.bodies)


def _hung(study: Study, tracer: Tracer) -> Progress[Any]:
    found = yield from _search(study, tracer, free=True)
    return hung_way.taken(found)


def _hanging(study: Study, tracer: Tracer) -> Any:
    contacts, field = study.results.get("contacts"), study.results.get("field")
    points = [one.point for one in (contacts.ranked if contacts else ())]
    hung = study.results.get("hung")
    if hung is not None:
        return hanging.on_contacts(hung.hanging, _surface(study), points, study.job.bath.density)
    return _search(study, tracer, contacts=points, density=field.density if field else None)


def _search(
    study: Study, tracer: Tracer, *, contacts: Sequence[Any] = (), density: Any = None, free: bool = False
) -> Progress[Any]:
    job, metal = study.job, study.results.get("deposit")
    wires = [wire.point for wire in job.wires if wire.point is not None]
    plastic = tables.plastic(job.part.material, "part.material")
    walls = study.bodies.get(job.tank.file) if job.tank.shape == "mesh" else None
    inside = None if walls is None else np.array([walls.points.min(axis=0), walls.points.max(axis=0)])
    if job.tank.assumed:  # it will be chosen for the way up that is taken, its plates along x
        inside = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]])
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
        tank=job.fixed_tank,
        contacts=[*wires, *contacts],
        directions=job.effort.directions,
        wires=len(wires),
        weights=job.hang,
        metal_density=METALS[job.bath.metal].density,
        anodes=anode_directions(job, inside),
        density=density,
        own=job.part.up,
        free=free,
    )


def _rack(study: Study, tracer: Tracer) -> Any:
    wanted = study.job.rack
    if wanted.suggest < 2:
        raise InputError("rack.suggest: say how many copies are to hang in the tank, two or more")
    return rack.suggest(_surface(study), study.in_tank, wanted.suggest, wanted.tolerance, study.bodies)


def _preparation(study: Study, tracer: Tracer) -> Any:
    return prepare.inspect(_surface(study), study.job.print, study.job.target, study.job.coat)


_CAPILLARY = ("bath.density", "bath.surface_tension")
_COPIES = ("rack.positions", "rack.turns")
_HANGING = (
    *("part.up", "part.walls", "part.infill", "part.material", "bath.density", "fixed_tank", "coat", "wires", "hang"),
    *("bath.metal", "anodes", "place.centre", "effort.directions"),
)
HUNG = ("hung", "gas_hung", "drainage_hung")  # run only where the part is to hang as recommended
_CELL = (
    *("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES, "supply"),
    *("coat.name", "coat.sheet_resistance", "wires", "effort.panels"),
)

ANALYSES: tuple[Analysis, ...] = (
    Analysis("deposit", ("target", "bath", "supply", "rack.positions"), (), _deposit, 0.1),
    Analysis("gas", ("part.up", *_CAPILLARY), (), _gas, 1.0),
    Analysis("drainage", ("part.up", *_CAPILLARY), (), _drainage, 1.0),
    Analysis(
        "hung",
        _HANGING,
        ("deposit",),
        _hung,
        10.0,
        asked=True,
    ),
    Analysis("gas_hung", ("part.up", *_CAPILLARY), ("hung",), _gas_hung, 1.0, betters=("gas",), asked=True),
    Analysis(
        "drainage_hung", ("part.up", *_CAPILLARY), ("hung",), _drainage_hung, 1.0, betters=("drainage",), asked=True
    ),
    Analysis("narrow", _CAPILLARY, (), _narrow, 2.0),
    Analysis("openness", ("effort.rays",), (), _openness, 5.0),
    Analysis(
        "contacts",
        ("part.up", "target.density", "coat.name", "coat.sheet_resistance", "bath.metal"),
        ("gas", "openness"),
        _contacts,
        5.0,
        betters=("hung", "gas_hung"),
    ),
    Analysis("field", _CELL, (), _field, 30.0, betters=("hung", "contacts")),
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
        betters=("hung", "field"),
    ),
    Analysis(
        "hanging",
        _HANGING,
        ("deposit", "contacts"),
        _hanging,
        10.0,
        betters=("hung", "field"),
    ),
    Analysis("preparation", ("print", "target", "coat"), (), _preparation, 0.1),
    Analysis(
        "layouts",
        ("part.up", "target", "bath", "tank", "anodes", "shields", "thieves", "place", *_COPIES, "effort.panels"),
        (),
        _layouts,
        20.0,
        betters=("hung",),
        asked=True,
    ),
    Analysis(
        "rack",
        (
            "part.up",
            "target.density",
            "bath",
            "tank",
            "anodes",
            "shields",
            "thieves",
            "place",
            "supply.current",
            "rack.suggest",
            "rack.tolerance",
        ),
        (),
        _rack,
        25.0,
        betters=("hung",),
        asked=True,
    ),
    Analysis("potential", _CELL, (), _potential, 8.0, betters=("hung", "contacts"), asked=True),
    Analysis("cut", ("cut",), ("potential",), _cut, 6.0, asked=True),
)
NAMES = tuple(analysis.name for analysis in ANALYSES)
USUAL = tuple(analysis.name for analysis in ANALYSES if not analysis.asked)


def copies(job: Job) -> int:
    return max(len(job.rack.positions), 1)


def _surface(study: Study) -> Surface:
    assert study.surface is not None  # every analysis runs after it
    return study.surface
