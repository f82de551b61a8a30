"""The surface that bounds gas and liquid, prepared once for any way up.

What is here does not depend on the direction: one closed surface of the wetted triangles, as plain
columns of indices, so that a search over many directions repeats only what it must.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ..geometry.triangles import measure
from ..linalg.labels import connected
from ..mesh import topology
from ..mesh.nonmanifold import separate
from ..mesh.surface import Surface

MIN_LONG_OVER_MEDIAN = 1.5  # times the median longest edge: longer triangles are handled separately


@dataclass(frozen=True, eq=False)
class Relief:
    """A closed surface with the liquid on its outer side.

    points : (v, 3) meters, all of them used; columns lie together in memory, as those of `vector` do
    corners : three (t,) intp columns: the first, second and third point of each triangle
    face : (t,) int32, the triangle of the part that each stands for; -1 on a patch over an open edge
    edges : two (e,) intp columns, lower index first; every edge at least once
    place : (v,) intp: equal on the two points that a sheet has at one place
    vector : (t, 3) m2, outward normal times area
    size : diagonal of the bounding box, meters
    """

    points: NDArray[np.float64]
    corners: tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]
    face: NDArray[np.int32]
    edges: tuple[NDArray[np.intp], NDArray[np.intp]]
    place: NDArray[np.intp]
    vector: NDArray[np.float64]
    size: float

    @cached_property
    def area(self) -> NDArray[np.float64]:
        """(t,) m2; zero on patches, which are no surface of the part."""
        return np.where(self.face >= 0, np.sqrt(np.einsum("ij,ij->i", self.vector, self.vector)), 0.0)

    @cached_property
    def by_length(self) -> tuple[float, NDArray[np.intp]]:
        """A length (m) that no edge of most triangles reaches, and those (n,) that have a longer one."""
        square = np.zeros(len(self.face))
        at = [[pick(axis, corner) for corner in self.corners] for axis in self.points.T]
        for start, end in ((0, 1), (1, 2), (2, 0)):
            x, y, z = (axis[end] - axis[start] for axis in at)
            np.maximum(square, x * x + y * y + z * z, out=square)
        short = MIN_LONG_OVER_MEDIAN * float(np.sqrt(np.median(square)))
        return short, np.flatnonzero(square >= short**2)

    @cached_property
    def edge_step(self) -> NDArray[np.intp]:
        """(e,) from the index of each edge's first point to that of its second."""
        return self.edges[1] - self.edges[0]

    @property
    def noise(self) -> float:
        """Height differences below this (meters) are rounding of the model's coordinates, not shape.

        A file in single precision keeps coordinates to 6e-8 of the size.
        """
        return 1e-6 * self.size


_CACHE: WeakKeyDictionary[Surface, Relief] = WeakKeyDictionary()


def relief_of(surface: Surface) -> Relief:
    """The wetted surface of a part, closed; made once, and kept as long as the surface is."""
    if surface not in _CACHE:
        _CACHE[surface] = prepare(surface)
    return _CACHE[surface]


def prepare(surface: Surface) -> Relief:
    """The wetted surface of a part, closed.

    A sheet that the user declared (`sides` = 2) becomes a solid of no thickness: front and back, joined along
    its rim. Any other open edge is closed by a flat patch from its loop's middle: the part is taken as solid
    behind it, and the patch counts in volumes but not in areas.
    """
    wetted = _wetted_triangles(surface)
    triangles, face = surface.triangles[wetted], wetted.astype(np.int32)
    points, place = surface.points, np.arange(len(surface.points))
    if (surface.sides[wetted] == 2).any():
        points, triangles, face, place = _with_backs(points, triangles, face, surface.sides[wetted] == 2)
    if len(face) > len(wetted) or len(surface.topology.open) or len(surface.topology.non_manifold_edges):
        pairs = _pairs(surface, wetted, len(face))
        remaining = np.ones(triangles.size, dtype=bool)
        remaining[pairs] = False
        among = np.flatnonzero(remaining).astype(np.int32)
        points, triangles, face, place = _with_patches(points, triangles, face, place, among)
        among = np.append(among, np.arange(len(remaining), triangles.size, dtype=np.int32))
        edges = topology.Topology.of(triangles, len(points), among=among)
        if len(edges.non_manifold_edges):
            triangles, origin = separate(points, triangles, edges, pairs)
            points, place = points[origin], place[origin]
    added = measure(points, triangles[len(wetted) :])
    area, normal = np.append(surface.area[wetted], added.area), np.vstack([surface.normal[wetted], added.normal])
    a, b, c = (np.ascontiguousarray(column, dtype=np.intp) for column in triangles.T)
    used = np.zeros(len(points), dtype=bool)
    for column in (a, b, c):
        used[column] = True
    if not used.all():
        number = np.cumsum(used) - 1
        a, b, c = number[a], number[b], number[c]
        points, place = points[used], place[used]
    # on a closed surface an edge runs as often one way as the other
    halves = [(start, end, np.flatnonzero(start < end)) for start, end in ((a, b), (b, c), (c, a))]
    return Relief(
        points=np.asfortranarray(points),
        corners=(a, b, c),
        face=face,
        edges=(
            np.concatenate([pick(start, once) for start, _, once in halves]),
            np.concatenate([pick(end, once) for _, end, once in halves]),
        ),
        place=place,
        vector=(normal.T * area).T,
        size=surface.size,
    )


