"""How often a surface goes round a point, from the solid angles of its triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PAIRS_PER_BATCH = 20_000  # the temporaries stay in the processor's cache


def winding(points: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """How often closed triangles (m, 3, 3) go round each point (n, 3): 1 inside a surface wound outward, 0 outside.

    The sum of the triangles' solid angles over 4 pi, each tan(angle / 2) = a . b x c / (abc + (a . b) c + ...) of the
    vectors a, b, c to its corners (A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125).
    Cost: n m. The layer potentials of `field.bem.integrals` have the same angle from lengths that they need anyway.
    """
    out, table = np.zeros(len(points)), np.ascontiguousarray(corners.reshape(len(corners), 9).T)
    for some in range(0, len(corners), PAIRS_PER_BATCH):
        part = table[:, some : some + PAIRS_PER_BATCH]
        batch = max(1, PAIRS_PER_BATCH // part.shape[1])
        for start in range(0, len(points), batch):
            at = points[start : start + batch].T[:, :, None]
            out[start : start + batch] += _half_angles(*(part[3 * k : 3 * k + 3, None] - at for k in range(3)))
    return out / (2.0 * np.pi)


def _half_angles(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) sums over m triangles, of the vectors (3, n, m) to their corners."""
    la, lb, lc = (np.sqrt(_dot(v, v)) for v in (a, b, c))
    across = (b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0])
    triple = a[0] * across[0] + a[1] * across[1] + a[2] * across[2]
    below = la * lb * lc + _dot(a, b) * lc + _dot(b, c) * la + _dot(c, a) * lb
    return np.arctan2(triple, below).sum(axis=1)


def _dot(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]
