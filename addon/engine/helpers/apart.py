"""Whether what is printed stays apart from what else is printed for the same tank."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from ..errors import InputError
from ..field.clearance import crossing
from ..filled import filled
from ..geometry.closest import to_origin
from ..units import in_mm
from .lattice import Array
from .printed import SAMPLE_M, sampled


class Standing(NamedTuple):
    """Something in the tank: what it is called, and its triangles (m, 3, 3) m in the tank's axes."""

    name: str
    corners: Array


def check(things: Sequence[Standing], clearance: float) -> None:
    """Raises InputError, one line that names both, where two come nearer to each other than the clearance, m."""
    boxes = [(one.corners.min(axis=(0, 1)), one.corners.max(axis=(0, 1))) for one in things]
    for (i, one), (j, other) in combinations(enumerate(things), 2):
        if one.name == other.name:
            continue
        gap = np.maximum(boxes[i][0] - boxes[j][1], boxes[j][0] - boxes[i][1])
        if gap.max() < clearance and distance(one.corners, other.corners, clearance) < clearance:
            raise InputError(
                filled(
                    "{one} and {other} come nearer to each other in this tank than {wanted}; print only one of them,"
                    " or move one out of the way of the other",
                    one=one.name,
                    other=other.name,
                    wanted=in_mm(clearance),
                )
            )


def distance(one: Array, other: Array, reach: float) -> float:
    """m between two sets of triangles (m, 3, 3), 0 where they meet; inf where that is more than `reach`, m.

    From points `SAMPLE_M` apart on either to the triangles of the other.
    """
    low = np.maximum(one.min(axis=(0, 1)), other.min(axis=(0, 1))) - reach
    high = np.minimum(one.max(axis=(0, 1)), other.max(axis=(0, 1))) + reach
    near = [some[((some.max(axis=1) >= low) & (some.min(axis=1) <= high)).all(axis=1)] for some in (one, other)]
    if not (len(near[0]) and len(near[1])):
        return float("inf")
    if crossing(*near):
        return 0.0
    found = float("inf")
    for some, others in (near, near[::-1]):
        points = sampled(some, SAMPLE_M)
        points = points[((points >= low) & (points <= high)).all(axis=1)]
        for triangle in others:
            ahead = (points >= triangle.min(axis=0) - reach) & (points <= triangle.max(axis=0) + reach)
            if (some_near := points[ahead.all(axis=1)]).size:
                away = to_origin(triangle - some_near[:, None])
                found = min(found, float(np.linalg.norm(away, axis=1).min()))
    return found if found <= reach else float("inf")
