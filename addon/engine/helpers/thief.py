"""A thief of bare wire round the part, and the printed former that holds it.

The wire is on the part's side of the supply and takes current from the part's outline, where the deposit grows
thickest. It runs as a rectangle in the plane of the parts' middles, wound once round a notched finger at each corner.
The former hangs on two rods across the tank (`rods`) and is printed flat, its fingers up. The wire's distance from
the part is tried in the field; the most even result wins. Where a hanger is in the way, the wire runs beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..faraday import METALS
from ..filled import filled
from ..geometry.choice import first_least
from ..progress import Progress, subrange
from ..units import GRAVITY, MM, in_mm
from . import beam, printed, trial
from .form import CHEEK
from .hanger import MAX_SWAY_M
from .lattice import Array, Box, union
from .rods import BEAM, OnRods, Rods
from .shield import STEM, hung
from .trial import Evenness, Site, Solid, Tank

WIRE = 2 * MM  # diameter: stiff enough to keep its shape, common practice, no source
SIDE = 0.85 * WIRE  # of a square bar that has the round wire's field: its equivalent radius is 0.59 of its side
AWAY = (5 * MM, 10 * MM, 20 * MM)  # of the wire from the part's outline
THICKNESS = 5 * MM
FINGER, NECK = 8 * MM, 5 * MM  # height of a finger, and of its neck
NECK_WIDTH, HEAD = (
    3 * MM,
    2.5 * MM,
)  # together less than the wire's distance from the part, whose own wire runs up there
ARM = 8 * MM  # of a finger, from its stem to its neck
ASIDE = 0.2 * MM  # more than the clearance asks for, of the wire and its former beside another helper
NEAR = 0.5  # of the distance from the middle to the rods' ends: farther out are the walls
BEHIND = 0.2 * MM  # of the former from the wire, so that the two meshes are two
UNDER = 4 * MM  # of the wire below the bath's surface
PIECE = 4.0  # times the wire's side: how long its panels are
MAX_SHARE = 0.5  # of the current that a thief may take
COPPER = METALS["copper"].density


@dataclass(frozen=True, eq=False)
class ThiefMade(OnRods):
    """The former, and the wire that it holds.

    corners : (4, 3) m, tank, of the wire's middle
    wire : its diameter; length : of the rectangle, m; away : m from the part's outline; solid : the wire as it is tried
    share : of the current that thieves then take; times : of the current without it, that the supply then gives
    even_before, even : thin end over thick end of the deposit, as tried
    """

    corners: Array
    wire: float
    length: float
    away: float
    solid: Solid
    share: float
    times: float
    even_before: float
    even: float


@dataclass(frozen=True)
class _Loop:
    """Middle of the wire, in the axes of the rods. u : its plane; left, right, low, high : m"""

    u: float
    left: float
    right: float
    low: float
    high: float

    @property
    def length(self) -> float:
        return 2 * (self.right - self.left + self.high - self.low)

    @property
    def corners(self) -> Array:
        v, z = (self.left, self.right), (self.low, self.high)
        return np.array([(self.u, v[i], z[j]) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))])


@dataclass(frozen=True)
class _Former:
    """The plate that holds the wire: u of its face, and the side of the wire on which it stands, -1 or 1."""

    face: float
    side: float


@dataclass(frozen=True, eq=False)
class _Best:
    """A trial: its loop and former, both as bodies too, and the evenness of the deposit."""

    away: float
    loop: _Loop
    side: float
    former: Solid
    wire: Solid
    evenness: Evenness


def run(site: Site) -> Progress[ThiefMade]:
    """The wire that evens the deposit out most, and its former. Raises InputError, one line, where there is no room for
    one, or none serves."""
    tank, rods = site.tank, site.rods
    now = yield from subrange(0.0, 0.1, tank.solved())
    tried: list[_Best] = []
    why = ""
    for k, away in enumerate(AWAY):
        step = 0.1 + 0.9 * k / len(AWAY), 0.1 + 0.9 * (k + 1) / len(AWAY)
        try:
            tried.append((yield from subrange(*step, _tried(site, away))))
        except InputError as fault:
            why = str(fault)
    if not tried:
        raise trial.none("thief", why)
    best = tried[first_least([-round(candidate.evenness.thin, 6) for candidate in tried])]
    trial.better(now.thin, best.evenness.thin, "thief")
    sway, flat = _sway(tank, rods, best.loop), -best.side * rods.turn[0]
    made = printed.of(tank.job, "thief", [best.former], flat, sway, (site.tracer, site.own.poses, site.wires))
    return ThiefMade(
        made,
        rods,
        rods.tank(best.loop.corners),
        WIRE,
        best.loop.length,
        best.away,
        best.wire,
        best.evenness.thief_share,
        best.evenness.times(now),
        now.thin,
        best.evenness.thin,
    )


def _tried(site: Site, away: float) -> Progress[_Best]:
    """A trial wire at a distance from the part's outline. Raises InputError where it cannot run there, or would take
    too much."""
    loop, plate, former, wire = _placed(site, _loop(site, away))
    evenness = yield from site.tank.solved([former], [wire])
    if evenness.thief_share > MAX_SHARE:
        raise InputError(
            filled(
                "the wire would take {thief_share} % of the current",
                thief_share=f"{100 * evenness.thief_share:.0f}",
            )
        )
    return _Best(away, loop, plate.side, former, wire, evenness)


def _placed(site: Site, loop: _Loop) -> tuple[_Loop, _Former, Solid, Solid]:
    """The loop with its former, both as bodies, clear of all others: in the parts' middle plane, else beside it.

    Raises InputError, which names what is in the way, where neither side has room.
    """
    why: InputError | None = None
    for placed, plate in _planes(site, loop):
        former, wire = site.rods.made(list(_boxes(site.rods, placed, plate))), _wire(site.rods, placed)
        try:
            site.check_inside("thief", former[0])
            site.check_free("thief", [former, wire])
        except InputError as fault:
            why = why or fault
            continue
        return placed, plate, former, wire
    assert why is not None
    raise why


def _planes(site: Site, loop: _Loop) -> Iterator[tuple[_Loop, _Former]]:
    """Planes of the wire with its former behind it: the middle one, then the nearest to either side of the others."""
    gap, half = site.tank.job.hanger.clearance + ASIDE, WIRE / 2
    yield loop, _Former(loop.u - half - BEHIND, -1.0)
    corners = np.concatenate([np.zeros((0, 3, 3)), *(site.rods.own(plane.corners) for plane in site.others)])
    corners = corners[(np.abs(corners[:, :, 0] - loop.u) < NEAR * site.rods.ends[1]).all(axis=1)]
    if not len(corners):
        return
    hook, apart = site.rods.hook, site.rods.apart
    reach = hook.half_rod + CHEEK + gap
    bar = _met(corners, (-np.inf, np.inf), (hook.shoulder - BEAM - gap, hook.shoulder + gap))
    hooks = [_met(corners, (v - reach, v + reach), (hook.shoulder, hook.ridge + gap)) for v in (-apart, apart)]
    crossed = corners[_met(corners, (loop.left, loop.right), (loop.high - half - gap, loop.high + half + gap))][:, :, 0]
    beside = corners[bar | hooks[0] | hooks[1]][:, :, 0]
    planes = []
    for side in (-1.0, 1.0):
        u = side * max(side * loop.u, float((side * crossed).max(initial=-np.inf)) + half + gap)
        face = side * max(side * u + half + BEHIND, float((side * beside).max(initial=-np.inf)) + gap)
        planes.append((abs(u - loop.u), (replace(loop, u=u), _Former(face, side))))
    yield from (plane for _, plane in sorted(planes, key=lambda plane: round(plane[0], 6)))


def _met(corners: Array, v: tuple[float, float], z: tuple[float, float]) -> NDArray[np.bool_]:
    """(m,) which triangles (m, 3, 3), axes of the rods, reach into these ranges."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    return np.asarray((high[:, 1] > v[0]) & (low[:, 1] < v[1]) & (high[:, 2] > z[0]) & (low[:, 2] < z[1]))


