"""Points near points, found by a grid of cubic cells."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

MAX_CELLS_AN_AXIS = 1 << 20  # three of them make a number of 63 bits


def within(
    points: NDArray[np.float64], rows: NDArray[np.intp], radius: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Every pair (k, other) of a row of `rows` and a point nearer to points[rows[k]] than `radius` (m), itself too.

    points : (n, 3) meters. In the order of k. Cost: one sort of the points, then the pairs.
    """
    low = points.min(axis=0)
    side = max(radius, float(np.ptp(points, axis=0).max()) / (MAX_CELLS_AN_AXIS - 4))
    cell = np.floor((points - low) / side).astype(np.int64) + 1
    key = _key(cell)
    order = np.argsort(key, kind="stable")
    key = key[order]
    near = (np.indices((3, 3)).reshape(2, -1).T - 1)[None] + cell[rows, None, :2]  # the columns of cells round each row
    column = np.concatenate([near, np.broadcast_to(cell[rows, None, 2:], (*near.shape[:2], 1))], axis=2)
    first = np.searchsorted(key, _key(column - (0, 0, 1))).reshape(-1)
    repeats = np.searchsorted(key, _key(column + (0, 0, 1)), side="right").reshape(-1) - first
    of = np.repeat(np.arange(len(repeats)), repeats)
    other = order[np.arange(len(of)) - (np.cumsum(repeats) - repeats)[of] + first[of]]
    row = of // near.shape[1]
    gap = points[other] - points[rows[row]]
    inside = np.einsum("ij,ij->i", gap, gap) < radius**2
    inside |= other == rows[row]
    return row[inside], other[inside]


def _key(cell: NDArray[np.int64]) -> NDArray[np.int64]:
    """One number for each cell (..., 3), in which those of a column follow each other."""
    return (cell[..., 0] * MAX_CELLS_AN_AXIS + cell[..., 1]) * MAX_CELLS_AN_AXIS + cell[..., 2]
