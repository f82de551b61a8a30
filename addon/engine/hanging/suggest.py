"""The hanging analysis: weigh the part, search the ways up, and suggest the best with their reasons."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity, spot
from ..geometry.frames import unit
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step, subrange
from ..settings.options import Hang
from ..settings.tank import Tank
from ..trapping.relief import relief_of
from ..units import MM
from . import cautions
from .balance import Load, settled_up
from .fit import Volume
from .hold import Spots, hold_on_wires
from .lift import balance_with_gas, gas_load
from .look import ExactEvaluator, thin_places
from .mass import Printed
from .rank import Placing, Ranking
from .result import Hanging
from .score import Swept, face_weights
from .search import Search
from .suggestion import Suggestion
from .weighed import Immersion, box_volume, weighed
from .why import with_hold

MAX_CONTACT_DISTANCE_M = 1.0 * MM  # a wire further than this from the surface does not touch it


@dataclass(frozen=True, eq=False)
class SearchRequest:
    """The request of a search: weights, tank, anodes and contacts.

    weights : what holds the part, and how much each cost counts against the others
    tank, anodes : (n, 2) level directions from the part to the anodes, in tank axes
    contacts : (k, 3) meters, where a wire may go, the likeliest first; the first `wires` of them are the job's own
    density : (m,) A/m2, the current distribution if there is one: thin places count more where they are spoilt
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
    """Weigh the part, find how it settles, and rank the ways up."""
    yield Step(0.0, "weighing the print")
    contacts, off_part = _touching(
        surface, tracer, np.asarray(wanted.contacts, dtype=float).reshape(-1, 3), wanted.wires
    )
    weighing = weighed(surface, tracer, printed, immersion, wanted.weights.hook, contacts)
    displaced = weighing.body.displaced if weighing.body is not None else box_volume(surface)
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
    ranking = Ranking(search, tried, looks, tracer, place, weighing.load)
    suggestions = ranking.suggestions()
    as_set = ranking.as_set()
    better = cautions.better_way_up(as_set, suggestions) if not wanted.free else []
    hung = suggestions[0] if wanted.free or as_set is None else as_set
    yield Step(0.95, "looking for two ways up in turn")
    return replace(
        weighing.hanging,
        suggestions=suggestions,
        pair=ranking.pair(),
        findings=(*weighing.unknown, *off_part, *weighing.hanging.findings, *better),
        as_set=as_set,
        fill_up=ranking.filled_by_tilting(hung.up),
        swept=len(tried.swept.relief.face) if tried.swept.fine is not None else None,
        sampling_error=tried.error,
    )


def on_wires(
    hanging: Hanging, surface: Surface, tracer: Tracer, used: Spots, hook: str, bath_density: float
) -> Hanging:
    """The result, updated once it is known where the wires touch the part.

    used : where, the first first; hook : what holds the part, as `hold.find` has it
    The part settles on the first. Where one, two or three of them keep the part as it hangs, they hold it.
    """
    start, body = hanging.start, hanging.body
    if start is None or body is None or not len(used.points) or start.floats:
        return hanging
    if hook != "rigid":

        def held(suggestion: Suggestion) -> Suggestion:
            hold = None if suggestion.hold is None else hold_on_wires(suggestion.up, start, surface, tracer, used)
            return suggestion if hold is None else with_hold(suggestion, hold)

        first, as_set = tuple(map(held, hanging.suggestions[:1])), hanging.as_set
        if as_set is not None:
            as_set = first[0] if first and as_set is hanging.suggestions[0] else held(as_set)
        hanging = replace(hanging, suggestions=(*first, *hanging.suggestions[1:]), as_set=as_set)
    settled = settled_up(used.points[0], start)
    if hanging.settles_up is not None or not np.isfinite(settled).all():
        return hanging
    load = Load(body.mass, body.centre, body.displaced, body.buoyancy)
    full, swing = balance_with_gas(load, gas_load(relief_of(surface), settled), bath_density, used.points[0])
    findings = (*hanging.findings, *cautions.gas_lift(full, swing))
    return replace(hanging, settles_up=settled, full=full, swing=swing, findings=findings)


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
    findings = [
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
    return contacts[keep], findings
