"""The lowest and highest density over places large enough to measure a thickness on.

At a sharp edge the primary density is unbounded, and in a sharp corner it goes to zero; the value of the smallest
panel there depends on its size. So both are means over patches of one size, whatever the panels.
"""

from __future__ import annotations

import numpy as np

from ..geometry.cells import within
from .pieces import Array, Ints, area, normals

MIN_PATCH_AREA_SHARE = 5e-4  # of the plated area
MIN_PIECES_PER_PATCH = 8.0  # pieces of even size a patch: they make up for each other's errors
MAX_TRIED_PIECES = 300  # panels at either end that a patch is laid round
MIN_SAME_SIDE_COS = 0.5  # cosine between normals: a patch does not reach round a sharp edge


def extremes(pieces: Array, values: Array, whole: float) -> tuple[float, float]:
    """The lowest and the highest mean over a patch round one of the lowest and highest pieces.

    pieces : (n, 3, 3) meters, all that count; values : (n,); whole : m2 of the surface that patches are a share of
    """
    middle, facing, size = pieces.mean(axis=1), normals(pieces), area(pieces)
    radius = float(np.sqrt(max(MIN_PATCH_AREA_SHARE, MIN_PIECES_PER_PATCH / len(pieces)) * whole / np.pi))

    def means(rows: Ints) -> Array:
        row, other = within(middle, rows, radius)
        alike = np.einsum("ij,ij->i", facing[rows[row]], facing[other]) > MIN_SAME_SIDE_COS
        weight = np.where(alike | (other == rows[row]), size[other], 0.0)
        return np.bincount(row, weight * values[other]) / np.bincount(row, weight)

    order = np.argsort(values)
    return float(means(order[:MAX_TRIED_PIECES]).min()), float(means(order[-MAX_TRIED_PIECES:]).max())
