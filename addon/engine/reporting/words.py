"""Places and ways up in words for somebody with the part in hand."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry.frames import unit
from ..geometry.location import Location, frame, locate, side
from ..settings import tables
from ..units import MM, mm
from .filled import Filled, filled, joined
from .language import Language, translated

AXES = ("X", "Y", "Z")
SIDES = ("front", "front right", "right", "back right", "back", "back left", "left", "front left")

_FACING = {
    "up": "facing up, {side}, {level}",
    "down": "underside, {side}, {level}",
    "in": "{side}, inner wall, {level}",
}
SKETCH_NOTES = "Places are given with the part held so;", "figures in mm are the model's own."


def place(surface_bounds: ArrayLike, up: ArrayLike, point: ArrayLike, normal: ArrayLike | None = None) -> str:
    """Where a point of the part is: "back, 12 mm below the top". Arguments as of `location.locate`."""
    return place_name(locate(surface_bounds, up, point, normal))


def place_name(where: Location | None) -> str:
    """A location in words; "elsewhere" for none."""
    if where is None:
        return "elsewhere"
    level = _level(where)
    if where.faces != "up" and where.faces != "down" and where.toward is not None:
        return filled("near the axis, facing {side}, {level}", side=SIDES[where.toward], level=level)
    side = "on the axis" if where.side is None else SIDES[where.side]
    return filled(_FACING.get(where.faces, "{side}, {level}"), side=side, level=level)


def sketch(up: ArrayLike, language: Language) -> list[str]:
    """Three lines that show what front, back, left and right are, for the top of a plan."""
    back, middle, ahead = compass(up, language)
    held, own = (translated(note, language) for note in SKETCH_NOTES)
    return [back, f"{middle:<42}{held}", f"{ahead:<46}{own}"]


def compass(up: ArrayLike, language: Language) -> list[str]:
    """The same three lines without their explanation."""

    def shown(template: str, direction: NDArray[np.float64]) -> str:
        return translated(filled(template, axis=_axis(direction)), language)

    right, away, upright = frame(up)
    ahead, left = shown("front ({axis}), toward you", -away), shown("left ({axis})", -right)
    middle = f"  {left:<12}{shown('[ {axis} up ]', upright)}   {shown('right ({axis})', right)}"
    return [f"{'':14}{shown('back ({axis})', away)}", middle, f"{'':14}{ahead}"]


def counted(number: float, noun: str) -> str:
    """ "1 face", "1,200 faces"; "more" stays as it is."""
    same = number == 1 or noun == "more"
    return filled("{count} {noun}", count=f"{number:,.0f}", noun=noun if same else f"{noun}s")


def _axis(direction: NDArray[np.float64]) -> str:
    """ "+X" or "-Z": the axis that a direction lies along."""
    axis = int(np.abs(direction).argmax())
    return f"{'-' if direction[axis] < 0 else '+'}{AXES[axis]}"


def way_up(up: ArrayLike) -> str:
    """How to hold the model so that `up` points up: "tipped 35 degrees to the back"."""
    x, y, _ = unit(up)
    angle = _tilt(up)
    if angle < 1:
        return "as modeled"
    if angle > 179:
        return "upside down"
    raised, lowered = _side(np.array([x, y])), _side(np.array([-x, -y]))
    if angle > 135:
        return filled(
            "upside down, with the {side} side raised {angle} degrees", side=raised, angle=f"{180 - angle:.0f}"
        )
    return filled("tipped {angle} degrees to the {side}", angle=f"{angle:.0f}", side=lowered)


def hanging_way(up: ArrayLike) -> str:
    """A hanging direction in a word or two: "Upright", "On Its Back"."""
    x, y, _ = unit(up)
    angle = _tilt(up)
    if angle < 1:
        return "Upright"
    if angle > 179:
        return "Upside Down"
    toward = _side(np.array([-x, -y])).title()
    if angle > 120:
        return f"Upside Down, Tipped {toward}"
    if angle < 60:
        return f"Tipped {toward}"
    return f"On Its {toward}" if toward in ("Front", "Back") else f"On Its {toward} Side"


def hanging_direction(up: ArrayLike) -> str:
    """The same with the degrees from upright, where it is tipped: "On Its Back (92°)"."""
    angle = _tilt(up)
    if not 1 <= angle <= 179:
        return hanging_way(up)
    return filled("{way} ({angle}°)", way=hanging_way(up), angle=f"{angle:.0f}")


def by_number(number: float, single: str, several: str, **values: object) -> Filled:
    """Chooses between two whole templates, for one and for several. {count} : the number, "1,200"."""
    return filled(single if number == 1 else several, count=f"{number:,.0f}", **values)


def baths(names: str) -> list[str]:
    """The baths of a comma-separated list; some names contain commas themselves."""
    return [name for name in tables.names("baths") if name in names]


def any_of(items: Sequence[str]) -> str:
    """One line of several to choose from: a, b or c."""
    if len(items) < 2:
        return items[0] if items else ""
    return filled("{items} or {last}", items=joined(items[:-1], ", "), last=items[-1])


def outer_dimensions(bounds: NDArray[np.float64]) -> list[str]:
    """mm along each axis of bounds (2, 3) in meters; an open sheet has two."""
    return [side for side in (mm(float(extent)) for extent in bounds[1] - bounds[0]) if side != "0"]


def millimeters(length: float, size: float = 1.0) -> str:
    """A length in whole mm, or in tenths on a part smaller than 20 mm. Both in meters."""
    return f"{mm(length, 1 if size < 20 * MM else 0, padded=True)} mm"


def listed(items: Sequence[str]) -> str:
    """One line of several: a, b and c."""
    if len(items) < 2:
        return items[0] if items else ""
    return filled("{items} and {last}", items=joined(items[:-1], ", "), last=items[-1])


def _tilt(up: ArrayLike) -> float:
    """Degrees from upright, 0 to 180."""
    return math.degrees(math.acos(max(-1.0, min(1.0, unit(up)[2]))))


def _side(offset: NDArray[np.float64]) -> str:
    """Which of eight sides a direction (right, away) points to."""
    eighth = side(offset, np.ones(2), 0.0)
    return SIDES[eighth] if eighth is not None else "back"


def _level(where: Location) -> str:
    """Distance from the nearer of top and bottom."""
    below, above, size = where.below_top, where.above_bottom, where.size
    near = (1.0 + 1e-6) * (0.05 * MM if size < 20 * MM else 0.5 * MM)  # what `millimeters` rounds to nothing
    if below <= above:
        return "at the top" if below <= near else filled("{length} below the top", length=millimeters(below, size))
    return "at the bottom" if above <= near else filled("{length} above the bottom", length=millimeters(above, size))
