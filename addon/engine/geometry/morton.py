"""Morton's curve: one number a cell of a grid, near for cells that are near.

The bits of three coordinates are interleaved, by spreading each to every third place in five steps (G. M. Morton,
IBM report, 1966; the steps are common practice, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

MAX_BITS = 20  # an axis
# how far, and what is kept: bits stand closer with each step of spreading
STEPS = (
    (32, 0x1F00000000FFFF),
    (16, 0x1F0000FF0000FF),
    (8, 0x100F00F00F00F00F),
    (4, 0x10C30C30C30C30C3),
    (2, 0x1249249249249249),
)


def encode(at: NDArray[np.integer]) -> Ints:
    """Codes (...) of cells (..., 3), whole numbers from 0 to 2 ** `MAX_BITS` - 1."""
    x = at.astype(np.int64)
    for shift, mask in STEPS:
        x = (x | x << shift) & mask
    return x[..., 0] | x[..., 1] << 1 | x[..., 2] << 2


def decode(code: Ints) -> Ints:
    """Cells (..., 3) of codes (...)."""
    x = np.stack([code, code >> 1, code >> 2], axis=-1) & STEPS[-1][1]
    masks = [mask for _, mask in STEPS[-2::-1]] + [0x1FFFFF]
    for (shift, _), mask in zip(reversed(STEPS), masks, strict=True):
        x = (x | x >> shift) & mask
    return x


def order(points: NDArray[np.floating]) -> NDArray[np.intp]:
    """(n,) the order of points (n, 3) along the curve, so that neighbors follow each other."""
    points = np.asarray(points, dtype=np.float64)  # a span of nearly nothing overflows in single precision
    low = points.min(axis=0)
    span = max(float(np.ptp(points, axis=0).max()), 1e-300)
    return np.argsort(encode((points - low) * ((2**MAX_BITS - 1) / span)), kind="stable")
