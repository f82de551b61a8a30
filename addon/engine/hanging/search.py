"""The search for the best way up: a sweep over the sphere, then refinement around the best.

Each cost is a dimensionless share, so that the weights mean the same on every part. The Pareto front is marked; the
ranking by weights is one reading of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ..geometry import attitude
from ..mesh.surface import Surface
from ..progress import Progress, Step, subrange
from ..settings.options import Hang
from ..trapping.basins import find_basins
from ..trapping.gas import MAX_LEVEL_ANGLE_RAD
from ..trapping.pockets import fill
from ..trapping.relief import along
from .look import ExactEvaluator
from .score import MAX_FULL_SWEEP_TRIANGLES, Scores, Swept, sweep_over

MAX_EQUAL_MOMENT_GAP = 0.02  # of the largest principal moment: nearer ones count as equal
MAX_COST_TIE = 0.03  # shares that differ by less count as equal: one facet of a round part makes no difference
TIE_BREAK_WEIGHT = 1e-6  # of the largest weight, to break ties
COST_ROUNDING = 1e-9  # shares that differ by less are equal
MIN_SEPARATION_RAD = np.radians(20)  # rad: ways up closer than this are one suggestion
# Of the volume of gas beside the surface that it keeps dry: the shallower of two pockets is the better
GAS_VOLUME_WEIGHT = 0.1
REFINEMENT_RINGS_DEG = (6.0, 2.0)  # degrees: rings of the closer looks
MAX_HOLD_CANDIDATES = 18  # ways up for which holds are computed
MAX_EXACT_PER_ROUND = 10  # distinct ways up evaluated on the whole surface in each round
# Rounds on the whole surface; the second corrects for the aggregated surface's error found in the first
EXACT_ROUNDS = 2
MAX_PAIR_CANDIDATES = 24  # ways up that are combined in pairs


def costs(scores: Scores, plated: float, displaced: float) -> NDArray[np.float64]:
    """(k, 3) gas, undersides, held liquid as shares, rounded to their accuracy, so that equal ways up tie exactly.

    plated : m2, weighted; displaced : m3 (the box where unknown)
    """
    gas = scores.dry_weighted / plated + GAS_VOLUME_WEIGHT * scores.trapped / displaced
    return _rounded_cost(np.stack([gas, scores.underside_weighted / plated, scores.held / displaced], axis=1))


def total(cost: NDArray[np.float64], weights: Hang) -> NDArray[np.float64]:
    """(k,) weighted sum of `costs`; costs of zero weight still break ties, so that the cheapest is on the Pareto
    front."""
    weight = np.array([weights.gas, weights.underside, weights.held])
    return (cost * (weight + TIE_BREAK_WEIGHT * max(float(weight.max()), 1.0))).sum(
        axis=1
    )  # row by row: equal rows, equal sums


def cheapest(cost: NDArray[np.float64], up: NDArray[np.float64]) -> int:
    """The row that costs least; of equals the one whose way up (k, 3) is nearest to the model's own, then to its y, x.

    Rounding from the order of a sum or the number of threads thus decides nothing.
    """
    tied = np.flatnonzero(cost == cost.min())
    return int(tied[np.lexsort(-up[tied].T)[0]])


def _rounded_cost(cost: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.round(cost / COST_ROUNDING) * COST_ROUNDING


@dataclass(frozen=True, eq=False)
class SearchResult:
    """Every way up that was tried.

    scores : what each costs; opposite : (k,) the row of each one's opposite
    exact : (k,) whether a row is of the whole surface; the others are of the aggregated one `swept`, less what these
        were off by on average
    error : share of the plated surface by which gas and undersides of the aggregated surface are off, root mean square
        over the ways up that were looked at on both; 0 where all are exact
    """

    scores: Scores
    swept: Swept
    opposite: NDArray[np.intp]
    exact: NDArray[np.bool_]
    error: float = 0.0


@dataclass(frozen=True, eq=False)
class Search:
    """The search for the best ways up of one part, by given weights.

    whole : the surface with its areas at their worth; displaced : m3; weights : of the costs
    own : (3,) unit, the way up that the job sets: it comes first
    """

    surface: Surface
    whole: Swept
    displaced: float
    weights: Hang
    own: NDArray[np.float64] | None = None

    def costs(self, scores: Scores) -> NDArray[np.float64]:
        """(k, 3) as the function `costs`, on this part."""
        return costs(scores, max(float(self.whole.areas[1].sum()), 1e-300), self.displaced)

    def total(self, scores: Scores) -> NDArray[np.float64]:
        """(k,) as the function `total`, by the weights of this search."""
        return total(self.costs(scores), self.weights)

    def run(self, directions: int, looks: ExactEvaluator) -> Progress[SearchResult]:
        """`own`, `directions` over the sphere, the model's axes, and rings round the best.

        Large surfaces are aggregated first; the best ways up are then evaluated on the whole surface.
        """
        axes = np.eye(3)
        half = attitude.sphere(directions)
        first = np.zeros((0, 3)) if self.own is None else self.own[None]
        half = np.concatenate([first, half[: len(half) // 2], axes])
        is_large = len(self.whole.relief.face) > MAX_FULL_SWEEP_TRIANGLES
        swept = self.whole.aggregated() if is_large else self.whole
        scores = yield from subrange(0.0, 0.6, sweep_over(swept, np.concatenate([half, -half])))
        opposite = _opposites(len(half))
        for k, angle in enumerate(REFINEMENT_RINGS_DEG):
            best = distinct(scores, self.total(scores), 4)
            ring = np.concatenate([attitude.around(scores.up[i], np.radians(angle)) for i in best])
            low = 0.6 + 0.2 * k / len(REFINEMENT_RINGS_DEG)
            opposite = np.concatenate([opposite, len(opposite) + _opposites(len(ring))])
            ring = np.concatenate([ring, -ring])
            more = yield from subrange(low, low + 0.2 / len(REFINEMENT_RINGS_DEG), sweep_over(swept, ring))
            scores = scores.join(more)
        if swept.fine is None:
            return SearchResult(scores, swept, opposite, np.ones(len(opposite), dtype=bool))
        rough = SearchResult(scores, swept, opposite, np.zeros(len(opposite), dtype=bool))
        return (yield from subrange(0.8, 1.0, self._looked_at(rough, looks)))

    def _looked_at(self, tried: SearchResult, looks: ExactEvaluator) -> Progress[SearchResult]:
        """The result with candidate ways up evaluated on the whole surface."""
        rough = np.stack([getattr(tried.scores, name) for name in _EXACT_COLUMNS], axis=1)
        rows, exact = rough.copy(), tried.exact.copy()
        for turn in range(EXACT_ROUNDS):
            chosen = np.unique(self._choice(_scores(tried, rows)))
            chosen = np.unique(np.concatenate([chosen, tried.opposite[chosen]]))
            for number, k in enumerate(chosen[~exact[chosen]]):
                rows[k] = looks.at(tried.scores.up[k]).row
                exact[k] = True
                yield Step((turn + number / len(chosen)) / EXACT_ROUNDS, "looking closer at the best ways up")
            off = (rows - rough)[exact]
            rows[~exact] = np.maximum(rough[~exact] + off.mean(axis=0), 0.0)
        off = off - off.mean(axis=0)
        error = np.sqrt(np.mean((off[:, 1] + off[:, 3]) ** 2)) / max(float(self.whole.areas[0].sum()), 1e-300)
        return SearchResult(_scores(tried, rows), tried.swept, tried.opposite, exact, float(error))

    def _choice(self, scores: Scores) -> list[int]:
        """Candidate rows: the cheapest distinct ones, the best at each cost, and the job's own."""
        cost = self.costs(scores)
        whole = total(cost, self.weights)
        few = distinct(scores, whole, MAX_EXACT_PER_ROUND, SymmetryClasses.of(self.surface, scores.up, cost))
        for column in cost.T:
            least = np.flatnonzero(column <= column.min() + COST_ROUNDING)
            few.append(int(least[cheapest(whole[least], scores.up[least])]))
        return [*few, cheapest(whole, scores.up), *([] if self.own is None else [0])]