def _with_backs(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    face: NDArray[np.int32],
    sheet: NDArray[np.bool_],
) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32], NDArray[np.intp]]:
    """The same with a back to every sheet: its triangles turned over, on own points except along the rim."""
    front = triangles[sheet]
    inner = np.setdiff1d(front, _open_edges(front))
    twin = np.arange(len(points), dtype=np.int32)
    twin[inner] = len(points) + np.arange(len(inner))
    place = np.concatenate([np.arange(len(points)), inner])
    triangles = np.vstack([triangles, twin[front[:, ::-1]]])
    return np.vstack([points, points[inner]]), triangles, np.concatenate([face, face[sheet]]), place


def _with_patches(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    face: NDArray[np.int32],
    place: NDArray[np.intp],
    among: NDArray[np.int32],
) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32], NDArray[np.intp]]:
    """The same with each loop of open edges filled by triangles to the loop's middle.

    among : half-edges, those of every open edge among them
    """
    gaps = _open_edges(triangles, among)
    if not len(gaps):
        return points, triangles, face, place
    loop = _loops(gaps)
    sums = [np.bincount(loop, axis) for axis in points[gaps[:, 0]].T]
    middle = np.stack(sums, axis=1) / np.bincount(loop)[:, None]
    patch = np.column_stack([gaps[:, ::-1], len(points) + loop])
    place = np.concatenate([place, len(points) + np.arange(len(middle))])
    face = np.concatenate([face, np.full(len(patch), -1)])
    triangles = np.vstack([triangles, patch]).astype(np.int32)
    return np.vstack([points, middle]), triangles, face.astype(np.int32), place


def along(rows: NDArray[np.float64], direction: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) scalar products of rows (n, 3) with a direction.

    Column by column: the threads of a matrix product cost more than they save here when the machine is busy.
    """
    total: NDArray[np.float64] = rows[:, 0] * direction[0]
    for k in (1, 2):
        total += rows[:, k] * direction[k]
    return total


def pick(values: NDArray[Any], index: NDArray[np.intp]) -> NDArray[Any]:
    """values[index] for indices known to be valid: skipping the check halves the time."""
    return values.take(index, mode="clip")


def _wetted_triangles(surface: Surface) -> NDArray[np.intp]:
    """Triangles that make up the wetted surface: those of no area too, because they connect their neighbors."""
    shells = np.zeros(int(surface.shell.max()) + 1, dtype=bool)
    shells[surface.shell[surface.wetted]] = True
    a, b, c = surface.triangles.T
    thin = (surface.area == 0) & (a != b) & (b != c) & (c != a)
    return np.flatnonzero(surface.wetted | (thin & shells[surface.shell]))


def _pairs(surface: Surface, wetted: NDArray[np.intp], triangles: int) -> NDArray[np.int32]:
    """(2, p) half-edges that run against each other at an edge of their own: nothing is open or crowded there.

    Numbered by the row of `wetted` that they belong to; none where there are more `triangles` than these, for the backs
    of sheets lie at the same edges.
    """
    if triangles > len(wetted):
        return np.zeros((2, 0), dtype=np.int32)
    edges, corner = surface.topology, surface.triangles.reshape(-1)
    first = edges.starts[:-1][np.diff(edges.starts) == 2]
    pairs = np.stack([edges.half_edges[first], edges.half_edges[first + 1]])
    face = pairs // 3
    apart = pick(corner, pairs[0]) != pick(corner, pairs[1])
    if len(wetted) < len(corner) // 3:
        row = np.full(len(corner) // 3, -1, dtype=np.int32)
        row[wetted] = np.arange(len(wetted))
        at = pick(row, face)
        pairs += 3 * (at - face)
        apart &= (at >= 0).all(axis=0)
    return pairs if apart.all() else pairs[:, apart]


def _open_edges(triangles: NDArray[np.int32], among: NDArray[np.int32] | None = None) -> NDArray[np.int32]:
    """Half-edges (n, 2) that no triangle runs the other way. among : where to look; None: everywhere"""
    start, end = (ends.astype(np.int64) for ends in topology.ends(triangles, among))
    if not len(start):
        return np.zeros((0, 2), dtype=np.int32)
    count = int(triangles.max()) + 1
    key = np.minimum(start, end) * count + np.maximum(start, end)
    key <<= 1  # the direction is packed into the key: sorting is faster than argsort
    key |= start < end
    key.sort()
    up = key & 1
    key >>= 1
    first = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
    excess = 2 * np.add.reduceat(up, first) - np.diff(np.append(first, len(key)))
    open_pairs = np.flatnonzero(excess)
    first, excess = first[open_pairs], excess[open_pairs]
    low, high = np.divmod(key[first], count)
    pair = np.where((excess > 0)[:, None], np.stack([low, high], axis=1), np.stack([high, low], axis=1))
    return np.repeat(pair, np.abs(excess), axis=0).astype(np.int32)


def _loops(gaps: NDArray[np.int32]) -> NDArray[np.int32]:
    """Which loop each open half-edge belongs to, (n,)."""
    points, ends = np.unique(gaps, return_inverse=True)
    start, end = ends.reshape(-1, 2).T
    label, _ = connected(len(points), start, end)
    return label[start]
