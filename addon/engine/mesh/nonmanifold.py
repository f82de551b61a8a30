"""Points where a surface touches itself, taken apart: gas does not pass through a gap of no width."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged
from ..linalg.labels import connected
from .topology import Topology


def separate(
    points: NDArray[np.float64], triangles: NDArray[np.int32], topology: Topology
) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """One point for each fan of triangles round a point.

    Triangles that meet at an edge belong together; where more than two do, those that have the same wedge
    of liquid between them. Returns (triangles (t, 3) into the new points, origin (n,) the old point of each).
    """
    corner = triangles.reshape(-1).astype(np.intp)
    after = np.arange(1, len(corner) + 1)  # of each half-edge the next in its triangle
    after[2::3] -= 3
    halves, starts = topology.half_edges, topology.starts
    plain = starts[:-1][np.diff(starts) == 2]
    half, twin = halves[plain].astype(np.intp), halves[plain + 1].astype(np.intp)
    half_end, twin_end = after[half], after[twin]
    opposite = corner[half] != corner[twin]  # the usual case: the two run opposite ways
    half_to, twin_to = twin_end, twin
    if not opposite.all():
        half_to, twin_to = np.where(opposite, twin_end, twin), np.where(opposite, twin, twin_end)
    following = np.full(len(corner), -1, dtype=np.int32)
    following[half], following[twin] = np.where(opposite, twin_end, -1), np.where(opposite, half_end, -1)
    several = ~_single_fans(corner, following, topology.points)
    piece = corner  # of a point with one fan its number, of the others numbers beyond
    corners = np.flatnonzero(several[corner])
    if len(corners):
        piece, number = corner.copy(), np.zeros(len(corner), dtype=np.intp)
        number[corners] = np.arange(len(corners))
        first_end, second_end = several[corner[half]], several[corner[half_end]]
        first, second = _wedges(points, triangles, topology)
        turned = corner[first] != corner[second]
        pairs = [(half[first_end], half_to[first_end]), (half_end[second_end], twin_to[second_end])]
        pairs += [
            (first, np.where(turned, after[second], second)),
            (after[first], np.where(turned, second, after[second])),
        ]
        a, b = (number[np.concatenate(side)] for side in zip(*pairs, strict=True))
        piece[corners] = topology.points + connected(len(corners), a, b)[0]
    lowest = np.full(int(piece.max(initial=0)) + 1, -1)
    lowest[piece[::-1]] = np.arange(len(piece))[::-1]  # what is written last stays
    heads = np.zeros(len(piece), dtype=bool)
    heads[lowest[lowest >= 0]] = True
    label = (np.cumsum(heads, dtype=np.int32) - np.int32(1))[lowest[piece]]
    return label.reshape(-1, 3), corner[heads]


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
    it has the liquid before it. What finds no partner that way (solids that overlap) is taken together.
    """
    many = np.diff(topology.starts)[topology.non_manifold_edges]
    edge = np.repeat(topology.non_manifold_edges, many)
    rank = ragged.places(many)
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
    last = np.cumsum(many) - 1
    following = np.arange(len(half)) + 1
    following[last] = last + 1 - many
    fits = along & ~along[following]
    single = np.ones(len(half), dtype=bool)
    single[fits] = single[following[fits]] = False
    single = np.flatnonzero(single)
    same = edge[single[1:]] == edge[single[:-1]]
    first = np.concatenate([half[fits], half[single[:-1][same]]])
    other = np.concatenate([half[following[fits]], half[single[1:][same]]])
    return first, other
