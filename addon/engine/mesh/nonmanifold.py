"""Separates points where a surface touches itself: gas does not pass through a gap of zero width."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged
from ..linalg.labels import connected
from .topology import Topology


def separate(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    topology: Topology,
    pairs: NDArray[np.int32] | None = None,
) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """One point for each fan of triangles round a point: the first keeps its number, the others are numbered beyond.

    Triangles that meet at an edge belong together; where more than two do, those that have the same wedge
    of liquid between them. Returns (triangles (t, 3) into the new points, origin (n,) the old point of each).

    pairs : (2, p) half-edges that the topology leaves out, for each pair has an edge of its own
    """
    corner = triangles.reshape(-1).astype(np.intp)
    after = np.arange(1, len(corner) + 1)  # of each half-edge the next in its triangle
    after[2::3] -= 3
    halves, starts = topology.half_edges, topology.starts
    plain = starts[:-1][np.diff(starts) == 2]
    half, twin = halves[plain], halves[plain + 1]
    if pairs is not None:
        half, twin = np.append(pairs[0], half), np.append(pairs[1], twin)
    half, twin = half.astype(np.intp), twin.astype(np.intp)
    half_end, twin_end = after[half], after[twin]
    opposite = corner[half] != corner[twin]  # the usual case: the two run opposite ways
    half_to, twin_to = twin_end, twin
    if not opposite.all():
        half_to, twin_to = np.where(opposite, twin_end, twin), np.where(opposite, twin, twin_end)
    following = np.full(len(corner), -1, dtype=np.int32)
    following[half], following[twin] = np.where(opposite, twin_end, -1), np.where(opposite, half_end, -1)
    several = ~_single_fans(corner, following, topology.points)
    corners = np.flatnonzero(several[corner])
    if not len(corners):
        return triangles, np.arange(topology.points)
    number = np.zeros(len(corner), dtype=np.intp)
    number[corners] = np.arange(len(corners))
    first_end, second_end = several[corner[half]], several[corner[half_end]]
    first, second = _wedges(points, triangles, topology)
    turned = corner[first] != corner[second]
    joined = [(half[first_end], half_to[first_end]), (half_end[second_end], twin_to[second_end])]
    joined += [
        (first, np.where(turned, after[second], second)),
        (after[first], np.where(turned, second, after[second])),
    ]
    a, b = (number[np.concatenate(side)] for side in zip(*joined, strict=True))
    fan, _ = connected(len(corners), a, b)
    at = corner[corners[np.unique(fan, return_index=True)[1]]]  # the point of each fan
    more = np.ones(len(at), dtype=bool)
    more[np.unique(at, return_index=True)[1]] = False  # the first at a point keeps its number
    beyond = topology.points + np.arange(int(more.sum()))
    label = at.copy()
    label[more] = beyond
    apart = triangles.reshape(-1).copy()
    apart[corners] = label[fan]
    return apart.reshape(-1, 3), np.append(np.arange(topology.points), at[more])


def _single_fans(corner: NDArray[np.intp], following: NDArray[np.intp], points: int) -> NDArray[np.bool_]:
    """(points,) whether a walk round a point comes by all triangles there. corner : (c,) the point of each corner;
    following : (c,) the next one round its point, beyond the edge that it starts; -1 where there is none"""
    start = np.full(points, -1)
    start[corner] = np.arange(len(corner))
    left = np.flatnonzero(start >= 0)
    begin, steps, single = start[left], np.bincount(corner, minlength=points), np.zeros(points, dtype=bool)
    at, count = begin, 0
    while len(left):
        at, count = following[at], count + 1
        single[left[(at == begin) & (steps[left] == count)]] = True
        on = (at >= 0) & (at != begin)
        left, begin, at = left[on], begin[on], at[on]
    return single


def _wedges(
    points: NDArray[np.float64], triangles: NDArray[np.int32], topology: Topology
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of half-edges with liquid between them, at the edges where more than two triangles meet.

    Going round an edge, a triangle that runs along it has the liquid behind it, one that runs against
    it has the liquid before it. Half-edges without such a partner (overlapping solids) stay together.
    """
    meeting = np.diff(topology.starts)[topology.non_manifold_edges]
    edge = np.repeat(topology.non_manifold_edges, meeting)
    rank = ragged.places(meeting)
    half = topology.half_edges[topology.starts[edge] + rank].astype(np.intp)
    low, high = topology.edges[edge].T
    corners = triangles.reshape(-1)
    along = corners[half] == low
    axis = points[high] - points[low]
    axis /= np.maximum(np.linalg.norm(axis, axis=1, keepdims=True), 1e-300)
    arm = points[corners[half - half % 3 + (half + 2) % 3]] - points[low]
    side = np.cross(axis, np.eye(3)[np.abs(axis).argmin(axis=1)])
    angle = np.arctan2(np.einsum("ij,ij->i", np.cross(axis, side), arm), np.einsum("ij,ij->i", side, arm))
    order = np.lexsort((along, angle, edge))  # of a sheet, its back comes before its front
    half, along, edge = half[order], along[order], edge[order]
    last = np.cumsum(meeting) - 1
    following = np.arange(len(half)) + 1
    following[last] = last + 1 - meeting
    fits = along & ~along[following]
    single = np.ones(len(half), dtype=bool)
    single[fits] = single[following[fits]] = False
    single = np.flatnonzero(single)
    same = edge[single[1:]] == edge[single[:-1]]
    first = np.concatenate([half[fits], half[single[:-1][same]]])
    other = np.concatenate([half[following[fits]], half[single[1:][same]]])
    return first, other
