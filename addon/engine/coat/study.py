"""The coat's part of a study: what is lost along it, how many wires, how to start, and what stays bare."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .. import faraday
from ..errors import InputError
from ..field.level import Level
from ..field.solve import PREVIEW_PANELS
from ..filled import setting
from ..findings import Code, Finding, Severity
from ..linalg.sparse import Graph, Vector
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..settings import tables
from ..settings.job import Job
from ..settings.part import Wire
from ..units import UM
from . import cautions, contact, heat, ramp, wired, wires
from .bathside import Bath, LocalBath
from .contact import Contacts
from .drop import Loss, share_current
from .immersed import Immersed
from .ramp import Ramp
from .result import CoatResult, WirePlace
from .sheet import Pad
from .spread import Losses, Spread
from .start import BareCoat, Refusal, Start, begin
from .wired import Wired

MIN_DROP_LIMIT_V = 0.05  # V that may always be lost before a further wire is called for
MAX_DROP_SHARE = (
    0.5  # and this share of what drives the current through the bath: the far end then gets half of the near one
)
MAX_GUESS_DROP_V = 20.0  # V: a current for which the bare coat would lose more is no guess to start from
MAX_STARTING_WIRES = 4  # that are used where no number of them keeps the loss small, or the start is refused
METAL_SHEET_RESISTANCE_OHM = 1e-9  # ohm per square that stand for a part of metal


def run(
    surface: Surface,
    job: Job,
    *,
    contacts: Contacts | None = None,
    density: Vector | None = None,
    most: float | None = None,
    meshes: Mapping[str, Part] | None = None,
    level: Level | None = None,
) -> Progress[CoatResult]:
    """The coat with the wires of the job, or with as many suggested ones as it needs.

    contacts : suggestions; ranked here where None
    density : (m,) A/m2 of a field, at any total current; None: the same everywhere
    most : A that flow into each part where the supply has no volts for more
    meshes : models that the job names by file for the tank, meters, tank coordinates
    level : that the field of the same tank left to solve on; made here where None
    The current that the coat itself lets through, which sets the start, is solved together with the field in the tank,
    at a preview's resolution; where the tank cannot stand as it is, each place sees a resistance of its own instead,
    and a finding says so. Raises InputError where a wire of the job does not touch plated coat. Cost: two solutions on
    the coat's network, some hundred on its coarse copy, and some ten of the field.
    """
    ohms = sheet_resistance_in_bath(job)
    if contacts is None:
        ranking = contact.rank(surface, up=job.part.up, sheet_resistance=ohms, density=job.target.density)
        contacts = yield from subrange(0.0, 0.4, ranking)
    area = float(surface.plated_area.sum())
    target = _supplied_current(job, area)
    target = target if most is None else min(target, most)
    local = LocalBath.of(surface, job, density)
    bath, unable = yield from subrange(0.4, 0.5, _bath(surface, job, meshes, level, local, ohms, target))
    cell = _Cell(surface, contacts, bath, local, level, target)
    wanted = wiring(surface, job, contacts)
    pads = wanted.pads
    bare, start = yield from subrange(0.5, 0.8, _start(cell, job, pads))
    if start.refusal in (Refusal.SUPPLY, Refusal.LIFE) and not job.wires and len(pads) < MAX_STARTING_WIRES:
        _, more = _pads(surface, (Wire(),) * MAX_STARTING_WIRES, contacts)
        if len(more) > len(pads):
            pads = more
            bare, start = yield from subrange(0.8, 0.95, _start(cell, job, pads))
    yield Step(0.95, "Looking at the wires")
    found = _result(cell, job, bare, start, pads, len(wanted.given))
    on_metal = yield from subrange(0.96, 1.0, _borne_by_metal(cell, job, bare, start))
    said = [
        *cautions.too_few_wires(wanted.needed, len(pads), wanted.drop_limit, found.worst_drop, start.refusal),
        *cautions.current_limited(job, target, start, area, on_metal),
    ]
    return replace(
        found,
        drop_limit=wanted.drop_limit,
        wires_needed=wanted.needed,
        retried=len(pads) > len(wanted.pads),
        findings=(*unable, *found.findings, *said),
    )


@dataclass(frozen=True, eq=False)
class _Cell:
    """What stays the same whatever the wires. target : A of one part in the end"""

    surface: Surface
    contacts: Contacts
    bath: Bath
    local: LocalBath
    level: Level | None
    target: float

    @property
    def area(self) -> float:
        """m2 that is plated."""
        return float(self.surface.plated_area.sum())


def _start(cell: _Cell, job: Job, pads: tuple[Pad, ...]) -> Progress[tuple[BareCoat, Start]]:
    """The bare coat with these wires, and the start on it."""
    made = yield from subrange(0.0, 0.3, _wired_coat(cell.surface, cell.contacts, pads, cell.level))
    bare = yield from subrange(
        0.3,
        0.6,
        _bare(cell.surface, cell.contacts, made, sheet_resistance_in_bath(job), cell.bath, cell.local, cell.target),
    )
    start = yield from subrange(
        0.6, 1.0, begin(job, pads, bare, cell.bath, cell.target, cell.area, displaced_film(job))
    )
    return bare, start


def _borne_by_metal(cell: _Cell, job: Job, bare: BareCoat, start: Start) -> Progress[float]:
    """A of one part until some place gets more than a sound deposit bears, with all of the deposit on the coat; inf
    where nothing holds the start down."""
    if bare.spread is None or start.ramp is None or start.ramp.held == "target":
        return math.inf
    film = job.target.thickness / ramp.RESISTIVITY_OHM_M[job.bath.metal]
    conductance = np.full(
        len(bare.spread.own), 1.0 / max(sheet_resistance_in_bath(job), METAL_SHEET_RESISTANCE_OHM) + film
    )
    resistance = yield from cell.bath.patch_resistance(bare.spread, conductance, cell.target)
    found = bare.spread.share(conductance, resistance)
    return min(job.bath.window[1], job.bath.limiting) / ramp.robust_maximum(bare.spread, found.density)


def _result(cell: _Cell, job: Job, bare: BareCoat, start: Start, pads: tuple[Pad, ...], given: int) -> CoatResult:
    """What the coat's part answers. given : how many of the wires the job places"""
    surface, contacts, film, ohms = cell.surface, cell.contacts, displaced_film(job), sheet_resistance_in_bath(job)
    mean = cell.target / cell.area
    never = _bare_faces(surface, bare, start.ramp)
    reached = np.isin(contacts.coat.piece_of_face, [contacts.coat.piece_of_face[pad.face] for pad in pads])
    wetted = float(np.ptp(surface.bounds, axis=0).max())
    dissolved = faraday.displaced(faraday.metal("zinc"), faraday.metal("copper"), film * cell.area)
    told: list[WirePlace] = []
    for k, current in enumerate(bare.currents):
        taken = [wire.second for wire in told if wire.second is not None]
        told.append(
            wires.wire_place(surface, job.part.up, contacts, pads, k, float(current), suggested=k >= given, taken=taken)
        )
    starved = never[reached[never]]
    fitted, worst = bare.fed.sheet, int(np.nanargmax(bare.drop))
    return CoatResult(
        wires=tuple(told),
        pieces=contacts.pieces,
        unserved=len(wires.unserved(contacts.coat, pads)),
        drop=fitted.on_faces(bare.drop),
        worst_drop=float(bare.drop[worst]),
        drop_at=fitted.mesh.points[worst],
        coupled_drop=float(np.nanmax(bare.coupled)),
        share=fitted.on_faces(bare.density) * (cell.area / cell.target),
        reach=math.sqrt(cell.local.resistance(mean) / ohms) if ohms > 0 else math.inf,
        drop_limit=math.inf,
        wires_needed=None,
        safe_start=start.steps[0].current if start.steps else 0.0,
        safe_reason=start.reason,
        steps=start.steps,
        covered_after=None if start.ramp is None else start.ramp.covered_after,
        milestones=(None,) * len(ramp.COVERAGE_MILESTONES) if start.ramp is None else start.ramp.milestones,
        last_covered=None if start.ramp is None else start.ramp.last,
        held="" if start.ramp is None else start.ramp.held,
        never_covered=never,
        heating=start.first,
        heating_full=start.full,
        wire=heat.wire_advice(float(bare.currents.max()), wetted=wetted, density=mean),
        findings=(
            *cautions.unserved(surface, contacts, pads),
            *cautions.stays_bare(surface, starved, cautions.bare(surface, starved, job.part.up)),
            *cautions.refused(job, start, ohms),
            *cautions.zinc_displaced(job, film, dissolved),
            *(cautions.warmth(job, start.first, start.full, cell.target) if start.refusal is None else ()),
        ),
        never=cautions.bare(surface, never, job.part.up),
        dissolved=dissolved,
    )