def _loop(site: Site, away: float) -> _Loop:
    low, high = site.outline
    rods = site.rods
    loop = _Loop(
        float(low[0] + high[0]) / 2,
        float(low[1] - away),
        float(high[1] + away),
        float(max(low[2] - away, FINGER)),
        float(min(high[2] + away, site.tank.job.tank.level - UNDER)),
    )
    if max(-loop.left, loop.right) + NECK_WIDTH / 2 + ARM + STEM > rods.room:
        raise InputError("beside the parts the tank has no room for the former's stems")
    if loop.high + FINGER / 2 > rods.shoulder - MM or low[2] - loop.low < WIRE or loop.high - high[2] < WIRE:
        raise InputError("over and under the parts the bath has no room for the wire")
    return loop


def _wire(rods: Rods, loop: _Loop) -> Solid:
    """The wire as a square bar, in pieces as long as panels may be."""
    half, boxes = SIDE / 2, []
    for v0, v1, z0, z1 in (
        (loop.left, loop.right, loop.low, loop.low),
        (loop.left, loop.right, loop.high, loop.high),
        (loop.left, loop.left, loop.low, loop.high),
        (loop.right, loop.right, loop.low, loop.high),
    ):
        count = max(int(np.ceil(max(v1 - v0, z1 - z0) / (PIECE * SIDE))), 1)
        v, z = np.linspace(v0, v1, count + 1), np.linspace(z0, z1, count + 1)
        for k in range(count):
            boxes.append(
                (
                    (loop.u - half, v[k] - half, z[k] - half),
                    (loop.u + half, v[k + 1] + half, z[k + 1] + half),
                )
            )
    points, triangles = union(boxes)
    return rods.tank(points), triangles


