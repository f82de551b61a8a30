"""A thief of bare wire round the part, and the printed former that holds it.

The wire is on the part's side of the supply and takes current from the part's outline, where the deposit grows
thickest. It runs as a rectangle in the plane of the parts' middles, wound once round a notched finger at each corner.
The former hangs on two rods across the tank (`rods`) and is printed flat. How far the wire runs off the part is tried
in the field; the evenest is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..faraday import METALS
from ..filled import filled
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from ..tank.arrange import Arrangement
from ..units import GRAVITY, MM, in_mm
from . import beam, printed, trial
from .hanger import MAX_SWAY_M
from .lattice import Array, Box, union
from .printed import Printed
from .rods import Rods
from .shield import STEM, hung
from .trial import Solid, Tank

WIRE = 2 * MM  # diameter: stiff enough to keep its shape, common practice, no source
SIDE = 0.85 * WIRE  # of a square bar that has the round wire's field: its equivalent radius is 0.59 of its side
AWAY = (5 * MM, 10 * MM, 20 * MM)  # of the wire from the part's outline
THICKNESS = 5 * MM
FINGER, NECK = 8 * MM, 5 * MM  # height of a finger, and of its neck
NECK_WIDTH, HEAD = 3 * MM, 2.5 * MM  # together less than the wire stands off the part, whose own wire goes up there
ARM = 8 * MM  # of a finger, from its stem to its neck
BEHIND = 0.2 * MM  # of the former from the wire, so that the two meshes are two
UNDER = 4 * MM  # of the wire below the bath's surface
PIECE = 4.0  # times the wire's side: how long its panels are
MAX_SHARE = 0.5  # of the current that a thief may take
COPPER = METALS["copper"].density


@dataclass(frozen=True, eq=False)
class ThiefMade:
    """made : the former; rods : they lie at +- this, m; rod : their diameter, m

    corners : (4, 3) m, tank, of the wire's middle
    wire : its diameter; length : of the rectangle, m; away : m from the part's outline; solid : the wire as it is tried
    share : of the current that thieves then take; times : of the current without it, that the supply then gives
    even_before, even : thin end over thick end of the deposit, as tried
    """

    made: Printed
    rods: float
    rod: float
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


def run(
    tank: Tank, tracer: Tracer, own: Arrangement, rods: Rods, wires: Array, floor: float = 0.0
) -> Progress[ThiefMade]:
    """The wire that evens the deposit out most, and its former. wires : (k, 3) where wires touch the part, in its axes

    Raises InputError, one line, where there is no room for one, or none serves.
    """
    now = yield from subrange(0.0, 0.1, tank.solved())
    best, why = None, ""
    for k, away in enumerate(AWAY):
        step = 0.1 + 0.9 * k / len(AWAY), 0.1 + 0.9 * (k + 1) / len(AWAY)
        try:
            loop = _loop(tank, own, rods, away, floor)
            former, wire = rods.made(list(_boxes(rods, loop))), _wire(rods, loop)
            found = yield from subrange(*step, tank.solved([former], [wire]))
            if found.thief_share > MAX_SHARE:
                raise InputError(
                    filled(
                        "the wire would take {thief_share} % of the current",
                        thief_share=f"{100 * found.thief_share:.0f}",
                    )
                )
        except InputError as fault:
            why = str(fault)
            continue
        if best is None or found.thin > best[0].thin * (1 + 1e-6):
            best = found, away, loop, former, wire
    if best is None:
        raise trial.none("thief", why)
    found, away, loop, former, wire = best
    trial.better(now.thin, found.thin, "thief")
    sway = _sway(tank, rods, loop)
    made = printed.of(tank.job, "thief", [former], rods.turn[0], sway, (tracer, own.poses, wires))
    return ThiefMade(
        made,
        rods.apart,
        rods.rod,
        rods.tank(loop.corners),
        WIRE,
        loop.length,
        away,
        wire,
        found.thief_share,
        found.times(now),
        now.thin,
        found.thin,
    )


def _loop(tank: Tank, own: Arrangement, rods: Rods, away: float, floor: float) -> _Loop:
    used = tank.surface.points[np.unique(tank.surface.triangles)]
    points = np.concatenate([rods.own(pose.of(used)) for pose in own.poses])
    low, high = points.min(axis=0), points.max(axis=0)
    loop = _Loop(
        float(low[0] + high[0]) / 2,
        float(low[1] - away),
        float(high[1] + away),
        float(max(low[2] - away, floor + FINGER)),
        float(min(high[2] + away, tank.job.tank.level - UNDER)),
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


def _boxes(rods: Rods, loop: _Loop) -> Iterator[Box]:
    """The former, right behind the wire: stems outside of it, a notched finger at each corner."""
    face = loop.u - WIRE / 2 - BEHIND
    back = face - THICKNESS
    left, right = loop.left - NECK_WIDTH / 2 - ARM - STEM, loop.right + NECK_WIDTH / 2 + ARM + STEM
    low = loop.low - FINGER / 2
    for start, end in ((left, left + STEM), (right - STEM, right)):
        yield (back, start, low), (face, end, loop.high + FINGER / 2)
    for sign, at in ((1.0, loop.left), (-1.0, loop.right)):
        for z in (loop.low, loop.high):
            for v0, v1, tall in (
                (-NECK_WIDTH / 2 - ARM - MM, -NECK_WIDTH / 2, FINGER),
                (-NECK_WIDTH / 2, NECK_WIDTH / 2, NECK),
                (NECK_WIDTH / 2, NECK_WIDTH / 2 + HEAD, FINGER),
            ):
                a, b = sorted((at + sign * v0, at + sign * v1))
                yield (back, a, z - tall / 2), (face, b, z + tall / 2)
    yield from hung(rods, (back, face), (left, right), loop.high + FINGER / 2)


def _sway(tank: Tank, rods: Rods, loop: _Loop) -> float:
    """m that the stems give way sideways under the wire's own weight, were all of it to push there."""
    weight = COPPER * np.pi * WIRE**2 / 4 * loop.length * GRAVITY
    inertia = beam.second_moment(STEM, THICKNESS)
    sway = beam.deflection(weight / 2, 0.0, rods.shoulder - loop.low, printed.modulus(tank.job), inertia)
    if sway > MAX_SWAY_M:
        raise InputError(
            filled(
                "thief: its stems give way by {sway} under the wire; raise the part (place.centre_mm)",
                sway=in_mm(sway, 2),
            )
        )
    return float(sway)
