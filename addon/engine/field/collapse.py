"""Edge collapses: which points slide along a short edge onto a neighbor, and an independent set of them.

Every point that slides takes its triangles with it; no two of a set are neighbors, so each triangle changes by at
most one corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..mesh.topology import Topology
from .quadric import Array, Ints, cost, lines

LINE = 0.1  # of how far the surface may move: how far a line may, so that what is plated keeps its outline
THIN = 0.12  # twice the area over the longest edge squared: not to be undercut unless it was so before
FOLD = 0.35  # cosine below which a triangle would have turned too far
SLOTS_AN_EDGE = 8  # of a table of edges: of eight that are none one is looked up

Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Start:
    """What a pass starts from.

    points : (v, 3) meters; triangles : (m, 3); label : (m,), lines between different ones are kept
    quadric : (11, v); size : (v,) meters, wanted length of edges
    near : (v,) m, how far a point may leave its planes; turn : number of the pass
    """

    points: Array
    triangles: NDArray[np.int32]
    label: Ints
    quadric: Array
    size: Array
    near: Array
    turn: int

    @cached_property
    def topology(self) -> Topology:
        """How the triangles meet."""
        return Topology.of(self.triangles, len(self.points))

    @cached_property
    def columns(self) -> Array:
        """(3, v) the points, each axis for itself."""
        return np.ascontiguousarray(self.points.T)

    @cached_property
    def slides(self) -> Slides:
        """Where points may go."""
        return Slides.of(self)

    @property
    def lot(self) -> Array:
        """(v,) 0 to 1, another order in every pass."""
        return np.modf(np.arange(1, len(self.points) + 1) * (0.6180339887 * self.turn))[0]


@dataclass(frozen=True, eq=False)
class Slides:
    """Along which edges points may slide.

    low, high : (e,) ends; square : (e,) m2, length squared; short, line : (e,) shorter than wanted; on a line that is
    kept; able, bound : (v,) at a short edge; on a line
    """

    low: Ints
    high: Ints
    square: Array
    short: Bools
    line: Bools
    able: Bools
    bound: Bools

    @classmethod
    def of(cls, start: Start) -> Slides:
        """All edges of what a pass starts from."""
        topology, size = start.topology, start.size
        low, high = (np.ascontiguousarray(end, dtype=np.intp) for end in topology.edges.T)
        x, y, z = (axis[high] - axis[low] for axis in start.columns)
        square = x * x + z * z + y * y
        short = square < np.minimum(size[low], size[high]) ** 2
        line = lines(start.label, topology)
        bound, able = np.zeros((2, len(size)), dtype=bool)
        bound[topology.edges[line]] = True
        able[low[short]] = able[high[short]] = True
        return cls(low, high, square, short, line, able, bound)

    def target(self, start: Start, goer: Bools, fixed: Bools) -> Ints:
        """(v,) the neighbor that costs each goer least, of those in `stays`; -1 where there is none."""
        low, high = self.low, self.high
        forward, back = goer[low] & fixed[high], goer[high] & fixed[low]
        edge = np.flatnonzero(self.short & (forward | back))
        ahead = forward[edge]
        a, b = np.where(ahead, low[edge], high[edge]), np.where(ahead, high[edge], low[edge])
        x, y, z = (axis[b] for axis in start.columns)
        price = cost(start.quadric, a, (x, y, z)) / (start.near[a] * np.where(self.bound[a], LINE, 1.0)) ** 2
        usable = np.flatnonzero((price <= 1.0) & (self.line[edge] | ~self.bound[a]))
        noise = 1.0 + np.modf(edge[usable] * (0.7548776662 * start.turn))[0]  # another target is tried in the next pass
        length = self.square[edge[usable]] / start.size[a[usable]] ** 2
        order = usable[np.argsort(-(length + price[usable]) * noise, kind="stable")]
        target = np.full(len(start.points), -1)
        target[a[order]] = b[order]  # the last write wins: the cheapest
        return target


def singly(start: Start) -> Ints:
    """(v,) where each point slides in a pass in which no neighbors do, most of them nowhere."""
    # the order changes with every pass, so that a blocked point does not block its neighbors for ever
    goer = independent(np.where(start.slides.able, start.lot, np.inf), start.topology)
    target = start.slides.target(start, goer, np.ones(len(start.points), dtype=bool))
    gone = _linked(start.topology, target)
    gone &= _unfolded(start, gone, target)
    return np.where(gone, target, np.arange(len(start.points)))


def independent(priority: Array, topology: Topology) -> Bools:
    """(v,) points lower than all their neighbors, twice over; no two of them are neighbors."""
    starts, ends = topology.neighbors
    used = np.flatnonzero(np.diff(starts))
    chosen = np.zeros(len(priority), dtype=bool)
    for _ in range(2):
        least = np.full(len(priority), np.inf)
        least[used] = np.minimum.reduceat(priority[ends], starts[used])
        fresh = priority < least
        chosen |= fresh
        near = np.zeros(len(priority), dtype=bool)
        near[used] = np.logical_or.reduceat(fresh[ends], starts[used])
        priority = np.where(fresh | near, np.inf, priority)
    return chosen


def _linked(topology: Topology, target: Ints) -> Bools:
    """(v,) which points may slide along their edge by the link condition: of the neighbors of both ends each makes a
    triangle with them, or two sheets would grow together, or a neck close (T. K. Dey et al., Publ. Inst. Math.
    (Beograd) 66 (1999) 23; from memory).

    target : (v,) -1 for those that stay
    """
    movers = np.flatnonzero(target >= 0)
    key = topology.edges[:, 0].astype(np.int64) * topology.points + topology.edges[:, 1]
    own = np.searchsorted(key, _keys(movers, target[movers], topology.points))
    dying = np.diff(topology.starts)[own]
    starts, ends = topology.neighbors
    count = np.diff(starts)[movers]
    flat = np.repeat(starts[movers] - np.cumsum(count) + count, count) + np.arange(count.sum())
    home = np.repeat(np.arange(len(movers)), count)
    wanted = _keys(ends[flat].astype(np.int64), target[movers][home], topology.points)
    # a hash table rules out most candidates and never misses an edge; only the others are looked up
    slots = max(SLOTS_AN_EDGE * len(key), 1) | 1
    table = np.zeros(slots, dtype=bool)
    table[key % slots] = True
    asked = np.flatnonzero(table[wanted % slots])
    at = np.minimum(np.searchsorted(key, wanted[asked]), len(key) - 1)
    common = np.bincount(home[asked[key[at] == wanted[asked]]], minlength=len(movers))
    out = np.zeros(topology.points, dtype=bool)
    out[movers] = common == dying
    return out


def _keys(first: Ints, second: Ints, points: int) -> Ints:
    """One number for each edge, as `Topology.edges` has them in rising order."""
    return np.minimum(first, second).astype(np.int64) * points + np.maximum(first, second)


def _unfolded(start: Start, gone: Bools, target: Ints) -> Bools:
    """(v,) which of the points can go without a triangle folding over or becoming a sliver."""
    rows, corner = np.nonzero(gone[start.triangles])
    goer, second, third = (start.triangles[rows, (corner + k) % 3].astype(np.intp) for k in range(3))
    to = target[goer]
    dies = (second == to) | (third == to)
    folding = spoiled(start.columns, (goer, second, third), (to, second, third))
    return np.bincount(goer[~dies & folding], minlength=len(gone)) == 0


def spoiled(columns: Array, before: tuple[Ints, Ints, Ints], after: tuple[Ints, Ints, Ints]) -> Bools:
    """(n,) which triangles fold over, or become slivers, by moving from corners `before` to corners `after`, (n,) each.

    columns : (3, v) the points, each axis for itself
    """
    (x, y, z, long, edge), (new_x, new_y, new_z, new_long, new_edge) = (_measured(columns, *c) for c in (before, after))
    folds = x * new_x + z * new_z + y * new_y < FOLD * long * new_long
    return folds | (
        (new_long < THIN * new_edge) & (new_long * edge < 0.5 * long * new_edge)
    )  # a sliver now, and less so before


def _measured(columns: Array, a: Ints, b: Ints, c: Ints) -> tuple[Array, Array, Array, Array, Array]:
    """Normals of triangles, twice the area long, each axis for itself, their lengths, and the longest edges squared."""
    ux, uy, uz = (axis[b] - axis[a] for axis in columns)
    vx, vy, vz = (axis[c] - axis[a] for axis in columns)
    wx, wy, wz = (axis[c] - axis[b] for axis in columns)
    x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    edge = np.maximum(ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz)
    return x, y, z, np.sqrt(x * x + z * z + y * y), np.maximum(edge, wx * wx + wy * wy + wz * wz)
