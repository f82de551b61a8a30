"""A coarser surface for panels: short edges collapsed where the shape allows it.

Each pass removes a set of points no two of which are neighbors, each by sliding it onto the neighbor that
costs least, so every triangle changes by one corner at most and a whole pass is a few array operations. The
cost is the mean squared distance of the new corner from the planes that the old one stood for (M. Garland and
P. S. Heckbert, Proc. SIGGRAPH 97, 209: quadric error; from memory). Points only ever move onto points of the
original, so a plane stays a plane and a sharp edge stays sharp.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..mesh.topology import Topology
from ..progress import Progress, Step

Array = NDArray[np.float64]
Ints = NDArray[np.integer]

# of the wanted size: how far the surface may move. A hole that gets narrower lets less down: with twice as much, the
# lowest density in a blind hole differed by a fifth between triangulations at 3,000 panels, with this by 3 %
MAX_SURFACE_SHIFT_SHARE = 0.02
LINE = 0.1  # of that: how far a line may, so that what is plated keeps its outline
THIN = 0.12  # twice the area over the longest edge squared: not to be undercut unless it was so before
LEVEL = 0.97  # cosine between triangles that count as one plane for a flip
FOLD = 0.35  # cosine below which a triangle would have turned too far
STARS_OVER_WANTED = 3.0  # triangles left over those wanted, from which on whole stars are collapsed at once
MAX_TRIANGLES_A_POINT = 1.5  # where there are fewer, points that none uses are laid aside; a closed surface has two
# of the triangles, that a pass leaves: where more are left its sizes are done with. Of stars; of single edges, with
# more triangles than wanted or not
MAX_STARS_LEFT, MAX_CROWD_LEFT, MAX_LEFT = 0.8, 0.93, 0.99
MAX_FLAT = 0.5  # of the wanted size, from which on the surface is given no more room to move
MIN_FLIP_GAIN = -1e-3  # sum of the cotangents across from an edge, below which it is flipped
SLOTS_AN_EDGE = 8  # of a table of edges: of eight that are none one is looked up
TINY_M2 = 1e-30  # twice the area of a triangle that has no plane
MAX_REVERTS = 4  # rounds in which stars that do not fit each other are taken back


@dataclass(frozen=True, eq=False)
class Coarse:
    """triangles : (k, 3) into the same points as before; origin : (k,) the row that each one was
    place : (v,) the point that each point was slid onto
    """

    triangles: NDArray[np.int32]
    origin: Ints
    place: Ints

    @classmethod
    def none(cls, triangles: NDArray[np.int32], points: int) -> Coarse:
        """So many points and their triangles as they are."""
        return cls(triangles, np.arange(len(triangles)), np.arange(points))

    def then(self, after: Coarse) -> Coarse:
        """This and, of its triangles, another."""
        return Coarse(after.triangles, self.origin[after.origin], after.place[self.place])


def coarsen(
    points: Array, triangles: NDArray[np.int32], label: Ints, size: Array, most: int, *, roughly: bool = False
) -> Progress[Coarse]:
    """Collapse edges shorter than the wanted size; go on with larger sizes while more than `most` triangles
    are left.

    points : (v, 3); triangles : (m, 3); size : (v,) meters, wanted length of edges
    label : (m,), lines between triangles of different labels are kept
    roughly : stars are all, and no sizes but those wanted: for a surface that is coarsened further
    """
    place: Ints = np.arange(len(points))
    home = place  # of the points that are still worked on
    origin = np.arange(len(triangles))
    typical = float(size[triangles].mean())
    if len(triangles) < MAX_TRIANGLES_A_POINT * len(points):
        home, triangles = _used(triangles, len(points))
        points, size = points[home], size[home]
    quadric = _quadrics(points, triangles, label, Topology.of(triangles, len(points)))
    flat, turn = MAX_SURFACE_SHIFT_SHARE, 0
    stars = len(triangles) > STARS_OVER_WANTED * most
    while True:
        before, turn = len(triangles), turn + 1
        yield Step(1.0 - before / len(label), filled("Coarsening the surface: {count} triangles", count=before))
        if before < MAX_TRIANGLES_A_POINT * len(points):
            used, triangles = _used(triangles, len(points))
            home, points, quadric, size = home[used], points[used], quadric[used], size[used]
        near = flat * np.minimum(size, typical)
        start = _Start(points, triangles, label[origin], quadric, size, near, turn)
        slide = _stars(start) if stars else _pass(start)
        moved = np.flatnonzero(slide != np.arange(len(points)))
        if len(moved):
            slid = slide[triangles].astype(np.int32)
            alive = (slid != slid[:, [1, 2, 0]]).all(axis=1)
            if not alive.any():
                break  # what is left of the surface stays, however small
            _gather(quadric, moved, slide[moved])
            onto = np.arange(len(place))
            onto[home[moved]] = home[slide[moved]]
            place = onto[place]
            triangles, origin = slid[alive], origin[alive]
            triangles = _flipped(points, triangles, label[origin])
        left, enough = len(triangles) / before, len(triangles) <= (STARS_OVER_WANTED if stars else 1.0) * most
        at_end = left >= (MAX_STARS_LEFT if stars else MAX_LEFT if enough else MAX_CROWD_LEFT)
        at_end |= enough and flat > MAX_SURFACE_SHIFT_SHARE  # larger sizes than wanted need not be reached
        if stars and (enough or left >= MAX_LEFT or (at_end and roughly)):
            stars = False
            if roughly:
                break
        elif at_end:
            if enough or flat > MAX_FLAT:
                break
            size, typical, flat = 1.2 * size, 1.2 * typical, 1.3 * flat
    return Coarse(home[triangles].astype(np.int32), origin, place)


def _used(triangles: NDArray[np.int32], points: int) -> tuple[Ints, NDArray[np.int32]]:
    """The points that triangles use, (u,), and the triangles by these."""
    used = np.zeros(points, dtype=bool)
    used[triangles] = True
    return np.flatnonzero(used), (np.cumsum(used, dtype=np.int32) - np.int32(1))[triangles]


def _gather(quadric: Array, moved: Ints, target: Ints) -> None:
    """Add the quadrics of the points that moved to those of the points they moved onto."""
    order = np.argsort(target, kind="stable")
    target, moved = target[order], moved[order]
    first = np.flatnonzero(np.append(True, target[1:] != target[:-1]))
    quadric[target[first]] += np.add.reduceat(quadric[moved], first, axis=0)


def _quadrics(points: Array, triangles: NDArray[np.int32], label: Ints, topology: Topology) -> Array:
    """(v, 11): the symmetric matrix, vector and constant of each point's planes, and their weight."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    normal = cross / np.maximum(double, TINY_M2)[:, None]
    columns = _plane(normal, a, 0.5 * double)
    out = np.zeros((len(points), 11))
    corner = triangles.reshape(-1)
    for k in range(11):
        out[:, k] = np.bincount(corner, np.repeat(columns[:, k], 3), minlength=len(points))
    line = np.flatnonzero(_lines(label, topology))
    low, high = topology.edges[line].T
    along = points[high] - points[low]
    across = np.cross(along, normal[topology.edge_faces[line, 0]])  # a wall along the line holds it in place
    length = np.sqrt(np.einsum("ij,ij->i", along, along))
    wall = _plane(across / np.maximum(length, 1e-300)[:, None], points[low], length**2)
    for k in range(11):
        out[:, k] += np.bincount(np.append(low, high), np.tile(wall[:, k], 2), minlength=len(points))
    return out


