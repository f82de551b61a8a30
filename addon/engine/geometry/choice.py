"""Reproducible choices among values that differ only by rounding: on a symmetric part every processor picks the
same."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

EQUAL = 1e-9  # of the largest value: what differs by less counts as equal


def first_least(values: ArrayLike) -> int:
    """The index of the least of some finite values (k,), the first of those that are equal to it but for rounding."""
    value = np.asarray(values, dtype=float)
    return int(np.argmax(value <= value.min() + EQUAL * np.abs(value).max()))


def descending(values: ArrayLike) -> NDArray[np.intp]:
    """The indices of finite values (k,) in falling order; those that are equal but for rounding keep their order."""
    value = np.asarray(values, dtype=float)
    step = EQUAL * float(np.abs(value).max(initial=0.0)) or 1.0
    return np.argsort(-np.round(value / step), kind="stable")


def nearest_to_middle(points: NDArray[np.float64], weight: NDArray[np.float64]) -> int:
    """Which of some points (k, 3) is nearest to their weighted middle: of a ring, where all are, the first."""
    offset = points - np.average(points, axis=0, weights=weight)
    return first_least(np.einsum("ij,ij->i", offset, offset))
