"""One point a place: which points of a model are the same."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from .labels import connected

NEAR = 1e-7  # of the size: a file in single precision cannot tell points nearer than this apart


def welded(
    points: NDArray[np.float64], triangles: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """The used points, equal ones made one, and the triangles that name them. Sorts once: v log v."""
    used = np.zeros(len(points), dtype=bool)
    used[triangles] = True
    place = np.cumsum(used) - 1
    points = points[used] + 0.0  # so that -0 equals 0
    same = _alike(points.view(np.int64))
    first = np.flatnonzero(same == np.arange(len(points)))
    number = np.empty(len(points), dtype=np.int32)
    number[first] = np.arange(len(first), dtype=np.int32)
    return points[first], number[same[place[triangles]]]


def close_gaps(
    points: NDArray[np.float64], rim: NDArray[np.integer], size: float
) -> NDArray[np.int32]:
    """For every point its substitute: points of `rim` nearer than `NEAR` x size become the first of them.

    Points that near share a cell in at least one of eight grids, each shifted by half a cell along some axes.
    """
    at = points[rim] / (4.0 * NEAR * size)
    pairs = []
    for shift in product((0.0, 0.5), repeat=3):
        same = _alike(np.floor(at + shift).astype(np.int64))
        pairs.append(np.stack([same, np.arange(len(rim))]))
    a, b = np.concatenate(pairs, axis=1)
    label, count = connected(len(rim), a, b)
    first = np.full(count, len(points))
    np.minimum.at(first, label, rim)
    substitute = np.arange(len(points), dtype=np.int32)
    substitute[rim] = first[label]
    return substitute


def _alike(rows: NDArray[np.int64]) -> NDArray[np.intp]:
    """For every row (n, 3) the lowest index of a row equal to it.

    Rows are sorted by a mixed key of 64 bits. Should unequal rows share a key, equal ones may stay apart:
    at a million points that happens once in 4e7 models.
    """
    mixed = rows.view(np.uint64) * np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], np.uint64)
    key = mixed[:, 0] ^ (mixed[:, 1] >> np.uint64(7)) ^ (mixed[:, 2] << np.uint64(9)) ^ mixed[:, 1]
    key ^= key >> np.uint64(29)
    order = np.argsort(key, kind="stable")
    new = np.ones(len(rows), dtype=bool)
    new[1:] = (rows[order[1:]] != rows[order[:-1]]).any(axis=1)
    run = np.flatnonzero(new)
    alike = np.empty(len(rows), dtype=np.intp)
    alike[order] = order[run][np.cumsum(new) - 1]
    return alike
