"""Points spread evenly over a surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..geometry.sampling import R2

Array = NDArray[np.float64]


def spread(corners: Array, weight: Array, count: int) -> tuple[NDArray[np.intp], Array]:
    """(n,) triangles and (n, 3) points on them, each for as much of the weight.

    corners : (m, 3, 3) m; weight : (m,) of each triangle, not all zero; the same points at every call
    """
    ends = np.cumsum(weight)
    face = np.searchsorted(ends, (np.arange(count) + 0.5) / count * ends[-1]).astype(np.intp)
    a, b = ((0.5 + np.outer(np.arange(count), R2)) % 1.0).T
    root = np.sqrt(a)
    share = np.stack([1.0 - root, root * (1.0 - b), root * b], axis=1)
    return face, np.einsum("kc,kcx->kx", share, corners[face])
