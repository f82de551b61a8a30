"""A coarser closed surface for a search over many directions: neighboring points drawn together into one.

Every point either stays or is drawn onto a neighbor that stays, along an edge of the surface, so the two sides of a
thin wall or gap never become one. Such a map takes a closed surface to a closed one (it is simplicial: boundaries go
to boundaries), so volumes below a level keep their meaning. Points where the surface bends stay first. Stars about an
independent set of points: aggregation as in algebraic multigrid (P. Vanek, J. Mandel, M. Brezina, Computing 56 (1996)
179, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.triangles import measure
from ..mesh.nonmanifold import separate
from ..mesh.topology import Topology
from .relief import Relief, pick

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

EDGE_OVER_ROOT_AREA = 1.5  # of an even triangle: 2 / 3^(1/4)
MAX_EDGE_GROWTH = 1.25  # of the edges that are collapsed, where too few are short enough
MAX_AGGREGATION_ROUNDS = 40
INDEPENDENT_ROUNDS = 3  # of a search for points that stay: nearly all then have one beside them
FLATNESS_STEPS = 12  # random order among points of equal curvature
OFF_PLANE_WEIGHT = 30.0  # of the distance from a point's own tangent plane beside that along it, both squared


@dataclass(frozen=True, eq=False)
class AggregatedRelief:
    """relief : the coarser surface; its `face` is -1 on patches and one of the part's triangles elsewhere
    cluster : (v,) the point of it that each point of the finer surface was drawn onto; the number of its points for
        those of bodies that have vanished
    """

    fine: Relief
    relief: Relief
    cluster: Ints

    def areas(self, amount: Array) -> Array:
        """(t,) of an amount on the finer surface's triangles, (t',), that on its own. The sum stays."""
        count = len(self.relief.points)
        at_points = np.zeros(count + 1)
        for corner in self.fine.corners:
            at_points += np.bincount(self.cluster[corner], amount / 3.0, count + 1)
        own = _to_points(self.relief, self.relief.area, count)
        density = np.divide(at_points[:count], own, out=np.zeros(count), where=own > 0)
        a, b, c = self.relief.corners
        per_triangle = (density[a] + density[b] + density[c]) / 3.0 * self.relief.area
        return per_triangle * (float(amount.sum()) / max(float(per_triangle.sum()), 1e-300))


def aggregated(relief: Relief, max_triangles: int) -> AggregatedRelief:
    """The surface in at most about `most` triangles. Linear in triangles but for sorts of edges.

    Not for sheets whose two sides lie at one place: these would come apart (`has_sheets`).
    """
    points = np.ascontiguousarray(relief.points)
    corners, origin = np.stack(relief.corners, axis=1), np.arange(len(relief.face))
    cluster = np.arange(len(points))
    longest = EDGE_OVER_ROOT_AREA * float(np.sqrt(max(float(relief.area.sum()), 1e-300) / max_triangles))
    for turn in range(MAX_AGGREGATION_ROUNDS):
        if len(corners) <= max_triangles:
            break
        target = _aggregation_targets(points, corners, longest, turn)
        before = len(corners)
        cluster = target[cluster]
        corners = target[corners]
        surviving = _surviving_triangles(corners)
        corners, origin = corners[surviving], origin[surviving]
        if len(corners) > 0.9 * before:
            longest *= MAX_EDGE_GROWTH
    coarse, number = _relief(relief, points, corners, origin)
    return AggregatedRelief(relief, coarse, number[cluster])


def has_sheets(relief: Relief) -> bool:
    """Whether a triangle of the part stands in it twice: with its back."""
    return bool(len(relief.face)) and int(np.bincount(relief.face[relief.face >= 0], minlength=1).max()) > 1


def _aggregation_targets(points: Array, corners: Ints, longest: float, turn: int) -> Ints:
    """(v,) the point that each one is drawn onto along an edge shorter than `longest` (m); itself where it stays."""
    a, b, c = corners.T
    low = np.concatenate([a, b, c])
    high = np.concatenate([b, c, a])
    once = np.flatnonzero(low < high)  # on a closed surface an edge runs as often one way as the other
    low, high = low[once], high[once]
    gap = points[high] - points[low]
    square = np.einsum("ij,ij->i", gap, gap)
    short = square < longest**2
    low, high, gap, square = low[short], high[short], gap[short], square[short]
    normal, flatness = _normal_and_flatness(points, corners)
    lot = np.modf(np.arange(1, len(points) + 1) * (0.6180339887 * (turn + 1)))[0]
    fixed = _independent_set(np.floor(flatness * FLATNESS_STEPS) + 0.999 * lot, low, high)
    forward, back = fixed[low] & ~fixed[high], fixed[high] & ~fixed[low]
    to = np.concatenate([low[forward], high[back]])
    start = np.concatenate([high[forward], low[back]])
    way = np.concatenate([gap[forward], gap[back]])
    off = np.einsum("ij,ij->i", way, normal[start]) ** 2
    cost = np.concatenate([square[forward], square[back]]) + OFF_PLANE_WEIGHT * off
    target = np.arange(len(points))
    dearest_first = np.argsort(-cost, kind="stable")
    target[start[dearest_first]] = to[dearest_first]  # the last write wins: the cheapest
    return target


def _normal_and_flatness(points: Array, corners: Ints) -> tuple[Array, Array]:
    """Unit normal (v, 3) at each point, and how flat the surface is there, (v,) 0 to 1."""
    area, normal, _ = measure(points, corners.astype(np.int32))
    vector = normal * area[:, None]
    count = len(points)
    whole = sum(np.bincount(corner, area, count) for corner in corners.T)
    total = np.stack(
        [sum(np.bincount(corner, axis, count) for corner in corners.T) for axis in vector.T],
        axis=1,
    )
    length = np.sqrt(np.einsum("ij,ij->i", total, total))
    return total / np.maximum(length, 1e-300)[:, None], np.minimum(length / np.maximum(whole, 1e-300), 1.0)


def _independent_set(priority: Array, low: Ints, high: Ints) -> NDArray[np.bool_]:
    """(v,) points of least priority among their neighbors, again and again among what is left beside none of these."""
    chosen = np.zeros(len(priority), dtype=bool)
    left = priority.copy()
    for _ in range(INDEPENDENT_ROUNDS):
        least = np.full(len(left), np.inf)
        np.minimum.at(least, low, left[high])
        np.minimum.at(least, high, left[low])
        fresh = left < least
        near = fresh.copy()
        near[low[fresh[high]]] = True
        near[high[fresh[low]]] = True
        chosen |= fresh
        left[near] = np.inf
    return chosen


def _surviving_triangles(corners: Ints) -> Ints:
    """Triangles that still have three corners, without pairs of them that lie back to back."""
    a, b, c = corners.T
    surviving = np.flatnonzero((a != b) & (b != c) & (c != a))
    rows = np.sort(corners[surviving], axis=1)
    order = np.lexsort(rows.T)
    rows = rows[order]
    same = (rows[1:] == rows[:-1]).all(axis=1)
    if not same.any():
        return surviving
    a, b, c = corners[surviving].T
    even = ((a < b).astype(int) + (b < c) + (c < a)) == 2
    group = np.concatenate([[0], np.cumsum(~same)])
    way = np.where(even, 1, -1)[order]
    excess = np.bincount(group, way).astype(int)[group]
    # of the triangles in the excess direction, as many as are surplus
    open_faces = np.flatnonzero(excess * way > 0)
    first = np.searchsorted(group[open_faces], group[open_faces])
    open_faces = open_faces[np.arange(len(open_faces)) - first < np.abs(excess[open_faces])]
    return np.sort(surviving[order[open_faces]])


def _relief(relief: Relief, points: Array, corners: Ints, origin: Ints) -> tuple[Relief, Ints]:
    """The coarser surface, and the place in it of each point that is still used; their number where it is not."""
    used = np.zeros(len(points), dtype=bool)
    used[corners] = True
    number = np.where(used, np.cumsum(used) - 1, len(points))
    place = relief.place[used]
    points, triangles = points[used], number[corners].astype(np.int32)
    topology = Topology.of(triangles, len(points))
    if len(topology.non_manifold_edges):
        triangles, first = separate(points, triangles, topology)
        back = np.zeros(len(points), dtype=np.intp)
        back[first] = np.arange(len(first))
        number = np.where(number < len(back), back[np.minimum(number, len(back) - 1)], len(first))
        points, place = points[first], place[first]
    number = np.minimum(number, len(points))
    area, normal, _ = measure(points, triangles)
    a, b, c = (np.ascontiguousarray(column, dtype=np.intp) for column in triangles.T)
    halves = [(start, end, np.flatnonzero(start < end)) for start, end in ((a, b), (b, c), (c, a))]
    aggregated_relief = Relief(
        points=np.asfortranarray(points),
        corners=(a, b, c),
        face=relief.face[origin],
        edges=(
            np.concatenate([pick(start, once) for start, _, once in halves]),
            np.concatenate([pick(end, once) for _, end, once in halves]),
        ),
        place=place,
        vector=(normal.T * area).T,
        size=relief.size,
    )
    return aggregated_relief, number


def _to_points(relief: Relief, amount: Array, count: int) -> Array:
    """(count,) amounts on triangles, a third to each corner."""
    total = np.zeros(count)
    for corner in relief.corners:
        total += np.bincount(corner, amount / 3.0, count)
    return total
