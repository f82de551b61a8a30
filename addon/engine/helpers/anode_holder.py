"""Printed holders of flat anodes: two strips a plate, which hang over the tank's rim and bear the plate on a foot.

Own axes of a strip, meters: n from the wall toward the part, a level and along the plate, z as in the tank; n = 0 is
the inside of the wall. A strip is one outline, `WIDTH` thick: it is printed lying on its side, and nothing overhangs.
Where the plate stands off the wall, an arm over the bath leads to it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..faraday import METALS
from ..filled import filled
from ..geometry.frames import unit
from ..mesh.rays import ParallelRays
from ..mesh.tracer import Tracer
from ..settings.job import Job
from ..settings.tank import Anode
from ..tank.body import Body, Pose
from ..units import GRAVITY, MM, in_mm
from . import beam, printed
from .hanger import MAX_SWAY_M
from .lattice import Array, Box, union
from .printed import MIN_WALL, Printed

WIDTH = 8 * MM  # m, width of a strip along the plate
AT = 0.3  # of the plate's width, of a strip from its middle
MIN_APART = 24 * MM  # width of a plate from which it takes two strips
CLEAR = 0.4 * MM  # of the strip from the wall inside, and on the rim's sides
PLATE_FIT = 0.4 * MM  # of the plate in its foot
SEAT = 0.2 * MM  # gap between plate and foot in the computed place, so that the meshes stay separate
MIN_DEPTH, MAX_DEPTH = MIN_WALL, 8 * MM  # of the strip behind the plate
FOOT, LIP, LIP_HEIGHT = 4 * MM, 3 * MM, 12 * MM
LEG, LEG_HEIGHT = 4 * MM, 15 * MM  # of the saddle on either side of the rim
ARMS = tuple(h * MM for h in (5, 8, 12, 16))  # heights of the arm; the first that is stiff enough is used
POST, POST_NECK, POST_HEIGHT = 8 * MM, 4 * MM, 3 * MM  # the anode's wire is wound round its neck
MAX_TILT = 0.1  # of a plate's normal from level


@dataclass(frozen=True, eq=False)
class AnodeHolders:
    """printed : all strips; plates : names of the anodes; strips : of each plate; plate, rim : m, thickness of the
    plates and of the tank's wall that they are made for; places : (k, 3) m, tank, where a strip meets the wall, on
    the rim"""

    printed: Printed
    plates: tuple[str, ...]
    strips: tuple[int, ...]
    plate: float
    rim: float
    places: Array


@dataclass(frozen=True)
class _Strip:
    """m. distance : of the plate's middle from the wall; slope : tangent of the wall to the plate; low : z of the
    plate's lower edge; rim : z; arm : height of the saddle's bridge"""

    distance: float
    slope: float
    low: float
    rim: float
    plate: float
    wall: float
    arm: float

    @property
    def back(self) -> float:
        """n of the side on which the plate leans."""
        return self.distance - (self.plate + PLATE_FIT) / 2

    @property
    def start(self) -> float:
        """n where the strip may begin, clear of a wall that runs aslant."""
        return CLEAR + WIDTH / 2 * self.slope

    def boxes(self) -> Iterator[Box]:
        """The boxes of the outline, `WIDTH` thick."""
        slot = self.start - CLEAR + self.wall * float(np.hypot(1.0, self.slope)) + CLEAR
        front = self.distance + (self.plate + PLATE_FIT) / 2
        behind, foot = max(self.start, self.back - MAX_DEPTH), self.low - SEAT
        middle = (behind + self.back) / 2 if self.back - behind >= POST else self.back - POST / 2
        top = self.rim + self.arm
        for (n0, z0), (n1, z1) in (
            ((behind, foot - FOOT), (self.back, top)),
            ((self.start, self.rim - LEG_HEIGHT), (min(self.start + LEG, self.back), top)),
            ((-slot - LEG, self.rim), (self.back, top)),
            ((-slot - LEG, self.rim - LEG_HEIGHT), (-slot, top)),
            ((behind, foot - FOOT), (front + LIP, foot)),
            ((front, foot - FOOT), (front + LIP, foot + LIP_HEIGHT)),
            ((middle - POST_NECK / 2, top - MM), (middle + POST_NECK / 2, top + POST_HEIGHT)),
            ((middle - POST / 2, top + POST_HEIGHT), (middle + POST / 2, top + 2 * POST_HEIGHT)),
        ):
            yield (n0, -WIDTH / 2, z0), (n1, WIDTH / 2, z1)


def run(
    tracer: Tracer,
    job: Job,
    poses: Sequence[Pose],
    anodes: Sequence[Anode],
    vessel: tuple[float, Array, Body | None],
    wires: Array,
) -> AnodeHolders:
    """Make holders for all flat plates. vessel : z of the rim, (2, 3) box round the liquid, the walls of a tank from
    a mesh

    wires : (k, 3) where wires touch the part, in its axes
    Raises InputError, one line, where there is no flat plate that stands upright, or one stands too near to the wall.
    """
    flat = [(plate, plate.name or f"anode {i + 1}") for i, plate in enumerate(anodes) if plate.plate and plate.centre]
    if not flat:
        raise InputError(
            "anode-holder: no flat plate stands in the tank; give anodes as plate_mm, centre_mm and normal"
        )
    meshes, counts, places = [], [], []
    sway, turn = 0.0, np.eye(3)
    for anode, name in flat:
        strips = _offsets(anode)
        counts.append(len(strips))
        turn = _axes(anode, name)
        for at in strips:
            strip, foot, deflection = _strip(job, anode, name, turn, at, vessel)
            points, triangles = union(list(strip.boxes()))
            meshes.append((foot + points @ turn, triangles))
            places.append(foot + (0.0, 0.0, vessel[0]))
            sway = max(sway, deflection)
    made = printed.of(job, "anode-holder", meshes, turn[1], sway, (tracer, poses, wires))
    names = tuple(name for _, name in flat)
    return AnodeHolders(made, names, tuple(counts), job.hanger.anode, job.hanger.rim, np.array(places))


def strips(anodes: Sequence[Anode]) -> Array:
    """(k, 3) m, tank: middles of the strips of all flat plates that stand upright."""
    points = [
        np.array(anode.centre) + at * _level(_normal(anode))[1]
        for anode in anodes
        if anode.plate and anode.centre and abs(_normal(anode)[2]) <= MAX_TILT
        for at in _offsets(anode)
    ]
    return np.array(points).reshape(-1, 3)


def _normal(anode: Anode) -> Array:
    return unit(np.array(anode.normal if anode.normal is not None else (0.0, 1.0, 0.0)))


def _axes(anode: Anode, name: str) -> Array:
    """(3, 3) rows n, a, z in the tank. Raises InputError where the plate does not stand upright."""
    way = _normal(anode)
    if abs(way[2]) > MAX_TILT:
        raise InputError(
            filled(
                "anode-holder: {name} does not stand upright; turn its normal level",
                name=name,
            )
        )
    return _level(way)


def _level(way: Array) -> Array:
    """(3, 3) rows: a way made level, the level one square to it, and up."""
    level = unit(np.array([way[0], way[1], 0.0]))
    up = np.array([0.0, 0.0, 1.0])
    return np.stack([level, np.cross(up, level), up])


def _offsets(anode: Anode) -> tuple[float, ...]:
    """m from the plate's middle along it, of each strip."""
    assert anode.plate is not None
    wide = anode.plate[0]
    return (-AT * wide, AT * wide) if wide >= MIN_APART else (0.0,)


