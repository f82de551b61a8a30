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
    after = np.array([1, 2, 0])
    corner = triangles.reshape(-1)
    halves, starts = topology.half_edges.astype(np.intp), topology.starts
    plain = np.flatnonzero(np.diff(starts) == 2)
    one, other = halves[starts[plain]], halves[starts[plain] + 1]
    first, second = _wedges(points, triangles, topology)
    one, other = np.concatenate([one, first]), np.concatenate([other, second])
    one_end, other_end = (half - half % 3 + after[half % 3] for half in (one, other))
    turned = corner[one] != corner[other]  # the usual case: the two run opposite ways
    label, count = connected(
        len(corner),
        np.concatenate([one, one_end]),
        np.concatenate([np.where(turned, other_end, other), np.where(turned, other, other_end)]),
    )
    origin = np.empty(count, dtype=np.intp)
    origin[label] = corner
    return label.reshape(-1, 3), origin


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
    one = np.concatenate([half[fits], half[single[:-1][same]]])
    other = np.concatenate([half[following[fits]], half[single[1:][same]]])
    return one, other
