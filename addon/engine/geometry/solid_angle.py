"""How often a surface goes round a point, from the solid angles of its triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PAIRS_PER_BATCH = 100_000


def winding(points: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """How often closed triangles (m, 3, 3) go round each point (n, 3): 1 inside a surface wound outward, 0 outside.

    The sum of the triangles' solid angles over 4 pi, each tan(angle / 2) = a . b x c / (abc + (a . b) c + ...) of the
    vectors a, b, c to its corners (A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125).
    Cost: n m. The layer potentials of `field.bem.integrals` have the same angle from lengths that they need anyway.
    """
    out = np.empty(len(points))
    for start in range(0, len(points), batch := max(1, PAIRS_PER_BATCH // max(len(corners), 1))):
        part = slice(start, start + batch)
        a, b, c = (corners[None, :, k] - points[part, None] for k in range(3))
        la, lb, lc = (np.sqrt(np.einsum("ijk,ijk->ij", v, v)) for v in (a, b, c))
        triple = np.einsum("ijk,ijk->ij", a, np.cross(b, c))
        dot = [np.einsum("ijk,ijk->ij", v, w) for v, w in ((a, b), (b, c), (c, a))]
        out[part] = np.arctan2(triple, la * lb * lc + dot[0] * lc + dot[1] * la + dot[2] * lb).sum(axis=1)
    return out / (2.0 * np.pi)