def _strip(
    job: Job, anode: Anode, name: str, turn: Array, at: float, vessel: tuple[float, Array, Body | None]
) -> tuple[_Strip, Array, float]:
    """One strip, (3,) the tank's point at its origin, and m that its arm gives way under half of the plate."""
    assert anode.plate is not None and anode.centre is not None
    rim, middle = vessel[0], np.array(anode.centre) + at * turn[1]
    distance, slope = _wall(job, middle, -turn[0], vessel)
    low = anode.centre[2] - anode.plate[1] / 2
    strip = _Strip(distance, slope, low, rim, job.hanger.anode, job.hanger.rim, ARMS[0])
    if strip.back - strip.start < MIN_DEPTH - 1e-9:
        need = distance + MIN_DEPTH - (strip.back - strip.start)
        raise InputError(
            filled(
                "anode-holder: {name} stands {distance} off the wall, too near for a strip behind it; "
                "move it {need} off (centre_mm), or take a thinner plate ({hanger.anode_mm})",
                name=name,
                distance=in_mm(distance),
                need=in_mm(need),
            )
        )
    if low - SEAT - FOOT < CLEAR:
        raise InputError(
            filled(
                "anode-holder: {name} stands too near to the floor for a foot; raise it (centre_mm)",
                name=name,
            )
        )
    density = METALS[job.bath.metal].density
    weight = density * anode.plate[0] * anode.plate[1] * job.hanger.anode * GRAVITY / len(_offsets(anode))
    deflection = np.inf
    for arm in ARMS:
        strip = _Strip(distance, slope, low, rim, job.hanger.anode, job.hanger.rim, arm)
        deflection = beam.deflection(weight, 0.0, distance, printed.modulus(job), beam.second_moment(WIDTH, arm))
        if deflection <= MAX_SWAY_M:
            foot = middle - distance * turn[0]
            foot[2] = 0.0
            return strip, foot, deflection
    raise InputError(
        filled(
            "anode-holder: {name} stands {distance} off the wall, and its weight bends the arm by "
            "{gives}; hang it nearer to the wall, or from a rod",
            name=name,
            distance=in_mm(distance),
            gives=in_mm(deflection, 2),
        )
    )


def _wall(job: Job, start: Array, way: Array, vessel: tuple[float, Array, Body | None]) -> tuple[float, float]:
    """m from a place to the tank's wall, along a level way, and the tangent of the wall's slant to it."""
    rim, inside, walls = vessel
    if walls is not None and job.tank.shape == "mesh":
        rays = ParallelRays(walls.points, walls.triangles, way)
        probe = np.array([[start[0], start[1], min(job.tank.level, walls.bounds[1, 2]) - MM]])
        face, away = rays.first_hit(probe)
        a, b, c = walls.corners[face[0]] if face[0] >= 0 else np.zeros((3, 3))
        out = np.cross(b - a, c - a)
    elif job.tank.shape == "cylinder":
        off = start[:2] - inside.mean(axis=0)[:2]
        along = float(off @ way[:2])
        away = np.array([-along + np.sqrt(max(along**2 - float(off @ off) + (job.tank.size[0] / 2) ** 2, 0.0))])
        out = np.append(off + away[0] * way[:2], 0.0)
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            distances = np.where(way > 0, (inside[1] - start) / way, (inside[0] - start) / way)[:2]
        axis = int(np.nanargmin(np.where(np.abs(way[:2]) > 1e-9, distances, np.inf)))
        away, out = distances[[axis]], np.eye(3)[axis]
    size = float(np.linalg.norm(out[:2]))
    cosine = abs(float(out[:2] @ way[:2])) / size if size > 0 else 0.0
    if not np.isfinite(away[0]) or away[0] <= 0 or cosine < 0.5:
        raise InputError("anode-holder: behind an anode there is no wall whose rim a holder could sit on")
    return float(away[0]), float(np.sqrt(1.0 - min(cosine, 1.0) ** 2) / cosine)
