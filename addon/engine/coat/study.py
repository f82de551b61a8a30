"""The analysis of the coat: voltage lost along it, wires needed, currents to start with, and what stays bare."""

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
from ..findings import Code, Finding, Severity
from ..linalg.sparse import Vector
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..settings.job import Job
from ..settings.part import Wire
from . import cautions, contact, heat, wired, wires
from .bare import BareCoat, bare_coat, wired_coat
from .bathside import Bath, LocalBath
from .contact import Contacts
from .covering import COVERAGE_MILESTONES
from .current_limit import robust_maximum
from .film import COVERED_FILM_M, displaced_film, plated_conductance, sheet_resistance_in_bath
from .immersed import Immersed
from .ramp import Ramp
from .result import CoatResult, WirePlace
from .sheet import Pad
from .spread import Losses, Spread
from .start import Refusal, Start, begin
from .wiring import MAX_STARTING_WIRES, pads_of, supplied_current, wiring


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
    target = supplied_current(job, area)
    target = target if most is None else min(target, most)
    local = LocalBath.of(surface, job, density)
    bath, unable = yield from subrange(0.4, 0.5, _bath(surface, job, meshes, level, local, ohms, target))
    cell = _Cell(surface, contacts, bath, local, level, target)
    wanted = wiring(surface, job, contacts)
    pads = wanted.pads
    bare, start = yield from subrange(0.5, 0.8, _start(cell, job, pads))
    if start.refusal in (Refusal.SUPPLY, Refusal.LIFE) and not job.wires and len(pads) < MAX_STARTING_WIRES:
        _, more = pads_of(surface, (Wire(),) * MAX_STARTING_WIRES, contacts)
        if len(more) > len(pads):
            pads = more
            bare, start = yield from subrange(0.8, 0.95, _start(cell, job, pads))
    yield Step(0.95, "Looking at the wires")
    result = _result(cell, job, bare, start, pads, len(wanted.specified))
    on_metal = yield from subrange(0.96, 1.0, _borne_by_metal(cell, job, bare, start))
    findings = [
        *cautions.too_few_wires(wanted.needed, len(pads), wanted.drop_limit, result.worst_drop, start.refusal),
        *cautions.current_limited(job, target, start, area, on_metal),
    ]
    return replace(
        result,
        drop_limit=wanted.drop_limit,
        wires_needed=wanted.needed,
        retried=len(pads) > len(wanted.pads),
        findings=(*unable, *result.findings, *findings),
    )


@dataclass(frozen=True, eq=False)
class _Cell:
    """Everything that does not depend on the wires. target : A of one part in the end"""

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
    wired_cell = yield from subrange(0.0, 0.3, wired_coat(cell.surface, cell.contacts, pads, cell.level))
    bare = yield from subrange(
        0.3,
        0.6,
        bare_coat(
            cell.surface, cell.contacts, wired_cell, sheet_resistance_in_bath(job), cell.bath, cell.local, cell.target
        ),
    )
    start = yield from subrange(0.6, 1.0, begin(job, pads, bare, cell.bath, cell.target, cell.area))
    return bare, start


def _borne_by_metal(cell: _Cell, job: Job, bare: BareCoat, start: Start) -> Progress[float]:
    """A of one part at which some place reaches the highest sound density, with the whole deposit on the coat; inf
    where nothing limits the start."""
    if bare.spread is None or start.ramp is None or start.ramp.held == "target":
        return math.inf
    conductance = np.full(len(bare.spread.own), plated_conductance(job, job.target.thickness))
    resistance = yield from cell.bath.patch_resistance(bare.spread, conductance, cell.target)
    share = bare.spread.share(conductance, resistance)
    return min(job.bath.window[1], job.bath.limiting) / robust_maximum(bare.spread, share.density)


def _result(cell: _Cell, job: Job, bare: BareCoat, start: Start, pads: tuple[Pad, ...], specified: int) -> CoatResult:
    """The result, from the bare coat and its start. specified : how many of the wires the job places"""
    surface, contacts, film, ohms = cell.surface, cell.contacts, displaced_film(job), sheet_resistance_in_bath(job)
    mean = cell.target / cell.area
    never = _bare_faces(surface, bare, start.ramp)
    reached = np.isin(contacts.coat.piece_of_face, [contacts.coat.piece_of_face[pad.face] for pad in pads])
    wetted = float(np.ptp(surface.bounds, axis=0).max())
    dissolved = faraday.displaced(faraday.metal("zinc"), faraday.metal("copper"), film * cell.area)
    placed: list[WirePlace] = []
    for k, current in enumerate(bare.currents):
        second_places = [wire.second for wire in placed if wire.second is not None]
        placed.append(
            wires.wire_place(
                surface,
                job.part.up,
                contacts,
                pads,
                k,
                float(current),
                suggested=k >= specified,
                occupied=second_places,
            )
        )
    starved = never[reached[never]]
    fitted, worst = bare.fed.sheet, int(np.nanargmax(bare.drop))
    return CoatResult(
        wires=tuple(placed),
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
        milestones=(None,) * len(COVERAGE_MILESTONES) if start.ramp is None else start.ramp.milestones,
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
    pads = wiring(surface, job, contacts).pads if pads is None else pads
    wired_sheet = yield from wired.build(surface, contacts, pads)
    spread = Spread.of(wired_sheet.fed, wired_sheet.patches, pads)
    return spread.loss(np.full(len(spread.own), plated_conductance(job, 0.5 * job.target.thickness)))


def _bath(
    surface: Surface,
    job: Job,
    meshes: Mapping[str, Part] | None,
    level: Level | None,
    local: LocalBath,
    ohms: float,
    target: float,
) -> Progress[tuple[Bath, list[Finding]]]:
    """The tank with the part in it, or its substitute and the reason.

    Metal loses nothing, and a coat whose reach is less than a panel is not resolved: neither needs the tank.
    """
    if ohms == 0 or local.resistance(target / local.area) / ohms < local.area / PREVIEW_PANELS:
        return local, []
    try:
        return (yield from Immersed.build(surface, job, meshes, level)), []
    except InputError as fault:
        return local, [Finding(Code.COAT_WITHOUT_TANK, Severity.COSTS, names={"reason": str(fault)})]


def _bare_faces(surface: Surface, bare: BareCoat, walked: Ramp | None) -> NDArray[np.intp]:
    """The triangles that stay bare: on coat without a wire, or too thinly plated to close; none where nothing was
    walked."""
    if walked is None:
        return np.zeros(0, dtype=np.intp)
    film = walked.film if bare.spread is None else walked.film[bare.spread.patches.patch]
    return np.flatnonzero((surface.plated_area > 0) & ~(bare.fed.sheet.on_faces(film) >= COVERED_FILM_M))
