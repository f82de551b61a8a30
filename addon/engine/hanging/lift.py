"""Trapped gas as buoyancy: how much it lifts, through which point, and how far it swings the part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..trapping.basins import find_basins
from ..trapping.pockets import Filling, fill
from ..trapping.relief import Relief
from .balance import Balance, Load, balance, settled_up

MIN_SWING_RAD = 1e-6  # rad: a smaller swing is rounding


def gas_load(relief: Relief, up: NDArray[np.float64]) -> Load:
    """The gas trapped with `up` upright, as a massless load that displaces bath."""
    volume, centre = moments(fill(relief, find_basins(relief, up)))
    return Load(0.0, centre, volume, centre)


def moments(filling: Filling) -> tuple[float, NDArray[np.float64]]:
    """Volume (m3) and centroid (3,) of the gas; the centroid is the origin where there is none.

    By Gauss's theorem over the surface above each lip, as the volume in `pockets.fill`: with h the height over
    the lip, the level moments are the integrals of x h, the upright one that of h^2 / 2, times the downward
    part of the normal. These are of second degree, so the rule of edge middles is exact on each piece.
    """
    relief, up = filling.relief, filling.basins.up
    volume = float(filling.volume.sum())
    if not volume > 0:
        return 0.0, np.zeros(3)
    index = np.stack([column[filling.triangle] for column in relief.corners], axis=1)
    level = filling.level[filling.basin]
    height = filling.basins.height[index] - level[:, None]
    order = np.argsort(height, axis=1)
    height = np.take_along_axis(height, order, axis=1)
    points = relief.points[np.take_along_axis(index, order, axis=1)]
    down = -(relief.vector[filling.triangle] @ up)
    low, middle, high = height.T
    lone = middle <= 0  # one corner in the gas: only its tip; else all but the tip of the lowest corner, if that is wet
    whole = np.where(lone, 0.0, 1.0)
    tip = np.where(lone, 2, 0)
    cut = np.where(lone, 1.0, np.where(low < 0, -1.0, 0.0))
    rows = np.arange(len(tip))
    start, start_height = points[rows, tip], height[rows, tip]
    pieces = [(whole * down, points, height)]
    ends = np.stack([np.where(lone, 0, 1), np.where(lone, 1, 2)], axis=1)
    share = np.stack([_zero_crossing(start_height, height[rows, ends[:, k]]) for k in range(2)], axis=1)
    tips = start[:, None] + share[..., None] * (points[rows[:, None], ends] - start[:, None])
    corners = np.concatenate([start[:, None], tips], axis=1)
    heights = np.concatenate([start_height[:, None], np.zeros((len(tip), 2))], axis=1)
    pieces.append((cut * share.prod(axis=1) * down, corners, heights))
    first, second, upright = 0.0, np.zeros(3), 0.0
    for weight, at, over in pieces:
        for k in range(3):  # middles of the edges
            place, rise = (at[:, k] + at[:, k - 1]) / 2, (over[:, k] + over[:, k - 1]) / 2
            first += float(weight @ rise) / 3
            second += (weight * rise) @ place / 3
            upright += float(weight @ (rise * (level + rise / 2))) / 3
    centre = second / first
    return volume, centre + (upright / first - centre @ up) * up


def balance_with_gas(
    load: Load, gas: Load, bath_density: float, contact: NDArray[np.float64] | None
) -> tuple[Balance, float | None]:
    """The net load with its gas, and the turn (radians) that it makes on one wire; None if it floats."""
    empty, full = balance([load], bath_density), balance([load, gas], bath_density)
    if contact is None:
        return full, None
    before, after = settled_up(contact, empty), settled_up(contact, full)
    # angle between unit vectors without the rounding of an arc cosine (W. Kahan, Mindless Assessments of Roundoff,
    # 2006)
    turn = 2.0 * float(np.arctan2(np.linalg.norm(after - before), np.linalg.norm(after + before)))
    if not np.isfinite(turn):
        return full, None
    return full, turn if turn > MIN_SWING_RAD else 0.0


def _zero_crossing(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of the way from a height to another at which it is zero; 0 where both lie on one side."""
    apart = start - end
    return np.divide(start, apart, out=np.zeros_like(start), where=(apart != 0) & (start * end <= 0))
