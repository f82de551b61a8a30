"""Percentiles by area: the one definition of every percentile that is shown."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def weighted_quantiles(values: ArrayLike, weights: ArrayLike, shares: ArrayLike) -> NDArray[np.float64]:
    """Weighted quantiles: for each share, the least value that at least that share of the weight does not exceed,
    (k,); nan without weight.

    values, weights : (n,), not-a-numbers and what weighs nothing passed over; shares : (k,) 0..1

    The inverse of the cumulative distribution (definition 1 of R. J. Hyndman and Y. Fan, Sample quantiles in
    statistical packages, Am. Stat. 50 (1996) 361; from memory): always a value that some face has, and the same
    however a face is cut into faces of its value. Cost: a sort.
    """
    values, weights = np.asarray(values, dtype=np.float64), np.asarray(weights, dtype=np.float64)
    shares = np.asarray(shares, dtype=np.float64)
    used = np.flatnonzero((weights > 0) & ~np.isnan(values))
    if not len(used):
        return np.full(shares.shape, np.nan)
    order = used[np.argsort(values[used], kind="stable")]
    below = np.cumsum(weights[order])
    # a share past a step only by rounding counts as at the step
    place = np.searchsorted(below, shares * below[-1] * (1 - 1e-12))
    return values[order[np.minimum(place, len(order) - 1)]]
