"""Clearance checks between printed helpers of one tank and the rods that carry them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from ..errors import InputError
from ..field.clearance import crossing
from ..filled import filled
from ..geometry.closest import to_origin
from ..units import MM, in_mm
from .lattice import Array
from .printed import SAMPLE_M, sampled
from .turned import frustum

SLACK_M = 0.05 * MM  # m, within which two rods are the same, or one lies on the other


class Standing(NamedTuple):
    """A body in the tank: its name, and its triangles (m, 3, 3) m in the tank's axes."""

    name: str
    corners: Array


class Bar(NamedTuple):
    """A rod that lies across the tank: what hangs on it, its ends (3,) and its diameter, m."""

    bears: str
    start: Array
    end: Array
    diameter: float

    @property
    def name(self) -> str:
        """What it is called."""
        return filled("the rod of {name}", name=self.bears)

    @property
    def corners(self) -> Array:
        """(n, 3, 3) m, its triangles, slightly thinner than the rod, so that what lies on it does not cross it."""
        way = self.end - self.start
        length = float(np.linalg.norm(way))
        thin = self.diameter - 2 * SLACK_M
        points, triangles = frustum(self.start, way / length, (thin, thin), length)
        return points[triangles]


def check(bodies: Sequence[Standing], clearance: float, bars: Sequence[Bar] = ()) -> None:
    """Raises InputError, one line that names both, where two come nearer to each other than the clearance, m, a rod
    meets what does not hang on it, or two rods cross at one height."""
    for body, other in combinations(bodies, 2):
        if body.name != other.name and _near(body.corners, other.corners, clearance):
            raise _meeting(body.name, other.name, clearance)
    for bar in bars:
        for body in bodies:
            borne = any(_same(bar, other) for other in bars if other.bears == body.name)
            if not borne and _near(bar.corners, body.corners, clearance):
                raise _meeting(bar.name, body.name, clearance)
    for bar, crossed in combinations(bars, 2):
        if bar.bears == crossed.bears or _same(bar, crossed):
            continue
        if distance(bar.corners, crossed.corners, SLACK_M) == 0:
            raise _crossing(bar, crossed)


def _near(a: Array, b: Array, clearance: float) -> bool:
    gap = np.maximum(a.min(axis=(0, 1)) - b.max(axis=(0, 1)), b.min(axis=(0, 1)) - a.max(axis=(0, 1)))
    return bool(gap.max() < clearance and distance(a, b, clearance) < clearance)


def _same(bar: Bar, other: Bar) -> bool:
    """Whether two bars are the same rod, on which both bodies hang."""
    return all(np.abs(a - b).max() < SLACK_M for a, b in ((bar.start, other.start), (bar.end, other.end)))


def _meeting(first: str, second: str, clearance: float) -> InputError:
    return InputError(
        filled(
            "{one} and {other} come nearer to each other in this tank than {wanted}; print only one of them,"
            " or move one out of the way of the other",
            one=first,
            other=second,
            wanted=in_mm(clearance),
        )
    )


def _crossing(bar: Bar, other: Bar) -> InputError:
    if "hanger" in (bar.bears, other.bears):
        return InputError(
            filled(
                "the rods of {one} and {other} cross at one height on the rim; let the hanger's rod lie on the two"
                " others ({hanger.on_rods}) and make the hanger again",
                one=bar.bears,
                other=other.bears,
            )
        )
    return InputError(
        filled(
            "the rods of {one} and {other} meet on the rim; make the older of both again",
            one=bar.bears,
            other=other.bears,
        )
    )


def distance(a: Array, b: Array, reach: float) -> float:
    """m between two sets of triangles (m, 3, 3), 0 where they meet; inf where that is more than `reach`, m.

    From points `SAMPLE_M` apart on either to the triangles of the other.
    """
    low = np.maximum(a.min(axis=(0, 1)), b.min(axis=(0, 1))) - reach
    high = np.minimum(a.max(axis=(0, 1)), b.max(axis=(0, 1))) + reach
    near = [
        triangles[((triangles.max(axis=1) >= low) & (triangles.min(axis=1) <= high)).all(axis=1)]
        for triangles in (a, b)
    ]
    if not (len(near[0]) and len(near[1])):
        return float("inf")
    if crossing(*near):
        return 0.0
    least = float("inf")
    for triangles, others in (near, near[::-1]):
        points = sampled(triangles, SAMPLE_M)
        points = points[((points >= low) & (points <= high)).all(axis=1)]
        for triangle in others:
            ahead = (points >= triangle.min(axis=0) - reach) & (points <= triangle.max(axis=0) + reach)
            if (candidates := points[ahead.all(axis=1)]).size:
                away = to_origin(triangle - candidates[:, None])
                least = min(least, float(np.linalg.norm(away, axis=1).min()))
    return least if least <= reach else float("inf")