def _boxes(rods: Rods, loop: _Loop, plate: _Former) -> Iterator[Box]:
    """The former behind the wire: stems outside of it, at each corner a notched finger that reaches to it."""
    tip, face = loop.u + plate.side * (WIRE / 2 + BEHIND), plate.face
    back = face + plate.side * THICKNESS
    plate_u, finger_u = _between(back, face), _between(back, tip)
    left, right = loop.left - NECK_WIDTH / 2 - ARM - STEM, loop.right + NECK_WIDTH / 2 + ARM + STEM
    low = loop.low - FINGER / 2
    for start, end in ((left, left + STEM), (right - STEM, right)):
        yield (plate_u[0], start, low), (plate_u[1], end, loop.high + FINGER / 2)
    for sign, at in ((1.0, loop.left), (-1.0, loop.right)):
        for z in (loop.low, loop.high):
            for v0, v1, tall in (
                (-NECK_WIDTH / 2 - ARM - MM, -NECK_WIDTH / 2, FINGER),
                (-NECK_WIDTH / 2, NECK_WIDTH / 2, NECK),
                (NECK_WIDTH / 2, NECK_WIDTH / 2 + HEAD, FINGER),
            ):
                a, b = _between(at + sign * v0, at + sign * v1)
                yield (finger_u[0], a, z - tall / 2), (finger_u[1], b, z + tall / 2)
    yield from hung(rods, plate_u, (left, right), loop.high + FINGER / 2)


def _between(a: float, b: float) -> tuple[float, float]:
    return min(a, b), max(a, b)


def _sway(tank: Tank, rods: Rods, loop: _Loop) -> float:
    """m that the stems give way sideways under the wire's own weight, were all of it to push there."""
    weight = COPPER * np.pi * WIRE**2 / 4 * loop.length * GRAVITY
    inertia = beam.second_moment(STEM, THICKNESS)
    sway = beam.deflection(weight / 2, 0.0, rods.shoulder - loop.low, printed.modulus(tank.job), inertia)
    if sway > MAX_SWAY_M:
        raise InputError(
            filled(
                "thief: its stems give way by {sway} under the wire; raise the part ({place.centre_mm})",
                sway=in_mm(sway, 2),
            )
        )
    return float(sway)
