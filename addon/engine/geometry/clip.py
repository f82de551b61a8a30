"""What part of a triangle lies above a level, exactly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def lone_corner(above: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Which corner (n,) of each triangle is alone on its side of a level, and whether that is above (n,).

    above : (n, 3) whether each corner is; one or two of the three are.
    """
    lone = above.sum(axis=1) == 1
    return np.where(lone[:, None], above, ~above).argmax(axis=1), lone


def above(height: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Share and mean of the part of each triangle that lies above zero.

    height : (n, 3) of the corners over the level. Returns (share (n,) of the area that lies above the level;
    mean (n,) of max(height, 0) over the whole triangle). Both exact: height is linear on a triangle.
    """
    a, b, c = np.ascontiguousarray(height.T)
    below, over = np.minimum(a, b), np.maximum(a, b)
    # as a sort of three, which numpy does row by row
    low, middle, high = np.minimum(below, c), np.maximum(below, np.minimum(over, c)), np.maximum(over, c)
    peak = _tip(high, high - middle, high - low)  # the corner that stands out when one is above
    pit = _tip(-low, middle - low, high - low)  # the corner that is cut off when two are
    lone = middle <= 0
    share = np.where(lone, peak, 1.0 - pit)
    mean = np.where(lone, peak * np.maximum(high, 0), low + middle + high + pit * np.maximum(-low, 0)) / 3
    return share, mean


def _tip(rise: NDArray[np.float64], a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of a triangle's area within `rise` of a corner; the others lie `a` and `b` away from it."""
    rise = np.maximum(rise, 0)
    base = a * b
    return np.divide(rise * rise, base, out=np.zeros_like(rise), where=(rise > 0) & (base > 0))