def half_grown(surface: Surface, job: Job, contacts: Contacts, pads: tuple[Pad, ...] | None = None) -> Progress[Losses]:
    """The loss along the coat with half of the wanted deposit on it. pads : of the wires; None: as of `wiring`

    The mean over the whole run, for a field to couple to: the bare coat of the first minutes is
    `run`'s.
    """
    film = 0.5 * job.target.thickness / ramp.RESISTIVITY_OHM_M[job.bath.metal]
    pads = wiring(surface, job, contacts).pads if pads is None else pads
    made = yield from wired.build(surface, contacts, pads)
    spread = Spread.of(made.fed, made.patches, pads)
    return spread.loss(
        np.full(len(spread.own), 1.0 / max(sheet_resistance_in_bath(job), METAL_SHEET_RESISTANCE_OHM) + film)
    )


def _bath(
    surface: Surface,
    job: Job,
    meshes: Mapping[str, Part] | None,
    level: Level | None,
    local: LocalBath,
    ohms: float,
    target: float,
) -> Progress[tuple[Bath, list[Finding]]]:
    """The tank with the part in it, or why there is none and what stands for it.

    On metal nothing is lost, and where the coat's reach is less than a panel no panel would tell: neither needs the
    tank.
    """
    if ohms == 0 or local.resistance(target / local.area) / ohms < local.area / PREVIEW_PANELS:
        return local, []
    try:
        return (yield from Immersed.build(surface, job, meshes, level)), []
    except InputError as fault:
        return local, [Finding(Code.COAT_WITHOUT_TANK, Severity.COSTS, names={"reason": str(fault)})]


