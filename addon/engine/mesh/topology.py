"""Which triangles meet at which edges and points."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Topology:
    """The edges of a triangle mesh. A half-edge is numbered 3 x triangle + corner that it starts from.

    edges : (e, 2) int32, the lower point first, in rising order
    edge_faces : (e, 2) int32, the first two triangles at each edge; -1 for none (an open edge)
    face_edges : (m, 3) int32, edge from corner k to corner k + 1; -1 where there is none
    non_manifold_edges : (x,) int32, edges at which more than two triangles meet
    starts, half_edges : (e + 1,) and (h,) int32: all half-edges at edge i are half_edges[starts[i]:starts[i + 1]]
    points : number of points
    """

    edges: NDArray[np.int32]
    edge_faces: NDArray[np.int32]
    face_edges: NDArray[np.int32]
    non_manifold_edges: NDArray[np.int32]
    starts: NDArray[np.int32]
    half_edges: NDArray[np.int32]
    points: int

    @classmethod
    def of(cls, triangles: NDArray[np.int32], points: int, skip: NDArray[np.bool_] | None = None) -> Topology:
        """triangles : (m, 3) into `points` points. Sorts the half-edges once: m log m.

        skip : (m,) bool, triangles to leave out: they have no edges then.
        """
        if skip is not None and skip.any():
            triangles = np.where(skip[:, None], triangles[:, :1], triangles)
        begin = triangles.reshape(-1)
        end = triangles[:, [1, 2, 0]].reshape(-1)
        low, high = np.minimum(begin, end), np.maximum(begin, end)
        half_edges, low, high = sorted_pairs(low, high, points)
        new = np.empty(len(half_edges), dtype=bool)
        new[:1] = True
        new[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
        first = np.flatnonzero(new)
        edges = np.stack([low[first], high[first]], axis=1)
        return cls._grouped(half_edges, new, edges, len(begin), points)

    @classmethod
    def _grouped(
        cls,
        half_edges: NDArray[np.int32],
        new: NDArray[np.bool_],
        edges: NDArray[np.int32],
        corners: int,
        points: int,
    ) -> Topology:
        """half_edges : (h,) by edge; new : (h,) whether an edge begins there; edges : (e, 2) in the same order"""
        first = np.flatnonzero(new).astype(np.int32)
        starts = np.append(first, np.int32(len(half_edges)))
        meeting = np.diff(starts)
        edge_faces = np.full((len(first), 2), -1, dtype=np.int32)
        edge_faces[:, 0] = half_edges[first] // 3
        shared = np.flatnonzero(meeting > 1)
        edge_faces[shared, 1] = half_edges[first[shared] + 1] // 3
        face_edges = np.full(corners, -1, dtype=np.int32)
        face_edges[half_edges] = np.cumsum(new, dtype=np.int32) - np.int32(1)
        non_manifold_edges = np.flatnonzero(meeting > 2).astype(np.int32)
        return cls(edges, edge_faces, face_edges.reshape(-1, 3), non_manifold_edges, starts, half_edges, points)

    def without(self, skip: NDArray[np.bool_]) -> Topology:
        """The same without some triangles, (m,) bool: nothing is sorted again."""
        retained = ~skip[self.half_edges // 3]
        edge = np.repeat(np.arange(len(self.edges), dtype=np.int32), np.diff(self.starts))[retained]
        new = np.empty(len(edge), dtype=bool)
        new[:1] = True
        new[1:] = edge[1:] != edge[:-1]
        corners = self.face_edges.size
        return Topology._grouped(self.half_edges[retained], new, self.edges[edge[new]], corners, self.points)

    def turned(self, which: NDArray[np.bool_]) -> Topology:
        """The same with some triangles, (m,) bool, running the other way round, their first and last corner swapped."""
        face, corner = np.divmod(self.half_edges, np.int32(3))
        swapped = np.where(which[face] & (corner < 2), np.int32(3) * face + np.int32(1) - corner, self.half_edges)
        face_edges = np.where(which[:, None], self.face_edges[:, [1, 0, 2]], self.face_edges)
        return replace(self, half_edges=swapped.astype(np.int32), face_edges=face_edges)

    @cached_property
    def open(self) -> NDArray[np.int32]:
        """Edges with one triangle only."""
        return np.flatnonzero(self.edge_faces[:, 1] < 0).astype(np.int32)

    @cached_property
    def neighbors(self) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
        """(starts (v + 1,), ends (2e,)): the points joined to point i are ends[starts[i]:starts[i + 1]]."""
        low, high = self.edges.T
        order, _, _ = sorted_pairs(high, low, self.points)
        below = np.bincount(high, minlength=self.points)  # neighbors with a lower number
        above = np.bincount(low, minlength=self.points)
        starts = np.zeros(self.points + 1, dtype=np.int32)
        np.cumsum(below + above, out=starts[1:])
        ends = np.empty(2 * len(low), dtype=np.int32)
        # lower neighbors first, then higher: both lists are sorted already and only want spreading
        rank = np.arange(len(low))
        ends[rank + (np.cumsum(above) - above)[high[order]]] = low[order]
        ends[rank + np.cumsum(below)[low]] = high
        return starts, ends


def sorted_pairs(
    low: NDArray[np.int32], high: NDArray[np.int32], points: int
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
    """Order of the pairs by low, then high, then place, without those whose ends are one; and they sorted."""
    bits, place_bits = int(points).bit_length(), len(low).bit_length()
    keep = np.arange(len(low))
    lines = low != high
    if not lines.all():
        keep, low, high = keep[lines], low[lines], high[lines]
    key = low.astype(np.int64)
    key <<= bits
    key |= high
    if 2 * bits + place_bits <= 63:  # sorting one packed number is twice as fast as an argsort
        key <<= place_bits
        key |= keep
        key.sort()
        order = (key & ((1 << place_bits) - 1)).astype(np.int32)
        key >>= place_bits
    else:
        rank = np.argsort(key, kind="stable")
        order, key = keep[rank].astype(np.int32), key[rank]
    return order, (key >> bits).astype(np.int32), (key & ((1 << bits) - 1)).astype(np.int32)
