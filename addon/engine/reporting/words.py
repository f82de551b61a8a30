"""Places and ways up in words that a person with the part in hand can follow."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..units import MM

AXES = ("X", "Y", "Z")
SIDES = ("front", "front right", "right", "back right", "back", "back left", "left", "front left")
CENTRAL = 0.2  # of the half width: nearer to the axis than this has no side
STEEP = 0.8  # cosine to the vertical beyond which a face looks up or down


def place(surface_bounds: ArrayLike, up: ArrayLike, point: ArrayLike, normal: ArrayLike | None = None) -> str:
    """Where a point of the part is: "back, 12 mm below the top".

    surface_bounds : (2, 3) meters, lowest and highest corner; up : (3,) in model axes; point : (3,) meters;
    normal : (3,) outward, to tell a face that looks up or down and an inner wall from an outer one.

    The part is thought of as held with the model axis that is nearest to `up` upright, so that the distance
    can be measured along the part itself; the front is the model's -Y side (+Z if Y is upright), and left
    and right are as seen when facing it.
    """
    frame = _frame(np.asarray(up, dtype=float))
    low, high = np.sort(np.asarray(surface_bounds, dtype=float) @ frame.T, axis=0)
    spot = frame @ np.asarray(point, dtype=float)
    side = _side(spot[:2] - (low + high)[:2] / 2, (high - low)[:2] / 2)
    where = "on the axis" if side is None else side
    facing = np.zeros(3) if normal is None else frame @ np.asarray(normal, dtype=float)
    if facing.any():
        where = _facing(facing / np.linalg.norm(facing), spot - (low + high) / 2, side)
    return f"{where}, {_level(spot[2], low[2], high[2], float((high - low).max()))}"


def frame_note(up: ArrayLike) -> str:
    """What the words of `place` are relative to, for the foot of a list of places."""
    upright = _upright(np.asarray(up, dtype=float))
    name = f"{'-' if upright.min() < 0 else '+'}{AXES[int(np.abs(upright).argmax())]}"
    front = "+Z" if upright[1] else "-Y"
    return f"Places: the part upright with the model's {name} up and its {front} side in front of you."


def sketch(up: ArrayLike) -> list[str]:
    """Four lines that show what front, back, left and right are, for the top of a plan."""
    right, away, upright = _frame(np.asarray(up, dtype=float))
    ahead, left = f"front ({_axis(-away)}), toward you", f"left ({_axis(-right)})"
    return [
        f"{'':14}back ({_axis(away)})",
        f"  {left:<12}[ {_axis(upright)} up ]   right ({_axis(right)})      Places are told with the part held so;",
        f"{'':14}{ahead:<32}figures in mm are the model's own.",
    ]


def counted(number: float, noun: str) -> str:
    """ "1 face", "1,200 faces"; "more" stays as it is."""
    return f"{number:,.0f} {noun}" + ("" if number == 1 or noun == "more" else "s")


def _axis(direction: NDArray[np.float64]) -> str:
    """ "+X" or "-Z": the axis that a direction lies along."""
    axis = int(np.abs(direction).argmax())
    return f"{'-' if direction[axis] < 0 else '+'}{AXES[axis]}"


def way_up(up: ArrayLike) -> str:
    """How to hold the model so that `up` points up: "tipped 35 degrees to the back"."""
    x, y, z = np.asarray(up, dtype=float) / np.linalg.norm(up)
    angle = math.degrees(math.acos(max(-1.0, min(1.0, z))))
    if angle < 1:
        return "as modeled"
    if angle > 179:
        return "upside down"
    raised, lowered = _side(np.array([x, y]), np.ones(2), 0.0), _side(np.array([-x, -y]), np.ones(2), 0.0)
    if angle > 135:
        return f"upside down, with the {raised} side raised {180 - angle:.0f} degrees"
    return f"tipped {angle:.0f} degrees to the {lowered}"


def hanging_direction(up: ArrayLike) -> str:
    """A hanging direction in a word or two, degrees from upright: "Upright", "On Its Back (92°)"."""
    x, y, z = np.asarray(up, dtype=float) / np.linalg.norm(up)
    angle = math.degrees(math.acos(max(-1.0, min(1.0, z))))
    if angle < 1:
        return "Upright"
    if angle > 179:
        return "Upside Down"
    side = _side(np.array([-x, -y]), np.ones(2), 0.0) or "back"
    if 60 <= angle <= 120 and side in ("front", "back"):
        return f"On Its {side.title()} ({angle:.0f}°)"
    if 60 <= angle <= 120:
        return f"On Its {side.title()} Side ({angle:.0f}°)"
    if angle > 120:
        return f"Upside Down, Tipped {side.title()} ({angle:.0f}°)"
    return f"Tipped {side.title()} ({angle:.0f}°)"


def millimeters(length: float, size: float = 1.0) -> str:
    """A length in whole mm, or in tenths on a part smaller than 20 mm. Both in meters."""
    return f"{length / MM:.1f} mm" if size < 20 * MM else f"{length / MM:.0f} mm"


def listed(items: Sequence[str]) -> str:
    """One line of several: a, b and c."""
    return " and ".join([", ".join(items[:-1]), items[-1]]) if len(items) > 1 else "".join(items)


def _upright(up: NDArray[np.float64]) -> NDArray[np.float64]:
    """The signed model axis nearest to `up`; of equals the last, so that Z wins over Y over X."""
    axis = 2 - int(np.abs(up[::-1]).argmax())
    return np.eye(3)[axis] * (1.0 if up[axis] >= 0 else -1.0)


def _frame(up: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rows: the viewer's right, away from the viewer, up, for someone who faces the part's front."""
    upright = _upright(up)
    away = np.array([0.0, 0.0, -1.0]) if upright[1] else np.array([0.0, 1.0, 0.0])
    return np.array([np.cross(away, upright), away, upright])


def _side(offset: NDArray[np.float64], half: NDArray[np.float64], central: float = CENTRAL) -> str | None:
    """Which of eight sides an offset (right, away) lies on; None near the axis."""
    right, away = np.divide(offset, half, out=np.zeros(2), where=half > 0)
    if math.hypot(right, away) <= central:
        return None
    return SIDES[round(math.degrees(math.atan2(right, -away)) / 45) % 8]


def _facing(normal: NDArray[np.float64], offset: NDArray[np.float64], side: str | None) -> str:
    """The side, and what the face looks at if that is not outward."""
    where = "on the axis" if side is None else side
    if normal[2] > STEEP:
        return f"facing up, {where}"
    if normal[2] < -STEEP:
        return f"underside, {where}"
    if side is None:
        return f"near the axis, facing {_side(normal[:2], np.ones(2), 0.0)}"
    lengths = float(np.linalg.norm(normal[:2]) * np.linalg.norm(offset[:2]))
    return f"{where}, inner wall" if float(normal[:2] @ offset[:2]) < -0.5 * lengths else where


def _level(height: float, low: float, high: float, size: float) -> str:
    """Distance from the nearer of top and bottom."""
    below, above = high - height, height - low
    near = 0.05 * MM if size < 20 * MM else 0.5 * MM
    if below <= above:
        return "at the top" if below < near else f"{millimeters(below, size)} below the top"
    return "at the bottom" if above < near else f"{millimeters(above, size)} above the bottom"