@dataclass(frozen=True)
class Wiring:
    """The wires of a part, for field, start and plan alike.

    given : pads of those that the job places; pads : these and the suggested ones
    needed : until the pieces of bare coat that are worth a wire lose no more than drop_limit (V) at the wanted current;
        None if no number does it
    """

    given: tuple[Pad, ...]
    pads: tuple[Pad, ...]
    needed: int | None
    drop_limit: float


def wiring(surface: Surface, job: Job, contacts: Contacts) -> Wiring:
    """The wires of the job; where it names none, as many as the coat needs, or MAX_STARTING_WIRES where no number of
    them is enough."""
    ohms, area = sheet_resistance_in_bath(job), float(surface.plated_area.sum())
    mean = _supplied_current(job, area) / area
    limit = max(MIN_DROP_LIMIT_V, MAX_DROP_SHARE * LocalBath.of(surface, job, None).resistance(mean) * mean)
    share = mean / job.target.density  # places are ranked by what they lose at the density wanted
    needed = wires.wires_needed(contacts, share * ohms, limit) if ohms > 0 else len(contacts.places)
    count = max(MAX_STARTING_WIRES if needed is None else needed, len(contacts.places))
    given, pads = _pads(surface, job.wires or (Wire(),) * count, contacts)
    return Wiring(given, pads, needed, limit)


def _supplied_current(job: Job, area: float) -> float:
    """A that the supply gives to each part of a plated area in m2."""
    copies = max(len(job.rack.positions), 1)
    return job.supply.sets(copies * job.target.density * area) / copies


