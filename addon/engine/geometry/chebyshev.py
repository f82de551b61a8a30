"""Interpolation at the zeros of a Chebyshev polynomial on -1 to 1.

J. C. Mason and D. C. Handscomb, Chebyshev Polynomials (2003), chapter 6: the interpolant is a sum of Chebyshev
polynomials whose coefficients follow from their discrete orthogonality over these zeros (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def nodes(count: int) -> Array:
    """(count,) the zeros of T_count, falling from below 1 to above -1."""
    return np.cos(np.pi * (np.arange(count) + 0.5) / count)


def cardinal(count: int, x: Array) -> tuple[Array, Array]:
    """Values and derivatives at x (n,), (count, n) each, of the polynomials that are one at one node and zero at
    the others.

    Both by the recurrence T_k = 2 x T_(k-1) - T_(k-2) and its derivative; count is 2 or more.
    """
    waves, slopes = np.empty((count, len(x))), np.empty((count, len(x)))
    waves[0], waves[1], slopes[0], slopes[1] = 1.0, x, 0.0, 1.0
    for k in range(2, count):
        waves[k] = 2.0 * x * waves[k - 1] - waves[k - 2]
        slopes[k] = 2.0 * waves[k - 1] + 2.0 * x * slopes[k - 1] - slopes[k - 2]
    at_nodes = np.cos(np.outer(np.pi * (np.arange(count) + 0.5) / count, np.arange(count))) * (2.0 / count)
    at_nodes[:, 0] *= 0.5
    return at_nodes @ waves, at_nodes @ slopes
