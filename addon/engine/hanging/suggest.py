"""How to hang the part: what it weighs, how it turns on its wire, and ranked ways up with their reasons."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.frames import unit
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step, subrange
from ..settings.job import Hang, Tank
from ..trapping.relief import relief_of
from ..units import MM
from . import search
from .balance import MIN_PULL_SHARE, Balance, Load, balance, ballast, rigid_wire, settled_up, sinking
from .hold import HOLDS
from .mass import Body, weigh
from .rank import Pair, Ranking, Suggestion, filled, held_at
from .score import worth

MIN_BOX_SIDE_OVER_LONGEST = 0.01
OFF = 1.0 * MM  # a wire further than this from the surface does not touch it


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the part hangs.

    body : what it weighs, None where the mesh is open; start, end : net load before and after plating
    deposit : kg; ballast : kg of copper that leaves a flexible wire a pull of `MIN_PULL_SHARE` of the print's weight at
        the start; 0 on a rigid hook
    rigid_wire : m, diameter of a copper wire that holds a floating part down without ballast; None where it sinks
    settles_up : (3,) the way up that it turns to on the first contact, None where it floats or is unknown
    sinks : kg of deposit from which a floating part sinks; 0 where it sinks anyway, None where unknown
    sinks_thickness : m, mean thickness of that deposit
    findings : what is wrong with weight or wires
    full : net load at the start with the gas that `settles_up` traps; swing : radians that this turns the part
    as_set : the way up that the job sets, judged as the suggestions are; None where none was named
    fill_up : (3,) the way up nearest to the one that is hung in which the part goes under without gas, to be turned
        there; None where it takes no gas anyway, or always some
    """

    body: Body | None
    start: Balance | None
    end: Balance | None
    deposit: float
    ballast: float
    settles_up: NDArray[np.float64] | None
    suggestions: tuple[Suggestion, ...]
    pair: Pair | None
    findings: tuple[Finding, ...]
    sinks: float | None = None
    sinks_thickness: float | None = None
    full: Balance | None = None
    swing: float | None = None
    as_set: Suggestion | None = None
    fill_up: NDArray[np.float64] | None = None
    rigid_wire: float | None = None