def _pads(surface: Surface, wanted: tuple[Wire, ...], contacts: Contacts) -> tuple[tuple[Pad, ...], tuple[Pad, ...]]:
    """The pads of the wires that have a point, and those with the suggested ones."""
    given = wires.given_pads(surface, wanted)
    return given, (*given, *wires.suggested_pads(contacts, given, [wire for wire in wanted if wire.point is None]))


def sheet_resistance_in_bath(job: Job) -> float:
    """ohm per square when the part is in the bath: the coat, and beside it what copper has displaced of it."""
    ohms = job.coat.sheet_resistance
    closed = max(displaced_film(job) - ramp.ISLAND_FILM_M, 0.0) / ramp.RESISTIVITY_OHM_M[job.bath.metal]
    return ohms / (1.0 + ohms * closed)


def displaced_film(job: Job) -> float:
    """Meters of copper that take the place of the coat's own metal before the current is on; 0 for most coats."""
    cells = tables.entry("coats", job.coat.name, setting("coat.name"))
    film = float(tables.value(cells.get("displaced_film_um", 0.0))) * UM
    return film if job.bath.metal == "copper" else 0.0


def _wired_coat(surface: Surface, contacts: Contacts, pads: tuple[Pad, ...], level: Level | None) -> Progress[Wired]:
    """The coat with its wires, as the field had it where its wires are these."""
    if level is not None and isinstance(level.coat, Losses):
        spread = level.coat.spread
        if spread.pads == pads and spread.sheet.faces == len(surface.triangles):
            return Wired(pads, spread.fed, spread.patches)
    return (yield from wired.build(surface, contacts, pads))


def _bare(
    surface: Surface, contacts: Contacts, made: Wired, ohms: float, bath: Bath, local: LocalBath, target: float
) -> Progress[BareCoat]:
    fed, sheet = made.fed, made.fed.sheet
    if contacts.checked is not None and contacts.checked.fed is fed:
        loss = replace(contacts.checked, sheet_resistance=ohms)
    else:
        loss = yield from subrange(0.0, 0.4, Loss.build(fed, ohms))
    area = float(surface.plated_area.sum())
    shape = np.where(fed.floating, 0.0, 1.0 if local.shape is None else local.shape)
    current = sheet.collected(sheet.spread(shape))
    current *= target / float(current.sum())  # coat without a wire takes none of it
    drop = yield from subrange(0.4, 0.5, loss.at_points(current))
    if ohms == 0:
        even = np.divide(current, sheet.area, out=np.zeros_like(current), where=sheet.area > 0)
        return BareCoat(fed, drop, drop, even, fed.into_wires(drop, ohms, current), None, target)
    spread = Spread.of(fed, made.patches, made.pads, resolution=bath.resolution)
    conductance = np.full(len(spread.own), 1.0 / ohms)
    borne = target * min(1.0, MAX_GUESS_DROP_V / max(float(np.nanmax(drop)), 1e-300))
    resistance = yield from subrange(0.6, 0.8, bath.patch_resistance(spread, conductance, borne))
    scaled = Graph(fed.graph.count, fed.graph.low, fed.graph.high, fed.graph.weight / ohms)
    at_points = spread.at_points(resistance, local.resistance(target / area))
    found = yield from subrange(0.8, 1.0, share_current(fed, scaled, fed.ground / ohms, at_points, target))
    taken = np.where(np.isnan(found.drop), 0.0, sheet.area * found.density)
    currents = fed.into_wires(found.drop, ohms, taken)
    spread = spread.fitted(conductance, resistance, found.voltage / target)
    return BareCoat(fed, drop, found.drop, found.density, currents, spread, borne)


def _bare_faces(surface: Surface, bare: BareCoat, walked: Ramp | None) -> NDArray[np.intp]:
    """The triangles that stay bare: on coat without a wire, or too thinly plated to close; none where nothing was
    walked."""
    if walked is None:
        return np.zeros(0, dtype=np.intp)
    film = walked.film if bare.spread is None else walked.film[bare.spread.patches.patch]
    return np.flatnonzero((surface.plated_area > 0) & ~(bare.fed.sheet.on_faces(film) >= ramp.COVERED_FILM_M))
