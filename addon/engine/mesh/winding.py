"""Which way the triangles face: neighbors alike, closed shells outward."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..geometry.triangles import measure
from ..linalg.labels import connected
from .topology import Topology


class Winding(NamedTuple):
    """turned : (m,) bool, triangles to turn so that all of a shell face one way
    twisted : (s,) bool, shells with no two sides (as a Moebius band), which cannot be made so
    """

    turned: NDArray[np.bool_]
    twisted: NDArray[np.bool_]


class Patches(NamedTuple):
    """Connected triangles that face alike, across edges where two meet.

    label : (m,) int32, the patch of each triangle; patches : how many
    a, b : (k,) int32, patches that clash at an edge: they join, and do not face alike there
    """

    label: NDArray[np.int32]
    patches: int
    a: NDArray[np.int32]
    b: NDArray[np.int32]

    @classmethod
    def of(cls, triangles: NDArray[np.int32], topology: Topology) -> Patches:
        """triangles : (m, 3), whose edges the topology knows"""
        pairs = np.flatnonzero(np.diff(topology.starts) == 2)
        first, second = (topology.half_edges[topology.starts[pairs] + k] for k in (0, 1))
        begin = triangles.reshape(-1)
        clash = begin[first] == begin[second]
        a, b = first // 3, second // 3
        if not clash.any():
            return cls(*connected(len(triangles), a, b), *np.zeros((2, 0), dtype=np.int32))
        label, count = connected(len(triangles), a[~clash], b[~clash])
        return cls(label, count, label[a[clash]], label[b[clash]])

    def shells(self) -> tuple[NDArray[np.int32], int]:
        """(m,) the connected piece of each triangle, and how many."""
        if not len(self.a):
            return self.label, self.patches
        shell, shells = connected(self.patches, self.a, self.b)
        return shell[self.label], shells


def consistent(patches: Patches, shell: NDArray[np.int32], shells: int) -> Winding:
    """Turn as few triangles as possible so that no two neighbors face against each other.

    Each patch stands as two nodes, as it is and turned, and every edge where two patches clash joins one's node to the
    other's opposite.
    """
    patch, count, a, b = patches
    turned, twisted = np.zeros(len(patch), dtype=bool), np.zeros(shells, dtype=bool)
    if not len(a):
        return Winding(turned, twisted)
    side, _ = connected(2 * count, np.append(a, a + count), np.append(b + count, b))
    as_is, other = side[:count], side[count:]
    twisted[shell[np.flatnonzero((as_is == other)[patch])]] = True
    turned = (as_is > other)[patch]
    balance = np.bincount(shell, np.where(turned, 1, -1), minlength=shells)
    turned ^= (balance > 0)[shell]
    return Winding(turned & ~twisted[shell], twisted)


class Enclosure(NamedTuple):
    """What each shell encloses, with flat patches over its openings.

    open : (s,) bool, shells with open edges, or edges at which their triangles do not pair off
    volume : (s,) m3, negative where the shell is inside out
    patched : (s,) m2, the area of the patches
    """

    open: NDArray[np.bool_]
    volume: NDArray[np.float64]
    patched: NDArray[np.float64]


def enclosure(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    volume: NDArray[np.float64],
    topology: Topology,
    shell: NDArray[np.int32],
    shells: int,
) -> Enclosure:
    """Of shells whose triangles face one way. volume : (m,) m3 between each triangle and the origin.

    Every loop of open edges is filled with triangles to its middle.
    """
    patched = np.zeros(shells)
    total = patched + np.bincount(shell, volume, minlength=shells)
    half = _unpaired(triangles, topology, shell, shells)
    owner = shell[half // 3]
    if len(half):
        begin, end = (triangles[half // 3, (half + k) % 3] for k in (0, 1))
        place = np.unique(np.append(begin, end), return_inverse=True)[1]
        piece, loops = connected(int(place.max()) + 1, place[: len(half)], place[len(half) :])
        loop = piece[place[: len(half)]]
        middle = np.stack([np.bincount(loop, axis) for axis in points[begin].T], axis=1)
        middle = middle / np.bincount(loop)[:, None]
        row = np.arange(len(half), dtype=np.int32)
        fan = np.stack([row, row + len(half), row + 2 * len(half)], axis=1)
        patch = measure(np.vstack([points[end], points[begin], middle[loop]]), fan)
        total += np.bincount(owner, patch.volume, minlength=shells)
        patched += np.bincount(owner, patch.area, minlength=shells)
    return Enclosure(np.bincount(owner, minlength=shells) > 0, total, patched)


def _unpaired(
    triangles: NDArray[np.int32], topology: Topology, shell: NDArray[np.int32], shells: int
) -> NDArray[np.int32]:
    """Half-edges left over where the triangles that one shell has at an edge do not run both ways alike."""
    meeting = np.diff(topology.starts)
    odd = np.flatnonzero(meeting != 2)
    start, count = topology.starts[odd].astype(np.intp), meeting[odd]
    half = topology.half_edges[np.repeat(start - np.cumsum(count) + count, count) + np.arange(int(count.sum()))]
    edge = np.repeat(odd, count)
    way = np.where(triangles.reshape(-1)[half] == topology.edges[edge, 0], 1, -1)
    group = np.unique(edge * shells + shell[half // 3], return_inverse=True)[1]
    excess = np.bincount(group, way, minlength=1).astype(int)[group]
    # of those that run the way in excess, as many as there are too many
    order = np.flatnonzero(excess * way > 0)
    order = order[np.argsort(group[order], kind="stable")]
    rank = np.arange(len(order)) - np.searchsorted(group[order], group[order])
    return half[order[rank < np.abs(excess[order])]]