def _plane(normal: Array, point: Array, weight: Array) -> Array:
    x, y, z = normal.T
    d = -np.einsum("ij,ij->i", normal, point)
    one = np.ones_like(d)
    return weight[:, None] * np.stack(
        [x * x, x * y, x * z, y * y, y * z, z * z, x * d, y * d, z * d, d * d, one], axis=1
    )


def _cost(quadric: Array, point: Array) -> Array:
    """Mean squared distance of points (n, 3) from the planes of quadrics (n, 11)."""
    x, y, z = point.T
    q = quadric.T
    value = x * (q[0] * x + 2 * (q[1] * y + q[2] * z + q[6])) + y * (q[3] * y + 2 * (q[4] * z + q[7]))
    value += z * (q[5] * z + 2 * q[8]) + q[9]
    return np.maximum(value, 0.0) / np.maximum(q[10], 1e-300)


def _lines(label: Ints, topology: Topology) -> NDArray[np.bool_]:
    """Edges that are no more than passed along: open ones, those of three triangles, those between labels."""
    one, other = topology.edge_faces.T
    line = (other < 0) | (label[one] != label[other])
    line[topology.non_manifold_edges] = True
    return line


@dataclass(frozen=True, eq=False)
class _Start:
    """What a pass starts from, the first four and the size as of `coarsen`.

    quadric : (v, 11); near : (v,) m, how far a point may leave its planes; turn : number of the pass
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
        return Topology.of(self.triangles, len(self.points))

    @cached_property
    def slides(self) -> _Slides:
        return _Slides.of(self.points, self.topology, self.label, self.size)

    @property
    def lot(self) -> Array:
        """(v,) 0 to 1, another order in every pass."""
        return np.modf(np.arange(1, len(self.points) + 1) * (0.6180339887 * self.turn))[0]


def _pass(start: _Start) -> Ints:
    """Where each point slides in one pass, most of them nowhere."""
    # other points come first in every pass, so that one that had no way out does not bar its neighbors for
    # ever
    goer = _independent(np.where(start.slides.able, start.lot, np.inf), start.topology)
    target = start.slides.target(start, goer, np.ones(len(start.points), dtype=bool))
    gone = _linked(start.topology, target)
    gone &= _unfolded(start.points, start.triangles, gone, target)
    return np.where(gone, target, np.arange(len(start.points)))


def _stars(start: _Start) -> Ints:
    """The same for many more points at once: of all but an independent set, each slides onto a neighbor in this.

    What folds a triangle over, lays two sheets together or closes a neck is taken back.
    """
    topology, slides = start.topology, start.slides
    lot = start.lot + np.where(slides.bound, 0.0, 1.0)  # lines keep points of their own
    stays = _independent(np.where(slides.able, lot, np.inf), topology)
    target = slides.target(start, slides.able & ~stays, stays)
    slide = np.where(target >= 0, target, np.arange(len(target)))
    crowded = topology.edges[topology.non_manifold_edges]
    for turn in range(MAX_REVERTS):
        back = _clashing(start, crowded, slide)
        if not len(back):
            return slide
        if turn:  # with those round them, so that it soon ends
            near_by = np.isin(start.triangles, back).any(axis=1)
            back = np.unique(start.triangles[near_by])
        slide[back] = back
    return slide


def _clashing(start: _Start, crowded: Ints, slide: Ints) -> Ints:
    """Points that must not slide as they do, for together with others they would fold a triangle over, lay two sheets
    together, or close a neck. crowded : (x, 2) edges of more than two triangles that were there before."""
    points, triangles = start.points, start.triangles
    moved = slide[triangles]
    alive = (moved != moved[:, [1, 2, 0]]).all(axis=1)
    changed = np.flatnonzero(alive & (moved != triangles).any(axis=1))
    old = _measured(points, triangles[changed, 0], triangles[changed])
    new = _measured(points, moved[changed, 0], moved[changed])
    folds = np.einsum("ij,ij->i", old[0], new[0]) < FOLD * old[1] * new[1]
    thin = (new[1] < THIN * new[2]) & (new[1] * old[2] < 0.5 * old[1] * new[2])
    wrong = np.zeros(len(points), dtype=bool)
    wrong[triangles[changed[folds | thin]]] = True
    left = moved[alive].astype(np.int32)
    topology = Topology.of(left, len(points))
    pair = np.flatnonzero(topology.edge_faces[:, 1] >= 0)
    apexes = left[topology.edge_faces[pair]].astype(np.int64).sum(axis=2) - topology.edges[pair].sum(axis=1)[:, None]
    double = pair[apexes[:, 0] == apexes[:, 1]]  # two triangles on the same three points
    before = np.sort(slide[crowded], axis=1).astype(np.int64) @ np.array([len(points), 1])
    many = topology.non_manifold_edges
    many = many[~np.isin(topology.edges[many].astype(np.int64) @ np.array([len(points), 1]), before)]
    heads = ~_contractible(start, slide)
    heads[topology.edges[np.append(double, many)]] = True
    return np.flatnonzero((wrong | heads[slide]) & (slide != np.arange(len(points))))


def _contractible(start: _Start, slide: Ints) -> NDArray[np.bool_]:
    """(v,) whether all that slides onto a point may: points, edges and triangles between them are of one piece without
    a hole, by Euler's number. The ring of a neck is not: closed to a point it would pinch the surface. It is the link
    condition of all the edges of a star at once, each of whose points may bar another's.
    """
    low, high = slide[start.topology.edges].T
    a, b, c = slide[start.triangles].T
    number = np.bincount(slide, minlength=len(slide))
    number -= np.bincount(low[low == high], minlength=len(slide))
    number += np.bincount(a[(a == b) & (b == c)], minlength=len(slide))
    return (number == 1) | (number == 0) & (slide != np.arange(len(slide)))


@dataclass(frozen=True, eq=False)
class _Slides:
    """Along which edges points may slide.

    low, high : (e,) ends; gap : (e, 3) between them; short, line : (e,) shorter than wanted; on a line that is kept
    able, bound : (v,) at a short edge; on a line
    """

    low: Ints
    high: Ints
    gap: Array
    size: Array
    short: NDArray[np.bool_]
    line: NDArray[np.bool_]
    able: NDArray[np.bool_]
    bound: NDArray[np.bool_]

    @classmethod
    def of(cls, points: Array, topology: Topology, label: Ints, size: Array) -> _Slides:
        low, high = topology.edges.T.astype(np.intp)
        gap = points[high] - points[low]
        short = np.einsum("ij,ij->i", gap, gap) < np.minimum(size[low], size[high]) ** 2
        line = _lines(label, topology)
        bound, able = np.zeros((2, len(points)), dtype=bool)
        bound[topology.edges[line]] = True
        able[topology.edges[short]] = True
        return cls(low, high, gap, size, short, line, able, bound)

    def target(self, start: _Start, goer: NDArray[np.bool_], stays: NDArray[np.bool_]) -> Ints:
        """(v,) the neighbor that costs each goer least, of those in `stays`; -1 where there is none."""
        low, high = self.low, self.high
        forward, back = goer[low] & stays[high], goer[high] & stays[low]
        edge = np.flatnonzero(self.short & (forward | back))
        ahead = forward[edge]
        a, b = np.where(ahead, low[edge], high[edge]), np.where(ahead, high[edge], low[edge])
        cost = _cost(start.quadric[a], start.points[b]) / (start.near[a] * np.where(self.bound[a], LINE, 1.0)) ** 2
        usable = np.flatnonzero((cost <= 1.0) & (self.line[edge] | ~self.bound[a]))
        noise = 1.0 + np.modf(edge[usable] * (0.7548776662 * start.turn))[0]  # another target is tried next time
        length = (self.gap[edge[usable]] ** 2).sum(axis=1) / self.size[a[usable]] ** 2
        order = usable[np.argsort(-(length + cost[usable]) * noise, kind="stable")]
        target = np.full(len(start.points), -1)
        target[a[order]] = b[order]  # the last written is the cheapest
        return target


def _flipped(points: Array, triangles: NDArray[np.int32], label: Ints) -> NDArray[np.int32]:
    """One sweep of edge flips towards rounder triangles (Delaunay), where two triangles are nearly in one
    plane.
    """
    topology = Topology.of(triangles, len(points))
    line = _lines(label, topology)
    edge = np.flatnonzero(~line)
    first = topology.half_edges[topology.starts[edge]].astype(np.intp)
    second = topology.half_edges[topology.starts[edge] + 1].astype(np.intp)
    f, g = first // 3, second // 3
    a, b, c = (triangles[f, (first + k) % 3] for k in range(3))
    d = triangles[g, (second + 2) % 3]
    pa, pb, pc, pd = points[a], points[b], points[c], points[d]
    first_edge, second_edge = (points[triangles[:, k]] - points[triangles[:, 0]] for k in (1, 2))
    normal = np.cross(first_edge, second_edge)
    long = _long(normal)
    wish = ((pa - pc) * (pb - pc)).sum(axis=1) / long[f] + ((pa - pd) * (pb - pd)).sum(axis=1) / long[g]
    some = np.flatnonzero((wish < MIN_FLIP_GAIN) & (triangles[g, second % 3] == b) & (c != d))
    edge, f, g, a, b, c, d, wish = (one[some] for one in (edge, f, g, a, b, c, d, wish))
    pa, pb, pc, pd = (one[some] for one in (pa, pb, pc, pd))
    old, twin = normal[f], normal[g]
    new, other = np.cross(pd - pa, pc - pa), np.cross(pb - pd, pc - pd)
    level = np.ones(len(some), dtype=bool)
    for one, two in ((old, twin), (old, new), (old, other), (twin, new), (twin, other)):
        level &= (one * two).sum(axis=1) > LEVEL * _long(one) * _long(two)
    wish = np.where(level, wish, 0.0)
    gain = np.zeros(len(topology.edges) + 1)
    gain[edge] = wish
    best = gain[topology.face_edges].min(axis=1)
    chosen = level & (wish <= best[f]) & (wish <= best[g])
    key = np.sort(np.stack([c, d], axis=1), axis=1).astype(np.int64) @ np.array([len(points), 1])
    known = topology.edges.astype(np.int64) @ np.array([len(points), 1])
    at = np.minimum(np.searchsorted(known, key), len(known) - 1)
    chosen &= known[at] != key
    _, once = np.unique(np.where(chosen, key, -np.arange(len(key)) - 1), return_index=True)
    only = np.zeros(len(key), dtype=bool)
    only[once] = True
    pick = np.flatnonzero(chosen & only)
    touched = np.bincount(np.append(f[pick], g[pick]), minlength=len(triangles))
    pick = pick[(touched[f[pick]] == 1) & (touched[g[pick]] == 1)]  # of equal wishes neither
    triangles = triangles.copy()
    triangles[f[pick]] = np.stack([a, d, c], axis=1)[pick]
    triangles[g[pick]] = np.stack([d, b, c], axis=1)[pick]
    return triangles


def _long(vectors: Array) -> Array:
    return np.maximum(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)), 1e-300)


def _independent(priority: Array, topology: Topology) -> NDArray[np.bool_]:
    """Points lower than all their neighbors, twice over; no two of them are neighbors."""
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


def _linked(topology: Topology, target: Ints) -> NDArray[np.bool_]:
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
    # most are no edge by a table of remainders, which never misses one; only the others are looked up
    slots = max(SLOTS_AN_EDGE * len(key), 1) | 1
    table = np.zeros(slots, dtype=bool)
    table[key % slots] = True
    asked = np.flatnonzero(table[wanted % slots])
    at = np.minimum(np.searchsorted(key, wanted[asked]), len(key) - 1)
    common = np.bincount(home[asked[key[at] == wanted[asked]]], minlength=len(movers))
    out = np.zeros(topology.points, dtype=bool)
    out[movers] = common == dying
    return out


def _keys(one: Ints, other: Ints, points: int) -> Ints:
    """One number for each edge, as `Topology.edges` has them in rising order."""
    return np.minimum(one, other).astype(np.int64) * points + np.maximum(one, other)


def _unfolded(points: Array, triangles: NDArray[np.int32], gone: NDArray[np.bool_], target: Ints) -> NDArray[np.bool_]:
    """Which of the points can go without a triangle folding over or becoming a sliver."""
    rows, corner = np.nonzero(gone[triangles])
    ring = np.stack([triangles[rows, (corner + k) % 3] for k in range(3)], axis=1).astype(np.intp)
    goer, to = ring[:, 0], target[ring[:, 0]]
    dies = (ring[:, 1:] == to[:, None]).any(axis=1)
    old, new = _measured(points, goer, ring), _measured(points, to, ring)
    turn = np.einsum("ij,ij->i", old[0], new[0])
    folds = turn < FOLD * old[1] * new[1]
    thin = (new[1] < THIN * new[2]) & (new[1] * old[2] < 0.5 * old[1] * new[2])  # not good enough, and much worse
    return np.bincount(goer[~dies & (folds | thin)], minlength=len(points)) == 0


def _measured(points: Array, first: Ints, ring: Ints) -> tuple[Array, Array, Array]:
    """Normal (twice the area long), its length, and the longest edge squared, of triangles with a corner
    replaced.
    """
    a, b, c = points[first], points[ring[:, 1]], points[ring[:, 2]]
    normal = np.cross(b - a, c - a)
    edges = np.stack([((b - a) ** 2).sum(axis=1), ((c - b) ** 2).sum(axis=1), ((a - c) ** 2).sum(axis=1)])
    return normal, np.sqrt(np.einsum("ij,ij->i", normal, normal)), edges.max(axis=0)
