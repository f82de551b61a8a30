"""Where a point lies on a part held upright: which side, which way its face looks, how far from top or bottom."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

CENTRAL_SHARE = 0.2  # of the half width: nearer to the axis than this has no side
STEEP_COSINE = 0.8  # to the vertical, beyond which a face looks up or down
INNER_COSINE = -0.5  # between a face and the way out, below which it is an inner wall


@dataclass(frozen=True)
class Location:
    """side : eighth of a turn, 0 the front, counted to the right as one faces it; None near the axis
    faces : "up", "down", "in" or "" (outward, or not known); toward : eighth that a level face near the axis looks to
    below_top, above_bottom : meters along the part held upright; size : meters, of the part
    """

    side: int | None
    faces: str
    toward: int | None
    below_top: float
    above_bottom: float
    size: float


def locate(bounds: ArrayLike, up: ArrayLike, point: ArrayLike, normal: ArrayLike | None = None) -> Location:
    """The location of a point of the part.

    bounds : (2, 3) meters, lowest and highest corner; up : (3,) in model axes; point : (3,) meters;
    normal : (3,) outward, to tell a face that looks up or down and an inner wall from an outer one.

    The part is thought of as held with the model axis that is nearest to `up` upright, so that the distance can be
    measured along the part itself; the front is the model's -Y side (+Z if Y is upright), and left and right are as
    seen when facing it.
    """
    axes = frame(up)
    low, high = np.sort(np.asarray(bounds, dtype=float) @ axes.T, axis=0)
    spot = axes @ np.asarray(point, dtype=float)
    where = side((spot - (low + high) / 2)[:2], (high - low)[:2] / 2)
    facing = np.zeros(3) if normal is None else axes @ np.asarray(normal, dtype=float)
    looks, toward = "", None
    if facing.any():
        looks, toward = _facing(facing / np.linalg.norm(facing), spot - (low + high) / 2, where)
    return Location(where, looks, toward, float(high[2] - spot[2]), float(spot[2] - low[2]), float((high - low).max()))


def upright_axis(up: ArrayLike) -> NDArray[np.float64]:
    """The signed model axis nearest to `up`; of equals the last, so that Z wins over Y over X."""
    direction = np.asarray(up, dtype=float)
    axis = 2 - int(np.abs(direction[::-1]).argmax())
    return np.eye(3)[axis] * (1.0 if direction[axis] >= 0 else -1.0)


def frame(up: ArrayLike) -> NDArray[np.float64]:
    """Rows: the viewer's right, away from the viewer, up, for someone who faces the part's front."""
    upright = upright_axis(up)
    away = np.array([0.0, 0.0, -1.0]) if upright[1] else np.array([0.0, 1.0, 0.0])
    return np.array([np.cross(away, upright), away, upright])


def side(offset: NDArray[np.float64], half: NDArray[np.float64], central: float = CENTRAL_SHARE) -> int | None:
    """Which eighth an offset (right, away) lies in, 0 the front; None near the axis."""
    right, away = np.divide(offset, half, out=np.zeros(2), where=half > 0)
    if math.hypot(right, away) <= central:
        return None
    return round(math.degrees(math.atan2(right, -away)) / 45) % 8


def _facing(normal: NDArray[np.float64], offset: NDArray[np.float64], where: int | None) -> tuple[str, int | None]:
    """What the face looks at if that is not outward, and the eighth that a level face near the axis looks to."""
    if abs(normal[2]) > STEEP_COSINE:
        return ("up" if normal[2] > 0 else "down"), None
    if where is None:
        return "", side(normal[:2], np.ones(2), 0.0)
    lengths = float(np.linalg.norm(normal[:2]) * np.linalg.norm(offset[:2]))
    return ("in" if float(normal[:2] @ offset[:2]) < INNER_COSINE * lengths else ""), None
