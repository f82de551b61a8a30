"""Numbers as colors: one ramp, its limits, tick values and histogram.

The ramp runs from ink blue over copper to straw. Lightness and the blue-yellow axis rise along it
together, so that eyes without red-green vision, or a gray print, read the same order.
"""

from __future__ import annotations

from math import comb

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .geometry.quantiles import weighted_quantiles

NEUTRAL = (0.33, 0.33, 0.33)  # linear gray of a face that has no number: not plated, not computed

# OKLab (B. Ottosson, 2020; constants as published there): to cone responses, and those to linear sRGB.
_TO_CONES = np.array(
    [[1, 0.3963377774, 0.2158037573], [1, -0.1055613458, -0.0638541728], [1, -0.0894841775, -1.2914855480]]
)
_TO_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)

# The ramp in OKLab: lightness runs evenly from dark to light while a and b follow a Bezier curve.
_DARK, _LIGHT = 0.27, 0.95
_HUES = np.array([(-0.005, -0.085), (0.10, -0.135), (0.16, 0.02), (0.13, 0.165), (0.0, 0.155), (-0.02, 0.055)])


def ramp(share: ArrayLike) -> NDArray[np.float32]:
    """Linear sRGB (n, 3) of numbers from 0 to 1; outside they are clipped, and nan is neutral gray."""
    share = np.asarray(share, dtype=np.float64).reshape(-1)
    none = np.isnan(share)
    row = np.where(none, 0.0, share).clip(0.0, 1.0) * (len(_TABLE) - 2) + 0.5
    return _TABLE[np.where(none, len(_TABLE) - 1, row.astype(np.int32))]


def _table(rows: int = 1024) -> NDArray[np.float32]:
    """The ramp in even steps, linear sRGB, and neutral gray as its last row."""
    t = np.linspace(0.0, 1.0, rows)
    last = len(_HUES) - 1
    weights = np.stack([comb(last, k) * t**k * (1 - t) ** (last - k) for k in range(last + 1)], axis=1)
    lab = np.column_stack([_DARK + (_LIGHT - _DARK) * t, weights @ _HUES])
    rgb = (lab @ _TO_CONES.T) ** 3 @ _TO_RGB.T
    return np.vstack([rgb, NEUTRAL]).astype(np.float32)


_TABLE = _table()


def encoded(linear: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB as display values (IEC 61966-2-1), for drawing that is not color managed."""
    linear = np.asarray(linear, dtype=np.float64)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055)


def decoded(display: ArrayLike) -> NDArray[np.float64]:
    """Display values as linear sRGB (IEC 61966-2-1), for blending."""
    display = np.asarray(display, dtype=np.float64)
    return np.where(display <= 0.04045, display / 12.92, ((display + 0.055) / 1.055) ** 2.4)


def shares(values: ArrayLike, low: float, high: float) -> NDArray[np.float64]:
    """Where values stand between low (0) and high (1); nan stays nan. All 0.5 where low equals high."""
    values = np.asarray(values, dtype=np.float64)
    if not high > low:
        return np.where(np.isnan(values), np.nan, 0.5)
    return (values - low) / (high - low)


def limits(values: ArrayLike, weight: ArrayLike, tail: float = 0.01) -> tuple[float, float]:
    """The range that holds all but a `tail` share of the weight at each end; (0, 1) of no numbers.

    Otherwise a few faces at a sharp edge would use up the whole ramp.
    """
    values, weight = np.asarray(values, dtype=np.float64), np.asarray(weight, dtype=np.float64)
    use = np.isfinite(values) & (weight > 0)
    if not use.any():
        return 0.0, 1.0
    low, high = weighted_quantiles(values[use], weight[use], (tail, 1 - tail))
    return float(low), float(high)


def ticks(low: float, high: float, count: int = 5) -> NDArray[np.float64]:
    """Round numbers from low to high: 1, 2 or 5 times a power of ten apart, in at most `count` steps."""
    if not high > low:
        return np.array([low])
    least = (high - low) / count * (1 - 1e-9)
    power = 10.0 ** np.floor(np.log10(least))
    step = next(k * power for k in (1, 2, 5, 10) if k * power >= least)
    first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
    return np.arange(first, last + 1) * step + 0.0  # avoids -0


def histogram(values: ArrayLike, weight: ArrayLike, low: float, high: float, bins: int = 32) -> NDArray[np.float64]:
    """The share of the weight in each of `bins` equal steps from low to high; the outer bins take values outside."""
    values, weight = np.asarray(values, dtype=np.float64), np.asarray(weight, dtype=np.float64)
    use = ~np.isnan(values) & (weight > 0)
    place = shares(values[use], low, high).clip(0.0, 1.0) * bins
    held = np.bincount(np.minimum(place.astype(np.int64), bins - 1), weight[use], minlength=bins)
    return np.asarray(held, dtype=np.float64) / (float(weight[use].sum()) or 1.0)
