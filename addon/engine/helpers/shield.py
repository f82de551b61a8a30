"""Printed shields: a frame between part and anode whose window lets the current through to the middle of the part.

Edges and what stands out toward an anode take the most current. A frame in front of them, wider than the part, makes
the current's way to them longer. Windows and places are tried in the field; the most even result wins. One frame on
each side that has a plate; each hangs on two rods across the tank (`rods`), and is printed flat.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..geometry.choice import first_least
from ..hanging.balance import MIN_PULL_SHARE
from ..progress import Progress, subrange
from ..tank.body import Role
from ..units import GRAVITY, MM, in_mm
from . import beam, printed, trial
from .hanger import MAX_SWAY_M
from .lattice import Array, Box
from .printed import Printed
from .rods import BEAM, OnRods, Rods
from .trial import Site, Solid, Tank

THICKNESS = 4 * MM
BORDER = 15 * MM  # of the frame beyond the part's outline: common practice, no source
MIN_BAR = 8 * MM  # of the frame beside its window
STEM = 8 * MM
BESIDE = 5 * MM  # least way to part, anode, floor: common practice, no source
WINDOWS = (0.5, 0.7, 0.9)  # of the part's outline
PLACES = (8 * MM, 16 * MM)  # of the frame's middle off the part
FURTHER = 24 * MM  # the same, where another helper stands in both


@dataclass(frozen=True, eq=False)
class ShieldMade(OnRods):
    """All frames. places : m, how far the middle of each frame stands off the part

    window : (2,) m, width and height; even_before, even : thin end over thick end of the deposit, as tried
    """

    places: tuple[float, ...]
    window: tuple[float, float]
    even_before: float
    even: float


@dataclass(frozen=True, eq=False)
class _Room:
    """Of the parts, in the axes of the rods. low, high : (3,); sides : for each side with an anode, its sign and the
    way to the anode, m"""

    low: Array
    high: Array
    sides: tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class _Best:
    """even : thin end over thick end; window : of the part's outline; place : m off the part; solids : the frames"""

    even: float
    window: float
    place: float
    solids: Sequence[Solid]


