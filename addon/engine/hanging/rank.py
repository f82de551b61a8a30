"""Ranking: which of the ways up tried are suggested, in which order, and what holds each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry import attitude
from ..mesh.tracer import Tracer
from ..reasons import Reason, ReasonCode
from ..settings.tank import Tank
from ..trapping.bores import NEGLIGIBLE_AREA_SHARE, NEGLIGIBLE_VOLUME_M3
from ..trapping.relief import relief_of
from . import hold
from .balance import Balance, Load, balance, settled_up
from .fit import Fit, Volume, extreme_points, fit, yaw_of_show_faces
from .hold import MAX_HOLD_ANGLE_RAD, Hold
from .lift import MIN_SWING_RAD, balance_with_gas
from .look import ExactEvaluation, ExactEvaluator
from .score import spoilt
from .search import (
    COST_ROUNDING,
    MAX_COST_TIE,
    MAX_HOLD_CANDIDATES,
    MIN_SEPARATION_RAD,
    Search,
    SearchResult,
    SymmetryClasses,
    best_pair,
    cheapest,
    distinct,
    pareto_front,
    total,
)
from .suggestion import Pair, Suggestion
from .why import MIN_SPOILT_SHARE, comparison_reasons, spoilt_reasons, standing_reasons

MAX_SUGGESTIONS = 6  # ways up that are suggested
MAX_TILTINGS = 8  # ways up checked on the whole surface for one without gas
# as of `search.costs`
LEAST_COST_REASONS = (ReasonCode.LEAST_GAS, ReasonCode.LEAST_BUBBLES, ReasonCode.LEAST_CARRIED_OUT)
MIN_TURNING_GAIN = 0.005  # weighted cost that another way up must save to replace the job's own
# Of the plated surface that two positions in turn must save over a single one (common practice)
MIN_PAIR_GAIN_SHARE = 0.05


@dataclass(frozen=True, eq=False)
class Placing:
    """The surroundings of the part.

    contacts : (k, 3) meters, the likeliest first; bath_density : kg/m3
    anodes : (n, 2) level directions from the part to the anodes, in tank axes
    bath_volume : where the tank is still to be chosen, as for `fit.fit`
    """

    tank: Tank
    contacts: NDArray[np.float64]
    anodes: NDArray[np.float64]
    bath_density: float
    bath_volume: Volume | None = None


class Ranking:
    """Makes the suggestions from the ways up that were tried."""

    def __init__(
        self,
        search: Search,
        tried: SearchResult,
        looks: ExactEvaluator,
        tracer: Tracer,
        place: Placing,
        state: Load | None,
    ) -> None:
        """state : the part at the start, None where it has no volume"""
        self.search, self.all, self.looks, self.tracer, self.place = search, tried, looks, tracer, place
        self.surface, self.tried, self.load = search.surface, tried.scores, state
        self.own = None if search.own is None else 0
        self.hull = extreme_points(self.surface.points[np.unique(self.surface.triangles)])
        self.plated = max(float(self.surface.plated_area.sum()), 1e-300)
        self.cost = search.costs(tried.scores)
        self.total = total(self.cost, search.weights)
        self.front = pareto_front(self.cost)
        self.classes = SymmetryClasses.of(self.surface, self.tried.up, self.cost)
        self.start = balance([state], place.bath_density) if state is not None else None
        held = [settled_up(point, self.start) for point in place.contacts] if self.start is not None else []
        self.settled = np.array(held).reshape(-1, 3)
        self.spots = hold.sample_spots(self.surface)

    def suggestions(self) -> tuple[Suggestion, ...]:
        """The best, those that fit the tank first; of ways up that are alike by symmetry only one.

        Whatever the weights: where another way up does clearly better in a single cost, the best at that is among them.
        """
        few = [(k, self._suggestion(k)) for k in self._apart()]
        few = sorted(self._with_own(few), key=self._order)[:MAX_SUGGESTIONS]
        extremes: list[tuple[int, Suggestion]] = []
        for cost in range(len(LEAST_COST_REASONS)):
            extreme = self._extreme(cost, [k for k, _ in (*few[: MAX_SUGGESTIONS - len(extremes)], *extremes)])
            if extreme is not None:
                extremes.append(extreme)
        few = sorted([*few[: MAX_SUGGESTIONS - len(extremes)], *extremes], key=self._order)
        offered = [suggestion for _, suggestion in few]
        after: Sequence[Suggestion | None] = [*offered[1:], None]
        part = self.plated, self.search.displaced
        return tuple(
            way if other is None else replace(way, reasons=(*way.reasons, *comparison_reasons(way, other, *part)))
            for way, other in zip(offered, after, strict=True)
        )

    def _apart(self) -> list[int]:
        return distinct(self.tried, self.total, MAX_HOLD_CANDIDATES, self.classes, self.all.exact)

    def as_set(self) -> Suggestion | None:
        """The way up that the job sets; None where it was not tried."""
        return None if self.own is None else self._suggestion(self.own)

    def filled_by_tilting(self, up: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """(3,) the way up nearest to this one in which the part takes no gas along.

        None where it takes no gas this way up, or takes some in every way up tried.
        """
        near = self.tried.up @ up
        free = self._gas_free(self.tried.trapped, self.tried.dry)
        if not free.any() or free[near > np.cos(MIN_SWING_RAD)].any():
            return None
        nearest_first = np.argsort(np.where(free, -near, np.inf), kind="stable")[: min(int(free.sum()), MAX_TILTINGS)]
        for k in nearest_first:
            if self.all.exact[k] or self._gas_free(*self.looks.at(self.tried.up[k]).row[:2]):
                return self.tried.up[k]
        return None

    def _gas_free(self, trapped: ArrayLike, dry: ArrayLike) -> NDArray[np.bool_]:
        """Whether a gas volume (m3) and the area that it keeps dry (m2) are negligible."""
        return (np.asarray(trapped) < NEGLIGIBLE_VOLUME_M3) & (np.asarray(dry) < NEGLIGIBLE_AREA_SHARE * self.plated)

    def _with_own(self, few: list[tuple[int, Suggestion]]) -> list[tuple[int, Suggestion]]:
        """The suggestions with the job's own way up in place of its equivalents, unless another is better by more
        than MIN_SAVED_COST."""
        if self.own is None:
            return few
        own = self._suggestion(self.own)
        best = min(few, key=self._order)[1]
        if (best.fits and not own.fits) or own.cost > best.cost + MIN_TURNING_GAIN:
            return few
        up = self.tried.up
        alike = self.classes.to(self.own) | (up @ own.up > np.cos(MIN_SEPARATION_RAD))
        return [(self.own, own), *((k, suggestion) for k, suggestion in few if not alike[k])]

    def _order(self, ranked: tuple[int, Suggestion]) -> tuple[bool, float, tuple[float, ...]]:
        """The order by cost, with a small advantage for the job's own way up; ties as in `search.cheapest`."""
        k, suggestion = ranked
        cost = suggestion.cost - (MIN_TURNING_GAIN if k == self.own else 0.0)
        return not suggestion.fits, round(cost / COST_ROUNDING), tuple(-suggestion.up[::-1])

    def _extreme(self, cost: int, few: list[int]) -> tuple[int, Suggestion] | None:
        """The way up that costs least in one respect, if it is clearly better at that than these few."""
        column = np.where(self.all.exact, self.cost[:, cost], np.inf)
        if column[few].min() - column.min() <= MAX_COST_TIE:
            return None
        least = np.flatnonzero(column <= column.min() + 1e-9)
        k = int(least[cheapest(self.total[least], self.tried.up[least])])
        suggestion = self._suggestion(k)
        return k, replace(suggestion, reasons=(Reason(LEAST_COST_REASONS[cost]), *suggestion.reasons))

    def pair(self) -> Pair | None:
        """Two ways up to swap at half time; None where a single one frees every face."""
        best = cheapest(np.where(self.all.exact, self.total, np.inf), self.tried.up)
        if self.tried.dry[best] + self.tried.underside[best] < MIN_SPOILT_SHARE * self.plated:
            return None
        i, j = best_pair(self.search, self.all)
        shares = [spoilt(self.surface, relief_of(self.surface), self.tried.up[k]) for k in (i, j)]
        missed = float((shares[0] * shares[1]) @ self.surface.plated_area)
        gain = float(self.tried.dry[best] + self.tried.underside[best]) - missed
        return Pair(self._suggestion(i), self._suggestion(j), missed, gain, gain >= MIN_PAIR_GAIN_SHARE * self.plated)

    def _suggestion(self, k: int) -> Suggestion:
        up = self.tried.up[k]
        trapped, dry, underside, held = self._costs(k)
        shown = yaw_of_show_faces(self.surface, up, self.place.anodes)
        choice = self.place.bath_volume
        prefer = shown[0] if shown is not None else None if choice is not None else 0.0
        room = fit(self.hull, up, self.place.tank, prefer, choice)
        if shown is not None and room.yaw != shown[0]:
            shown = None  # the tank leaves no choice
        held_by = None if self.start is None else self._hold(up)
        contact = held_by.points[0] if held_by is not None and held_by.wires == 1 and not held_by.tether else None
        look = self.looks.at(up)
        full, swing = self._filled(look, contact)
        facing = None if shown is None else shown[1]
        suggestion = Suggestion(
            up=up,
            euler=attitude.euler(attitude.about(room.yaw) @ attitude.turn_up(up)),
            trapped=trapped,
            dry=dry,
            underside=underside,
            held=held,
            fits=room.fits,
            slack=room.slack,
            contact=contact,
            best=bool(self.front[k]),
            hold=held_by,
            facing=facing,
            net_full=None if full is None else full.net,
            swing=swing,
            cost=float(self.total[k]) + self._further(held_by, facing),
            turn=room.yaw,
            visible_spoilt=look.visible_spoilt,
            thin_spoilt=look.thin_spoilt,
        )
        return replace(suggestion, reasons=self._reasons(k, suggestion, room, full))

    def _reasons(self, k: int, suggestion: Suggestion, room: Fit, full: Balance | None) -> tuple[Reason, ...]:
        """Why a way up stands where it does."""
        lifted = full is not None and full.floats and self.start is not None and not self.start.floats
        apart = self.tried.up @ suggestion.up < np.cos(MIN_SEPARATION_RAD)
        alike = bool((self.classes.to(k) & apart).any())
        return (
            *spoilt_reasons(suggestion, self.plated, floats_while_full=lifted),
            *standing_reasons(suggestion, room, self.place.tank, self.search.weights.hook),
            *((Reason(ReasonCode.ALIKE),) if alike else ()),
        )

    def _costs(self, k: int) -> tuple[float, float, float, float]:
        """Gas (m3), what it keeps dry and level undersides (m2), liquid held (m3), on the whole surface."""
        tried = self.tried
        if self.all.exact[k]:
            return float(tried.trapped[k]), float(tried.dry[k]), float(tried.underside[k]), float(tried.held[k])
        row, held = self.looks.at(tried.up[k]).row, self.looks.at(-tried.up[k]).row[0]
        return float(row[0]), float(row[1]), float(row[3]), float(held)

    def _further(self, hold: Hold | None, facing: float | None) -> float:
        """The weighted costs that are not part of the sweep."""
        away = 1.0 - facing if facing is not None else float(self.surface.show.any() and len(self.place.anodes) > 0)
        mark = loose = 0.0
        if hold is not None:
            mark = float(hold.show)
            wired = {"one wire": (1.0, 0.0, 0.5), "two wires": (1.0, 0.0, 0.0), "rigid": (0.0, 0.0, 0.0)}
            loose = wired[self.search.weights.hook][hold.wires]
        return self.search.weights.show * away + self.search.weights.mark * mark + self.search.weights.hold * loose

    def _hold(self, up: NDArray[np.float64]) -> Hold:
        """One of the given contacts, if the part hangs this way on it; otherwise one from the surface."""
        assert self.start is not None
        if len(self.settled) and self.search.weights.hook != "rigid":
            near = np.where(np.isfinite(self.settled[:, 0]), self.settled @ up, -1.0)
            best = int(np.argmax(near))
            if near[best] > np.cos(MAX_HOLD_ANGLE_RAD):
                return Hold(1, self.place.contacts[[best]], False)
        return hold.find(up, self.start, self.surface, self.tracer, self.spots, self.search.weights.hook)

    def _filled(
        self, look: ExactEvaluation, contact: NDArray[np.float64] | None
    ) -> tuple[Balance | None, float | None]:
        """The net load while the pockets are full, and how far that turns the part on its wire."""
        return (
            (None, None)
            if self.load is None
            else balance_with_gas(self.load, look.gas, self.place.bath_density, contact)
        )
