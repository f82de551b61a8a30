"""Nearest points among many, in any number of dimensions: blocks along Morton's curve are left out whole.

Distances are compared in single precision; among equals the first point wins. Sums avoid BLAS, whose kernels round
differently: each processor would pick another of equidistant points.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import morton

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.intp]

QUERIES, POINTS = 64, 16  # of a block
ROUND_OFF = 1e-5  # of the largest squared distance from the middle: single precision, with room


def least(queries: Array, points: Array) -> Ints:
    """For each query (n, k) the point (p, k) at the least distance, (n,). The first three coordinates are places."""
    if not len(queries):
        return np.empty(0, dtype=np.intp)
    middle = points.mean(axis=0)
    left, right = (queries - middle).astype(np.float32), (points - middle).astype(np.float32)
    half = _half_square(right)
    along = morton.order(points[:, :3])
    cuts = np.arange(0, len(along), POINTS)
    low, high = (bound.reduceat(right[along], cuts, axis=0) for bound in (np.minimum, np.maximum))
    centers = 0.5 * (low + high)
    slack = ROUND_OFF * float(half.max())
    out = np.empty(len(left), dtype=np.intp)
    asked = morton.order(queries[:, :3])
    for start in range(0, len(asked), QUERIES):
        rows = asked[start : start + QUERIES]
        batch = left[rows]
        guess = _members(along, np.unique(_scores(batch, centers, _half_square(centers)).argmin(axis=1)))
        far = float((_scores(batch, right[guess], half[guess]).min(axis=1) + _half_square(batch)).max()) + slack
        gap = np.maximum(np.maximum(low - batch.max(axis=0), batch.min(axis=0) - high), np.float32(0.0))
        near = _members(along, np.flatnonzero(_half_square(gap) <= far))
        out[rows] = near[_scores(batch, right[near], half[near]).argmin(axis=1)]
    return out


def _members(along: Ints, blocks: Ints) -> Ints:
    """The points of some blocks, in rising order."""
    places = (blocks[:, None] * POINTS + np.arange(POINTS)).reshape(-1)
    return np.sort(along[places[places < len(along)]])


def _half_square(vectors: Single) -> Single:
    return np.float32(0.5) * np.einsum("ij,ij->i", vectors, vectors)


def _scores(queries: Single, points: Single, half: Single) -> Single:
    """(n, p) half the squared distance up to a constant; half : (p,) of the points"""
    score = np.repeat(half[None], len(queries), axis=0)
    for axis in range(queries.shape[1]):
        score -= queries[:, axis, None] * points[:, axis]
    return score