def run(
    surface: Surface,
    tracer: Tracer,
    *,
    walls: float,
    infill: float,
    plastic_density: float,
    coat_thickness: float,
    coat_density: float,
    deposit: float,
    bath_density: float,
    tank: Tank,
    contacts: ArrayLike,
    directions: int,
    wires: int = 0,
    weights: Hang | None = None,
    metal_density: float = 8960.0,
    anodes: ArrayLike = (),
    density: NDArray[np.float64] | None = None,
    own: ArrayLike | None = None,
    free: bool = False,
) -> Progress[Hanging]:
    """Weigh the part, let it settle, and rank the ways up.

    contacts : (k, 3) meters, where a wire may go, the likeliest first; the first `wires` of them are the job's own
    deposit : kg in the end; metal_density : kg/m3, of the deposit
    weights : what holds the part, and how much each cost counts against the others
    anodes : (n, 2) level directions from the part to the anodes, in tank axes
    density : (m,) A/m2, the current distribution if there is one: what is thin anyway counts more where it is spoilt
    own : (3,) the way up that the job sets: kept where no other is better by more than a trifle
    free : whether the part will hang as recommended; else a better way up than `own` is a finding
    """
    weights = weights or Hang()
    findings: list[Finding] = []
    yield Step(0.0, "weighing the print")
    body: Body | None = None
    start = end = full = settles = swing = sinks = thickness = part = rigid = None
    try:
        body = weigh(
            surface,
            tracer,
            walls=walls,
            infill=infill,
            plastic_density=plastic_density,
            coat_thickness=coat_thickness,
            coat_density=coat_density,
        )
    except InputError as fault:
        findings.append(Finding(Code.WEIGHT_UNKNOWN, Severity.COSTS, names={"reason": str(fault)}))
    points, said = _touching(surface, tracer, np.asarray(contacts, dtype=float).reshape(-1, 3), wires)
    findings += said
    added = 0.0
    if body is not None:
        part = Load(body.mass, body.centre, body.displaced, body.buoyancy)
        start = balance([part], bath_density)
        end = balance([part, _metal(surface, deposit, metal_density)], bath_density)
        if weights.hook != "rigid":
            added = ballast(start.net, bath_density, MIN_PULL_SHARE * body.mass)
        sinks = sinking(start.net, bath_density, metal_density)
        thickness = sinks / metal_density / max(float(surface.plated_area.sum()), 1e-300)
        rigid = rigid_wire(-start.net, surface.size / 2) if start.floats else None
        findings += _floating(start, end, added, thickness, rigid)
        findings += _inside(body, bath_density, infill, walls)
        if len(points):
            up = settled_up(points[0], start)
            if np.isfinite(up).all():
                settles = up
                full, swing = filled(surface, part, bath_density, up, points[0])
                findings += _lifted(full, swing)
    displaced = body.displaced if body is not None else _box(surface)
    tried = yield from subrange(
        0.1,
        0.9,
        search.search(
            surface,
            relief_of(surface),
            directions=directions,
            displaced=displaced,
            weights=weights,
            counts=worth(surface, density, weights.visible, weights.thin),
            own=None if own is None else unit(own),
        ),
    )
    yield Step(0.9, "ranking the ways up")
    ranking = Ranking(
        surface,
        tracer,
        tried,
        displaced=displaced,
        weights=weights,
        tank=tank,
        contacts=points,
        load=part,
        bath_density=bath_density,
        anodes=np.asarray(anodes, dtype=float).reshape(-1, 2),
        density=density,
        own=own is not None,
    )
    suggestions = ranking.suggestions()
    as_set = ranking.as_set()
    findings += _better(as_set, suggestions) if not free else []
    hung = suggestions[0] if free or as_set is None else as_set
    yield Step(0.95, "looking for two ways up in turn")
    return Hanging(
        body,
        start,
        end,
        deposit,
        added,
        settles,
        suggestions,
        ranking.pair(),
        tuple(findings),
        sinks,
        thickness,
        full,
        swing,
        as_set,
        ranking.filled_by_tilting(hung.up),
        rigid,
    )


def on_contacts(found: Hanging, surface: Surface, contacts: ArrayLike, bath_density: float) -> Hanging:
    """The same once it is known where wires may touch the part as it is hung by the first suggestion.

    contacts : (k, 3) meters, the likeliest first. The part settles on the first; where one of them holds the first
    suggestion on one wire, it does.
    """
    points = np.asarray(contacts, dtype=float).reshape(-1, 3)
    start, body = found.start, found.body
    if start is None or body is None or not len(points) or start.floats:
        return found
    suggestions, settled = found.suggestions, np.array([settled_up(point, start) for point in points])
    if suggestions and suggestions[0].hold is not None and suggestions[0].hold.wires > 0:
        near = np.where(np.isfinite(settled[:, 0]), settled @ suggestions[0].up, -1.0)
        k = int(np.argmax(near))
        if near[k] > np.cos(HOLDS):
            first = held_at(suggestions[0], points[k])
            suggestions = (first, *suggestions[1:])
    if found.settles_up is not None or not np.isfinite(settled[0]).all():
        return replace(found, suggestions=suggestions)
    load = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    full, swing = filled(surface, load, bath_density, settled[0], points[0])
    findings = (*found.findings, *_lifted(full, swing))
    return replace(found, suggestions=suggestions, settles_up=settled[0], full=full, swing=swing, findings=findings)


def _box(surface: Surface) -> float:
    """m3 of the box round the part, for want of its volume; a flat sheet counts as if it were a little thick."""
    sides = np.ptp(surface.bounds, axis=0)
    return float(np.maximum(sides, MIN_BOX_SIDE_OVER_LONGEST * sides.max()).prod())


def _metal(surface: Surface, deposit: float, density: float) -> Load:
    """An even deposit."""
    area = surface.plated_area
    skin = area @ surface.centroid / max(area.sum(), 1e-300)
    return Load(deposit, skin, deposit / density, skin)