_EXACT_COLUMNS = ("trapped", "dry", "dry_weighted", "underside", "underside_weighted")


def _scores(tried: SearchResult, rows: NDArray[np.float64]) -> Scores:
    columns = dict(zip(_EXACT_COLUMNS, rows.T, strict=True))
    return Scores(up=tried.scores.up, held=rows[tried.opposite, 0], **columns)


def _opposites(half: int) -> NDArray[np.intp]:
    """The rows of opposites for ways up followed by as many opposites."""
    return np.roll(np.arange(2 * half), half)


_MOMENTS: WeakKeyDictionary[Surface, NDArray[np.float64]] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False)
class SymmetryClasses:
    """Which ways up are equivalent by the part's symmetry: equal costs, and equal position relative to its principal
    axes.

    A round part has two equal moments, so all bearings about its axis are alike; of a part with three different
    moments the mirror images are. That the moments are equal does not make a shape round, so the costs must agree.

    place : (k, n) length of each way up along each principal axis, equal moments together; cost : (k, c)
    """

    place: NDArray[np.float64]
    cost: NDArray[np.float64]

    @classmethod
    def of(cls, surface: Surface, up: NDArray[np.float64], cost: NDArray[np.float64]) -> SymmetryClasses:
        """Classes by the second moments of the surface: `up` (k, 3) unit, `cost` (k, 3) as of `costs`."""
        if surface not in _MOMENTS:
            _MOMENTS[surface] = _second_moment(surface)
        value, axes = np.linalg.eigh(_MOMENTS[surface])
        group = np.concatenate([[0], np.cumsum(np.diff(value) > MAX_EQUAL_MOMENT_GAP * value[-1])])
        along = (up @ axes) ** 2
        return cls(np.sqrt(np.stack([along[:, group == g].sum(axis=1) for g in np.unique(group)], axis=1)), cost)

    def to(self, k: int) -> NDArray[np.bool_]:
        """(k,) the ways up that are alike to one of them, itself among them."""
        near = self.place @ self.place[k] > np.cos(MIN_SEPARATION_RAD)
        return near & (np.abs(self.cost - self.cost[k]) <= MAX_COST_TIE + 0.1 * np.abs(self.cost[k])).all(axis=1)


