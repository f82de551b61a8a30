"""Which triangles meet at which edges and points."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged

MIN_TRIANGLES_PER_LOOKUP = 8  # triangles per turned one: with fewer, a pass over all half-edges is faster than lookups


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
    def of(
        cls,
        triangles: NDArray[np.int32],
        points: int,
        skip: NDArray[np.bool_] | None = None,
        among: NDArray[np.int32] | None = None,
    ) -> Topology:
        """triangles : (m, 3) into `points` points. Sorts the half-edges once: m log m.

        skip : (m,) bool, triangles to leave out: they have no edges then.
        among : (h,) int32, rising, the half-edges to look at: others have no edge. None: all
        """
        if skip is not None and skip.any():
            triangles = np.where(skip[:, None], triangles[:, :1], triangles)
        begin, end = ends(triangles, among)
        half_edges, key, bits = _sorted_keys(np.minimum(begin, end), np.maximum(begin, end), points)
        half_edges = half_edges if among is None else among[half_edges]
        new = np.empty(len(key), dtype=bool)
        new[:1] = True
        np.not_equal(key[1:], key[:-1], out=new[1:])
        first = np.flatnonzero(new)
        starts = np.append(first, len(key)).astype(np.int32)
        face_edges = np.full(triangles.size, -1, dtype=np.int32)
        face_edges[half_edges] = np.cumsum(new, dtype=np.int32) - np.int32(1)
        edges = np.stack(_unpacked(key[first], bits), axis=1)
        edge_faces = _first_two(half_edges, starts[:-1], np.diff(starts))
        crowded = np.flatnonzero(np.diff(starts) > 2).astype(np.int32)
        return cls(edges, edge_faces, face_edges.reshape(-1, 3), crowded, starts, half_edges, points)

    def half_edges_at(self, edges: NDArray[np.integer]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Where in `half_edges` those at some edges (k,) stand, and the row of `edges` that each (n,) is of."""
        lengths = self.starts[edges + 1] - self.starts[edges]
        place = np.repeat(self.starts[edges], lengths) + ragged.places(lengths)
        return place, np.repeat(np.arange(len(edges)), lengths)

    def without(self, skip: NDArray[np.bool_]) -> Topology:
        """The same without some triangles, (m,) bool: only what they touch is looked at."""
        gone = np.flatnonzero(skip)
        touched = np.unique(self.face_edges[gone])
        touched = touched[touched >= 0]
        at, row = self.half_edges_at(touched)
        left = skip[self.half_edges[at] // 3]
        half_edges, meeting = np.delete(self.half_edges, at[left]), np.diff(self.starts)
        meeting[touched] -= np.bincount(row[left], minlength=len(touched)).astype(np.int32)
        edges, edge_faces, face_edges = self.edges, self.edge_faces.copy(), self.face_edges.copy()
        face_edges[gone] = -1
        remains = meeting > 0
        if not remains.all():
            number = np.cumsum(remains, dtype=np.int32) - np.int32(1)
            edges, edge_faces, meeting = edges[remains], edge_faces[remains], meeting[remains]
            face_edges = np.where(face_edges < 0, face_edges, number[face_edges])
            touched = number[touched[remains[touched]]]
        starts = np.append(0, np.cumsum(meeting)).astype(np.int32)
        edge_faces[touched] = _first_two(half_edges, starts[touched], meeting[touched])
        crowded = np.flatnonzero(meeting > 2).astype(np.int32)
        return Topology(edges, edge_faces, face_edges, crowded, starts, half_edges, self.points)

    def turned(self, reversed_triangles: NDArray[np.bool_]) -> Topology:
        """The same with some triangles, (m,) bool, running the other way round, their first and last corner swapped."""
        rows = np.flatnonzero(reversed_triangles)
        half_edges, face_edges = self.half_edges.copy(), self.face_edges.copy()
        if MIN_TRIANGLES_PER_LOOKUP * len(rows) > len(reversed_triangles):
            at = np.arange(len(half_edges))
        else:
            edges = self.face_edges[rows].reshape(-1)
            at, _ = self.half_edges_at(edges[edges >= 0])
        face, corner = np.divmod(half_edges[at], np.int32(3))
        swapped = reversed_triangles[face] & (corner < 2)
        half_edges[at[swapped]] = (np.int32(3) * face + np.int32(1) - corner)[swapped]
        face_edges[rows] = self.face_edges[rows][:, [1, 0, 2]]
        return replace(self, half_edges=half_edges, face_edges=face_edges)

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
        # lower neighbors first, then higher: both lists are sorted already and only need spreading
        rank = np.arange(len(low))
        ends[rank + (np.cumsum(above) - above)[high[order]]] = low[order]
        ends[rank + np.cumsum(below)[low]] = high
        return starts, ends


def ends(
    triangles: NDArray[np.int32], half_edges: NDArray[np.int32] | None = None
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """The points (h,) at which half-edges of triangles (m, 3) start and end. half_edges : (h,); None: all of them"""
    if half_edges is None:
        return triangles.reshape(-1), np.roll(triangles, -1, axis=1).reshape(-1)
    corner = triangles.reshape(-1)
    return corner[half_edges], corner[half_edges + np.where(half_edges % 3 == 2, np.int32(-2), np.int32(1))]


def _first_two(
    half_edges: NDArray[np.int32], start: NDArray[np.int32], meeting: NDArray[np.int32]
) -> NDArray[np.int32]:
    """(e, 2) the first two triangles of edges whose `meeting` (e,) half-edges begin at `start` (e,); -1 for none."""
    faces = np.full((len(start), 2), -1, dtype=np.int32)
    faces[:, 0] = half_edges[start] // 3
    shared = np.flatnonzero(meeting > 1)
    faces[shared, 1] = half_edges[start[shared] + 1] // 3
    return faces


def sorted_pairs(
    low: NDArray[np.int32], high: NDArray[np.int32], points: int
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
    """Order of the pairs by low, then high, then place, without those whose ends are one; and they sorted."""
    order, key, bits = _sorted_keys(low, high, points)
    return order, *_unpacked(key, bits)


def _sorted_keys(
    low: NDArray[np.int32], high: NDArray[np.int32], points: int
) -> tuple[NDArray[np.int32], NDArray[np.int64], int]:
    """That order; low and high as one number each, sorted; and how many bits of it are high's."""
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
    return order, key, bits


def _unpacked(key: NDArray[np.int64], bits: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    return (key >> bits).astype(np.int32), (key & ((1 << bits) - 1)).astype(np.int32)