def run(site: Site) -> Progress[ShieldMade]:
    """The frames that even the deposit out most. Raises InputError, one line, where there is no room for one, or none
    serves."""
    tank, rods, room = site.tank, site.rods, _room(site)
    now = yield from subrange(0.0, 0.1, tank.solved())
    candidates: list[_Best] = []
    why, middle = "", WINDOWS[len(WINDOWS) // 2]
    tries = [(middle, place) for place in PLACES]
    for k in range(len(PLACES) + len(WINDOWS) - 1):
        if k == len(PLACES):
            place = _best(candidates).place if candidates else FURTHER
            others = [window for window in WINDOWS if window != middle]
            tries += [(window, place) for window in (others if candidates else (middle, *others))]
        try:
            trial_result = yield from subrange(0.1 + 0.2 * k, 0.1 + 0.2 * (k + 1), _tried(site, room, *tries[k]))
        except InputError as fault:
            why = str(fault)
            continue
        candidates.append(trial_result)
    if not candidates:
        raise trial.none("shield", why)
    best = _best(candidates)
    trial.better(now.thin, best.even, "shield")
    made = printed.of(tank.job, "shield", best.solids, rods.turn[0], None, (site.tracer, site.own.poses, site.wires))
    made = replace(made, sway=_sway(tank, rods, made))
    size = (room.high - room.low)[1:] * best.window
    places = tuple(_off(best.place, way) for _, way in room.sides)
    return ShieldMade(made, rods, places, (float(size[0]), float(size[1])), now.thin, best.even)


def _tried(site: Site, room: _Room, window: float, place: float) -> Progress[_Best]:
    """The deposit with trial frames. Raises InputError where they cannot stand there."""
    solids = _frames(site.rods, room, window, place)
    site.check_free("shield", solids)
    evenness = yield from site.tank.solved(solids)
    return _Best(evenness.thin, window, place, solids)


def _best(candidates: Sequence[_Best]) -> _Best:
    """The most even, the first of equals."""
    return candidates[first_least([-round(candidate.even, 6) for candidate in candidates])]


def _room(site: Site) -> _Room:
    low, high = site.outline
    sides = []
    anodes = [site.rods.own(body.points) for body in site.own.bodies if body.role == Role.ANODE]
    for sign in (1.0, -1.0):
        face = max(sign * low[0], sign * high[0])
        ways = [float((sign * anode_corners[:, 0]).min()) - face for anode_corners in anodes]
        ahead = [way for way in ways if way > 0]
        if ahead:
            sides.append((sign, min(ahead)))
    if not sides:
        raise InputError("shield: no anode stands in front of the part, across the rods; a frame would shield nothing")
    if min(way for _, way in sides) < THICKNESS + 2 * BESIDE:
        way = min(way for _, way in sides)
        raise InputError(
            filled(
                "shield: there are {way} between part and anode, too little for a frame; move it out",
                way=in_mm(way),
            )
        )
    return _Room(low, high, tuple(sides))


def _sway(tank: Tank, rods: Rods, frame: Printed) -> float:
    """m that a frame's two stems give way at its lower end when the bath is stirred, the push at that end."""
    push = MIN_PULL_SHARE * frame.mass / frame.bodies * GRAVITY
    inertia = 2 * beam.second_moment(STEM, THICKNESS)
    sway = beam.deflection(push, 0.0, rods.shoulder - float(frame.bounds[0, 2]), printed.modulus(tank.job), inertia)
    if sway > MAX_SWAY_M:
        raise InputError(
            filled(
                "shield: its stems give way by {sway} when the bath is stirred; raise the part ({place.centre_mm})",
                sway=in_mm(sway, 2),
            )
        )
    return float(sway)


def _frames(rods: Rods, room: _Room, window: float, place: float) -> Sequence[Solid]:
    frames = []
    for sign, way in room.sides:
        face = room.high[0] if sign > 0 else room.low[0]
        frames.append(rods.made(list(_boxes(rods, room, window, float(face + sign * _off(place, way))))))
    return frames


def _off(place: float, way: float) -> float:
    """m of a frame's middle off the part, where the anode is `way` off."""
    return float(np.clip(place, BESIDE + THICKNESS / 2, way - BESIDE - THICKNESS / 2))


def _boxes(rods: Rods, room: _Room, window: float, at: float) -> Iterator[Box]:
    """A frame with its stems, its bar and its hooks, in the middle plane u = at."""
    back, face = at - THICKNESS / 2, at + THICKNESS / 2
    middle, half = (room.low + room.high)[1:] / 2, (room.high - room.low)[1:] / 2
    hole = window * half
    outer = np.maximum(half + BORDER, hole + MIN_BAR)
    (left, low), (right, high) = middle - outer, middle + outer
    left, right = max(left, -rods.room), min(right, rods.room)
    low, high = max(low, BESIDE), min(high, rods.shoulder - BEAM)
    (hole_left, hole_low), (hole_right, hole_high) = middle - hole, middle + hole
    bars = (hole_left - left, right - hole_right, hole_low - low, high - hole_high)
    if min(bars) < MIN_BAR - 1e-9:
        raise InputError(
            filled(
                "shield: the frame has {bars} beside its window in this tank",
                bars=in_mm(max(min(bars), 0.0)),
            )
        )
    yield (back, left, low), (face, hole_left, high)
    yield (back, hole_right, low), (face, right, high)
    yield (back, left, low), (face, right, hole_low)
    yield (back, left, hole_high), (face, right, high)
    yield from hung(rods, (back, face), (left, right), high)


def hung(rods: Rods, sides: tuple[float, float], ends: tuple[float, float], high: float) -> Iterator[Box]:
    """The boxes that carry a flat plate of these ends (v) up to a height: two stems, a bar, the hooks."""
    (back, face), (left, right) = sides, ends
    for start, end in ((left, left + STEM), (right - STEM, right)):
        yield (back, start, high - MM), (face, end, rods.shoulder)
    yield (back, min(left, -rods.reach), rods.shoulder - BEAM), (face, max(right, rods.reach), rods.shoulder)
    yield from rods.hooks(back, face)