def _touching(
    surface: Surface, tracer: Tracer, contacts: NDArray[np.float64], wires: int
) -> tuple[NDArray[np.float64], list[Finding]]:
    """The contacts without those wires of the job that touch nothing, and a finding on each of these."""
    own = contacts[:wires]
    if not len(own):
        return contacts, []
    off = tracer.nearest(own)
    face, _ = tracer.first_hit(own, np.broadcast_to([0.0, 0.0, 1.0], own.shape))
    inside = (face >= 0) & (surface.normal[face, 2] > 0)
    keep = np.ones(len(contacts), dtype=bool)
    keep[:wires] = off <= OFF
    said = [
        Finding(
            Code.WIRE_OFF_PART,
            Severity.SPOILS,
            {Quantity.DISTANCE: float(off[k])},
            {"side": "inside" if inside[k] else "off"},
            places=(spot(own[k]),),
            remedy=Remedy(RemedyCode.MOVE_WIRE),
        )
        for k in np.flatnonzero(~keep)
    ]
    return contacts[keep], said


def _floating(start: Balance, end: Balance, added: float, thickness: float, rigid: float | None) -> list[Finding]:
    """What a person must know about weight before the part goes in."""
    if rigid is None:
        return []
    return [
        Finding(
            Code.FLOATS,
            Severity.SPOILS,
            {
                Quantity.MASS: -start.net,
                Quantity.BALLAST: added,
                Quantity.THICKNESS: thickness,
                Quantity.DIAMETER: rigid,
            },
            {"at_the_end": "floats" if end.floats else "sinks"},
            remedy=Remedy(RemedyCode.ADD_BALLAST, {Quantity.BALLAST: added, Quantity.DIAMETER: rigid}),
        )
    ]


def _inside(body: Body, bath_density: float, infill: float, walls: float) -> list[Finding]:
    """What the part's inside may do."""
    found = []
    creeping = body.air - body.void
    seal = Remedy(RemedyCode.SEAL_PRINT)
    if infill < 1 and creeping > 0.05 * body.displaced:
        quantities = {Quantity.VOLUME: creeping, Quantity.MASS: creeping * bath_density}
        found.append(Finding(Code.INFILL_AIR, Severity.COSTS, quantities, remedy=seal))
    if body.void > 1e-3 * body.displaced:
        quantities = {Quantity.VOLUME: body.void, Quantity.MASS: body.void * bath_density}
        found.append(Finding(Code.VOID_AIR, Severity.COSTS, quantities, remedy=seal))
    if infill < 1 and body.wall >= body.solid * (1 - 1e-9):
        found.append(Finding(Code.WALLS_MEET, Severity.COSTS, {Quantity.WALLS: walls}))
    return found


def _better(as_set: Suggestion | None, suggestions: tuple[Suggestion, ...]) -> list[Finding]:
    """What the best way up would gain over the one that the job sets."""
    if as_set is None or not suggestions or np.array_equal(suggestions[0].up, as_set.up) or not suggestions[0].fits:
        return []
    best = suggestions[0]
    x, y, z = (float(value) for value in best.up)
    return [
        Finding(
            Code.BETTER_WAY_UP,
            Severity.COSTS,
            {
                Quantity.GAS_GAIN: as_set.trapped - best.trapped,
                Quantity.AREA_GAIN: as_set.dry + as_set.underside - best.dry - best.underside,
                Quantity.HELD_GAIN: as_set.held - best.held,
            },
            remedy=Remedy(RemedyCode.HANG_OTHERWISE, {Quantity.UP_X: x, Quantity.UP_Y: y, Quantity.UP_Z: z}),
        )
    ]


def _lifted(full: Balance, swing: float | None) -> list[Finding]:
    """What gas in the pockets does to the way that the part hangs."""
    vent = Remedy(RemedyCode.VENT)
    if full.floats:
        return [Finding(Code.GAS_LIFTS, Severity.SPOILS, {Quantity.MASS: -full.net}, remedy=vent)]
    if swing is not None and swing > np.radians(5):
        return [Finding(Code.GAS_SWINGS, Severity.COSTS, {Quantity.SWING: swing}, remedy=vent)]
    return []