def _second_moment(surface: Surface) -> NDArray[np.float64]:
    """(3, 3) m4, second moment of the wetted area about its centroid; exact for flat triangles."""
    area = surface.area * surface.wetted
    corners = surface.corners - area @ surface.centroid / area.sum()
    places = np.concatenate([*corners.transpose(1, 0, 2), corners.sum(axis=1)])
    return (places * np.tile(area, 4)[:, None]).T @ places / 12


def distinct(
    scores: Scores,
    cost: NDArray[np.float64],
    count: int,
    classes: SymmetryClasses | None = None,
    among: NDArray[np.bool_] | None = None,
) -> list[int]:
    """The cheapest ways up, no two nearer to each other than `MIN_SEPARATION_RAD`, nor alike by symmetry where asked.

    among : (k,) of which they are taken; None: of all
    """
    chosen: list[int] = []
    left = np.ones(len(cost), dtype=bool) if among is None else among.copy()
    while left.any() and len(chosen) < count:
        remaining = np.flatnonzero(left)
        k = int(remaining[cheapest(cost[remaining], scores.up[remaining])])
        chosen.append(k)
        left &= scores.up @ scores.up[k] < np.cos(MIN_SEPARATION_RAD)
        if classes is not None:
            left &= ~classes.to(k)
    return chosen


def pareto_front(cost: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(k,) whether no other row is as good in every cost and better in one (the Pareto front)."""
    cost = _rounded_cost(cost)
    no_worse = (cost[:, None] <= cost[None]).all(axis=2)
    better = (cost[:, None] < cost[None]).any(axis=2)
    return ~(no_worse & better).any(axis=0)


def best_pair(search: Search, tried: SearchResult) -> tuple[int, int]:
    """Two ways up to swap at half time: those with the least area that both leave spoilt, each m2 at its worth; of
    equals, those with the least spoilt once."""
    swept = tried.swept
    area, weighted = swept.areas
    few = np.array(distinct(tried.scores, search.total(tried.scores), MAX_PAIR_CANDIDATES))
    share = np.stack([_spoilt_share(swept, tried.scores.up[k]) for k in few])
    both = (share * weighted) @ share.T + 1e-6 * ((share @ weighted)[:, None] + (share @ weighted)[None])
    both = _rounded_cost(both / max(float(weighted.sum()), 1e-300))  # of equals the first, which costs less alone
    i, j = np.unravel_index(np.argmin(both + np.diag(np.full(len(few), np.inf))), both.shape)
    return int(few[i]), int(few[j])


def _spoilt_share(swept: Swept, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """(t,) of each triangle of the surface that is swept."""
    relief = swept.relief
    filling = fill(relief, find_basins(relief, up))
    share = np.clip(np.bincount(filling.triangle, filling.share, len(relief.face)), 0.0, 1.0)
    return np.where(along(relief.vector, up) < -np.cos(MAX_LEVEL_ANGLE_RAD) * relief.area, 1.0, share)
