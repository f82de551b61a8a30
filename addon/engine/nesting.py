"""Shells inside shells: which are turned, enclosed or run into each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .orient import signed_volume, winding

SAMPLES = 5  # points of a shell that are looked up in another
BUDGET = 4e8  # solid angles at most; past that the smallest shells go unlooked


@dataclass(frozen=True, eq=False)
class Nesting:
    """How closed shells lie in each other; arrays (shells,).

    turned : wound against what their place asks; enclosed : wholly inside another, so not wetted
    overlapping : partly inside another; overlap : about which share of the whole area lies inside another body
    volume : m3 of solid
    """

    turned: NDArray[np.bool_]
    enclosed: NDArray[np.bool_]
    overlapping: NDArray[np.bool_]
    overlap: float
    volume: float


def nest(corners: NDArray[np.float64], shell: NDArray[np.int32], is_open: NDArray[np.bool_]) -> Nesting:
    """Nesting of shells.

    corners : (m, 3, 3) metres, wound alike within a shell; shell : (m,); is_open : (shells,)

    An outer shell that encloses a negative volume is inside out: it and all that lies in it is turned. A shell
    that lies in another is a void if it then runs the other way, and else a body lost in a body.
    """
    count = len(is_open)
    volume = signed_volume(corners, shell, corners.reshape(-1, 3).mean(axis=0))
    inside = _inside(corners, shell, is_open, np.abs(volume)) if count > 1 else np.zeros((count, count))
    depth = (inside > 0.99).sum(axis=1)
    partly = (inside > 0) & (inside <= 0.99)
    order = np.argsort(-np.abs(volume), kind="stable")
    host = np.array([next((j for j in order if inside[i, j] > 0.99 and depth[j] == 0), i) for i in range(count)])
    turned = (volume < 0)[host] & ~is_open
    signed = np.where(turned, -volume, volume)
    solid = np.where(depth == 0, signed, np.where(depth % 2 == 1, np.minimum(signed, 0), np.maximum(signed, 0)))
    area = np.bincount(shell, 0.5 * np.linalg.norm(np.cross(*(corners[:, k] - corners[:, 0] for k in (1, 2))), axis=1))
    lost = (np.where(partly, inside, 0).max(axis=1) * area).sum() / area.sum()
    return Nesting(turned, depth > 0, partly.any(axis=1) | partly.any(axis=0), float(lost), float(solid.sum()))


def _inside(
    corners: NDArray[np.float64], shell: NDArray[np.int32], is_open: NDArray[np.bool_], volume: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(shells, shells) share of sample points of shell i that lie inside shell j. Only boxes that meet are asked."""
    count = len(is_open)
    order = np.argsort(shell, kind="stable")
    starts = np.searchsorted(shell[order], np.arange(count + 1))
    members = [order[starts[k] : starts[k + 1]] for k in range(count)]
    low = np.array([corners[rows].min(axis=(0, 1)) for rows in members])
    high = np.array([corners[rows].max(axis=(0, 1)) for rows in members])
    share = np.zeros((count, count))
    left = BUDGET
    for j in np.argsort(-volume, kind="stable"):
        if is_open[j]:
            continue
        meets = ((low < high[j]) & (high > low[j])).all(axis=1) & (np.arange(count) != j)
        for i in np.flatnonzero(meets):
            left -= SAMPLES * len(members[j])
            if left < 0:
                return share
            rows = members[i][np.linspace(0, len(members[i]) - 1, SAMPLES).astype(int)]
            points = corners[rows].mean(axis=1)
            share[i, j] = (np.abs(winding(corners[members[j]], points)) > 0.5).mean()
    return share
