"""Lines on a surface: where parallel planes cut it, for outlines and hatching that do not depend on hue.

The lines are cut from the triangles themselves, so they look alike on twelve large faces or a million.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .clip import lone_corner


def cut(
    corners: NDArray[np.float64], height: NDArray[np.float64], levels: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Lines where a linear function of place takes the given levels.

    corners : (n, 3, 3) of triangles; height : (n, 3) the function at each corner; levels : (k,), rising.
    Returns (segments (s, 2, 3), the row of the triangle that each lies on (s,)). A level that runs along
    a triangle's edge is drawn once, by the triangle above it.
    """
    levels = np.asarray(levels, dtype=np.float64).reshape(-1)
    low, high = height.min(axis=1), height.max(axis=1)
    first, end = np.searchsorted(levels, low, "left"), np.searchsorted(levels, high, "left")
    repeats = end - first
    face = np.repeat(np.arange(len(corners)), repeats)
    inside = np.arange(len(face)) - np.repeat(np.cumsum(repeats) - repeats, repeats)
    level = levels[first[face] + inside]
    points, value = corners[face], height[face] - level[:, None]
    alone, _ = lone_corner(value > 0)
    rows = np.arange(len(face))
    tip, tip_value = points[rows, alone], value[rows, alone]
    ends = []
    for turn in (1, 2):
        other = (alone + turn) % 3
        part = tip_value / (tip_value - value[rows, other])
        ends.append(tip + part[:, None] * (points[rows, other] - tip))
    return np.stack(ends, axis=1), face.astype(np.int32)


def above(
    segments: NDArray[np.float64], direction: ArrayLike, level: float | NDArray[np.float64]
) -> NDArray[np.float64]:
    """The parts of segments (s, 2, 3) that stand at or above the level (one, or (s,)) along `direction`."""
    height = segments @ np.asarray(direction, dtype=np.float64) - np.reshape(level, (-1, 1))
    keep = (height >= 0).any(axis=1)
    start, end = segments[keep, 0], segments[keep, 1]
    h0, h1 = height[keep, 0], height[keep, 1]
    rise = np.where(h0 == h1, 1.0, h0 - h1)
    meet = start + (h0 / rise)[:, None] * (end - start)
    return np.stack([np.where((h0 < 0)[:, None], meet, start), np.where((h1 < 0)[:, None], meet, end)], axis=1)


def hatch(corners: NDArray[np.float64], spacing: float) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Parallel lines `spacing` apart over triangles (n, 3, 3), with the row of the triangle of each.

    The planes lean on all three axes, so that no face of an upright box lies along them.
    """
    height = corners @ (np.array([1.0, 1.27, 1.61]) / np.linalg.norm([1.0, 1.27, 1.61]))
    if not len(corners):
        return np.zeros((0, 2, 3)), np.zeros(0, dtype=np.int32)
    levels = np.arange(np.ceil(height.min() / spacing), np.floor(height.max() / spacing) + 1) * spacing
    return cut(corners, height, levels)


def border(triangles: NDArray[np.int32], chosen: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Edges (e, 2), as pairs of points, that part the chosen triangles from the others or from nothing."""
    edge = np.sort(triangles[chosen][:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, count = np.unique(edge, axis=0, return_counts=True)
    return unique[count == 1]
