"""The search for the best way up: a sweep over the sphere, then closer looks round the best.

Each cost is a share without a unit, so that the weights mean the same on every part; the front of ways up
that no other beats in every cost is marked, and the ranking by weight is only one reading of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry import attitude
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.options import Hang
from ..trapping.relief import Relief
from .score import Scores, spoilt, sweep

EQUAL = 0.02  # of the largest principal moment: nearer ones count as equal
TIE = 0.03  # shares that differ by less cost the same: a facet more or less of a round part is no difference
BREAKS, NOISE = 1e-6, 1e-9  # share of the largest weight that breaks ties; shares that differ by less are equal
APART = np.radians(20)  # ways up nearer than this are one suggestion
DEPTH = 0.1  # of the volume of gas beside the surface that it keeps dry: the shallower of two pockets is the better
REFINE = (6.0, 2.0)  # degrees: rings of the closer looks


def costs(scores: Scores, plated: float, displaced: float) -> NDArray[np.float64]:
    """(k, 3) gas, undersides, held liquid as shares, rounded to what they are good for: what is equal ties exactly.

    plated : m2, each counted by what it is worth; displaced : m3 (the box where unknown)
    """
    gas = scores.dry_worth / plated + DEPTH * scores.trapped / displaced
    return _rounded(np.stack([gas, scores.underside_worth / plated, scores.held / displaced], axis=1))


def total(cost: NDArray[np.float64], weights: Hang) -> NDArray[np.float64]:
    """(k,) weighted sum of `costs`; what is not weighed still breaks ties, so that the cheapest is on the front."""
    weight = np.array([weights.gas, weights.underside, weights.held])
    return (cost * (weight + BREAKS * max(float(weight.max()), 1.0))).sum(axis=1)  # row by row: equal rows, equal sums


def cheapest(cost: NDArray[np.float64], up: NDArray[np.float64]) -> int:
    """The row that costs least; of equals the one whose way up (k, 3) is nearest to the model's own, then to its y, x.

    What the order of a sum or the number of threads leaves in the last bits thus decides nothing.
    """
    tied = np.flatnonzero(cost == cost.min())
    return int(tied[np.lexsort(-up[tied].T)[0]])


def _rounded(cost: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.round(cost / NOISE) * NOISE


def search(
    surface: Surface,
    relief: Relief,
    *,
    directions: int,
    displaced: float,
    weights: Hang,
    counts: NDArray[np.float64],
    own: NDArray[np.float64] | None = None,
) -> Progress[Scores]:
    """Every way up that was tried: `own`, `directions` over the sphere, the model's axes, and rings round the best.

    counts : (m,) of `score.worth`; own : (3,) unit, the way up that the job sets: it comes first
    """
    axes = np.eye(3)
    half = attitude.sphere(directions)
    first = np.zeros((0, 3)) if own is None else own[None]
    half = np.concatenate([first, half[: len(half) // 2], axes])
    ups = np.concatenate([half, -half])
    scores = yield from subrange(0.0, 0.8, sweep(surface, relief, ups, counts))
    plated = max(float(surface.plated_area @ counts), 1e-300)
    for k, angle in enumerate(REFINE):
        best = apart(scores, total(costs(scores, plated, displaced), weights), 4)
        ring = np.concatenate([attitude.around(scores.up[i], np.radians(angle)) for i in best])
        low = 0.8 + 0.2 * k / len(REFINE)
        ring = np.concatenate([ring, -ring])
        more = yield from subrange(low, low + 0.2 / len(REFINE), sweep(surface, relief, ring, counts))
        scores = scores.join(more)
    return scores


@dataclass(frozen=True, eq=False)
class Likeness:
    """Which ways up are one by the part's symmetry: they cost the same and lie the same to its principal axes.

    A round part has two equal moments, so all bearings about its axis are alike; of a part with three different
    moments the mirror images are. That the moments are equal does not make a shape round, so the costs must agree.

    place : (k, n) length of each way up along each principal axis, equal moments together; cost : (k, c)
    """

    place: NDArray[np.float64]
    cost: NDArray[np.float64]

    @classmethod
    def of(cls, surface: Surface, up: NDArray[np.float64], cost: NDArray[np.float64]) -> Likeness:
        value, axes = np.linalg.eigh(_second_moment(surface))
        group = np.concatenate([[0], np.cumsum(np.diff(value) > EQUAL * value[-1])])
        along = (up @ axes) ** 2
        return cls(np.sqrt(np.stack([along[:, group == g].sum(axis=1) for g in np.unique(group)], axis=1)), cost)

    def to(self, k: int) -> NDArray[np.bool_]:
        """(k,) the ways up that are alike to one of them, itself among them."""
        near = self.place @ self.place[k] > np.cos(APART)
        return near & (np.abs(self.cost - self.cost[k]) <= TIE + 0.1 * np.abs(self.cost[k])).all(axis=1)


def _second_moment(surface: Surface) -> NDArray[np.float64]:
    """(3, 3) of the wetted area about its centroid, exact for flat triangles."""
    area = surface.area * surface.wetted
    corners = surface.corners - area @ surface.centroid / area.sum()
    own = np.einsum("n,nki,nkj->ij", area, corners, corners)
    middle = corners.sum(axis=1)
    return (own + np.einsum("n,ni,nj->ij", area, middle, middle)) / 12


def apart(scores: Scores, cost: NDArray[np.float64], count: int, likeness: Likeness | None = None) -> list[int]:
    """The cheapest ways up, no two nearer to each other than `APART`, nor alike by symmetry if that is asked."""
    taken: list[int] = []
    left = np.ones(len(cost), dtype=bool)
    while left.any() and len(taken) < count:
        some = np.flatnonzero(left)
        k = int(some[cheapest(cost[some], scores.up[some])])
        taken.append(k)
        left &= scores.up @ scores.up[k] < np.cos(APART)
        if likeness is not None:
            left &= ~likeness.to(k)
    return taken


def front(cost: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(k,) whether no other row is as good in every cost and better in one (the Pareto front)."""
    cost = _rounded(cost)
    no_worse = (cost[:, None] <= cost[None]).all(axis=2)
    better = (cost[:, None] < cost[None]).any(axis=2)
    return ~(no_worse & better).any(axis=0)


def pair(
    surface: Surface,
    relief: Relief,
    scores: Scores,
    cost: NDArray[np.float64],
    counts: NDArray[np.float64],
    among: int = 24,
) -> tuple[int, int, float]:
    """Two ways up to swap at half time, and the plated area (m2) that both leave spoilt.

    The pair with the least area spoilt twice, each m2 at its worth; of equals, the one with the least spoilt once.
    counts : (m,) of `score.worth`
    """
    few = np.array(apart(scores, cost, among))
    share = np.stack([spoilt(surface, relief, scores.up[k]) for k in few])
    area = surface.plated_area * counts
    both = (share * area) @ share.T + 1e-6 * ((share @ area)[:, None] + (share @ area)[None])
    both = _rounded(both / max(float(area.sum()), 1e-300))  # of equals the first, which costs less by itself
    i, j = np.unravel_index(np.argmin(both + np.diag(np.full(len(few), np.inf))), both.shape)
    return int(few[i]), int(few[j]), float((share[i] * share[j]) @ surface.plated_area)
