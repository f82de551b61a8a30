"""How to hang the part: what it weighs, how it turns on its wire, and ranked ways up with their reasons."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.frames import unit
from ..geometry.triangles import measure
from ..mesh.surface import Surface
from ..mesh.topology import Topology
from ..mesh.tracer import Tracer
from ..progress import Progress, Step, subrange
from ..settings.options import Hang
from ..settings.tank import Tank
from ..trapping.relief import relief_of
from ..units import MM
from . import cautions
from .balance import MIN_PULL_SHARE, Balance, Load, balance, ballast, rigid_wire, settled_up, sinking_deposit
from .fit import Volume
from .hold import Spots, hold_on_wires
from .lift import gas_load
from .look import ExactEvaluator
from .mass import Body, Printed, weigh
from .rank import Placing, Ranking, balance_with_gas, thin_places
from .score import Swept, face_weights
from .search import Search
from .suggestion import Pair, Suggestion, with_hold

MIN_BOX_SIDE_OVER_LONGEST = 0.01
MAX_CONTACT_DISTANCE_M = 1.0 * MM  # a wire further than this from the surface does not touch it


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the part hangs.

    body : what it weighs, None where the mesh is open; start, end : net load before and after plating
    deposit : kg; ballast : kg of copper that leaves a flexible wire a pull of `MIN_PULL_SHARE` of the print's weight at
        the start; 0 on a rigid hook
    rigid_wire : m, diameter of a copper wire that holds down, without ballast, a part that floats, or that may for all
        that is known of its weight; None where it sinks, and where no wire that hands bend would do
    unknown_lift : kg that a part of unknown weight floats by at most; 0 where the weight is known
    settles_up : (3,) the way up that it turns to on the first contact, None where it floats or is unknown
    sinks : kg of deposit from which a floating part sinks; 0 where it sinks anyway, None where unknown
    sinks_thickness : m, mean thickness of that deposit
    findings : what is wrong with weight or wires
    full : net load at the start with the gas that `settles_up` traps; swing : radians that this turns the part
    as_set : the way up that the job sets, judged as the suggestions are; None where none was named
    fill_up : (3,) the way up nearest to the one that is hung in which the part goes under without gas, to be turned
        there; None where it takes no gas anyway, or always some
    swept : triangles of the aggregated surface on which ways up were tried before the best were looked at on the whole;
        None where all were; sampling_error : share of the plated surface by which its gas and undersides were off
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
    unknown_lift: float = 0.0
    swept: int | None = None
    sampling_error: float = 0.0


@dataclass(frozen=True, eq=False)
class Immersion:
    """What is plated onto the part, and in what.

    deposit : kg in the end; metal_density, bath_density : kg/m3
    """

    deposit: float
    bath_density: float
    metal_density: float = 8960.0


@dataclass(frozen=True, eq=False)
class SearchRequest:
    """What the search is to look for.

    weights : what holds the part, and how much each cost counts against the others
    tank, anodes : (n, 2) level directions from the part to the anodes, in tank axes
    contacts : (k, 3) meters, where a wire may go, the likeliest first; the first `wires` of them are the job's own
    density : (m,) A/m2, the current distribution if there is one: what is thin anyway counts more where it is spoilt
    own : (3,) the way up that the job sets: kept where no other is better by more than a trifle
    free : whether the part will hang as recommended; else a better way up than `own` is a finding
    bath_volume : where the tank is still to be chosen, as for `fit.fit`
    """

    directions: int
    tank: Tank
    weights: Hang = field(default_factory=Hang)
    anodes: ArrayLike = ()
    contacts: ArrayLike = ()
    wires: int = 0
    density: NDArray[np.float64] | None = None
    own: ArrayLike | None = None
    free: bool = False
    bath_volume: Volume | None = None


def run(
    surface: Surface, tracer: Tracer, printed: Printed, immersion: Immersion, wanted: SearchRequest
) -> Progress[Hanging]:
    """Weigh the part, let it settle, and rank the ways up."""
    yield Step(0.0, "weighing the print")
    contacts, said = _touching(surface, tracer, np.asarray(wanted.contacts, dtype=float).reshape(-1, 3), wanted.wires)
    weighed = _weighed(surface, tracer, printed, immersion, wanted, contacts)
    displaced = weighed.body.displaced if weighed.body is not None else _box_volume(surface)
    whole = Swept.of(
        surface, relief_of(surface), face_weights(surface, wanted.density, wanted.weights.visible, wanted.weights.thin)
    )
    search = Search(
        surface, whole, displaced, wanted.weights, None if wanted.own is None else unit(np.asarray(wanted.own))
    )
    looks = ExactEvaluator(surface, whole, None if wanted.density is None else thin_places(surface, wanted.density))
    tried = yield from subrange(0.1, 0.9, search.run(wanted.directions, looks))
    yield Step(0.9, "ranking the ways up")
    anodes = np.asarray(wanted.anodes, dtype=float).reshape(-1, 2)
    place = Placing(wanted.tank, contacts, anodes, immersion.bath_density, wanted.bath_volume)
    ranking = Ranking(search, tried, looks, tracer, place, weighed.load)
    suggestions = ranking.suggestions()
    as_set = ranking.as_set()
    better = cautions.better_way_up(as_set, suggestions) if not wanted.free else []
    hung = suggestions[0] if wanted.free or as_set is None else as_set
    yield Step(0.95, "looking for two ways up in turn")
    return replace(
        weighed.hanging,
        suggestions=suggestions,
        pair=ranking.pair(),
        findings=(*weighed.unknown, *said, *weighed.hanging.findings, *better),
        as_set=as_set,
        fill_up=ranking.filled_by_tilting(hung.up),
        swept=len(tried.swept.relief.face) if tried.swept.fine is not None else None,
        sampling_error=tried.error,
    )


@dataclass(frozen=True, eq=False)
class _Weighed:
    """hanging : without ways up; load : the part at the start; unknown : a finding where it cannot be weighed"""

    hanging: Hanging
    load: Load | None = None
    unknown: tuple[Finding, ...] = ()

    @property
    def body(self) -> Body | None:
        return self.hanging.body


def _weighed(
    surface: Surface,
    tracer: Tracer,
    printed: Printed,
    immersion: Immersion,
    wanted: SearchRequest,
    contacts: NDArray[np.float64],
) -> _Weighed:
    """What the part weighs, whether it sinks, and how it settles on its first contact."""
    bare = Hanging(None, None, None, immersion.deposit, 0.0, None, (), None, ())
    try:
        body = weigh(surface, tracer, **vars(printed))
    except InputError as fault:
        return _unweighed(surface, printed, immersion.bath_density, bare, str(fault))
    bath, metal = immersion.bath_density, immersion.metal_density
    load = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    start = balance([load], bath)
    end = balance([load, _deposit_load(surface, immersion.deposit, metal)], bath)
    added = ballast(start.net, bath, MIN_PULL_SHARE * body.mass) if wanted.weights.hook != "rigid" else 0.0
    sinks = sinking_deposit(start.net, bath, metal)
    thickness = sinks / metal / max(float(surface.plated_area.sum()), 1e-300)
    rigid = rigid_wire(-start.net, surface.size / 2) if start.floats else None
    findings = cautions.floating(start, end, added, thickness, rigid) + cautions.interior(
        body, bath, printed.infill, printed.walls
    )
    settles = full = swing = None
    if len(contacts):
        up = settled_up(contacts[0], start)
        if np.isfinite(up).all():
            settles = up
            full, swing = balance_with_gas(load, gas_load(relief_of(surface), up), bath, contacts[0])
            findings += cautions.gas_lift(full, swing)
    hanging = replace(
        bare,
        body=body,
        start=start,
        end=end,
        ballast=added,
        settles_up=settles,
        findings=tuple(findings),
        sinks=sinks,
        sinks_thickness=thickness,
        full=full,
        swing=swing,
        rigid_wire=rigid,
    )
    return _Weighed(hanging, load)


def _unweighed(surface: Surface, printed: Printed, bath_density: float, bare: Hanging, reason: str) -> _Weighed:
    """A part whose weight nobody knows: it is held as if it floated by the most that it can.

    The most that it displaces, its holes closed by flat patches, less the least that it weighs: its walls, and nothing
    inside them.
    """
    triangles = surface.triangles[surface.wetted]
    topology = Topology.of(triangles, len(surface.points))
    rim = surface.points[topology.edges[topology.open].ravel()] if len(topology.open) else surface.points
    inside = float(measure(surface.points, triangles, rim.mean(axis=0)).volume.sum())
    if not 0.0 < inside < _box_volume(surface):
        inside = _box_volume(surface)
    walls = min(printed.walls * float(surface.wet_area.sum()), inside)
    lift = max(0.0, bath_density * inside - printed.plastic_density * walls)
    rigid = rigid_wire(lift, surface.size / 2) if lift > 0 else None
    quantities = {Quantity.MASS: lift} | ({} if rigid is None else {Quantity.DIAMETER: rigid})
    said = Finding(Code.WEIGHT_UNKNOWN, Severity.COSTS, quantities, {"reason": reason})
    return _Weighed(replace(bare, rigid_wire=rigid, unknown_lift=lift), None, (said,))


def on_wires(found: Hanging, surface: Surface, tracer: Tracer, used: Spots, hook: str, bath_density: float) -> Hanging:
    """The same once it is known where the wires touch the part.

    used : where, the first first; hook : what holds the part, as `hold.find` has it
    The part settles on the first. Where one, two or three of them keep the part as it hangs, they hold it.
    """
    start, body = found.start, found.body
    if start is None or body is None or not len(used.points) or start.floats:
        return found
    if hook != "rigid":

        def held(suggestion: Suggestion) -> Suggestion:
            kept = None if suggestion.hold is None else hold_on_wires(suggestion.up, start, surface, tracer, used)
            return suggestion if kept is None else with_hold(suggestion, kept)

        first, as_set = tuple(map(held, found.suggestions[:1])), found.as_set
        if as_set is not None:
            as_set = first[0] if first and as_set is found.suggestions[0] else held(as_set)
        found = replace(found, suggestions=(*first, *found.suggestions[1:]), as_set=as_set)
    settled = settled_up(used.points[0], start)
    if found.settles_up is not None or not np.isfinite(settled).all():
        return found
    load = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    full, swing = balance_with_gas(load, gas_load(relief_of(surface), settled), bath_density, used.points[0])
    findings = (*found.findings, *cautions.gas_lift(full, swing))
    return replace(found, settles_up=settled, full=full, swing=swing, findings=findings)


def _box_volume(surface: Surface) -> float:
    """m3 of the box round the part, for want of its volume; a flat sheet counts as if it were a little thick."""
    sides = np.ptp(surface.bounds, axis=0)
    return float(np.maximum(sides, MIN_BOX_SIDE_OVER_LONGEST * sides.max()).prod())


def _deposit_load(surface: Surface, deposit: float, density: float) -> Load:
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
    keep[:wires] = off <= MAX_CONTACT_DISTANCE_M
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
