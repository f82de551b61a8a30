"""The anodes of a job that names none: two flat plates that face each other across the part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..chemistry import bath as baths
from ..geometry.triangles import measure
from ..mesh.surface import Surface
from ..settings.job import Job
from ..settings.tank import Anode
from ..units import MM
from .body import STAND_OFF_M, Array, Body, Pose, Role

LONG_SIDES, SHORT_SIDES = "long sides", "short sides"
MIN_PLATE_M = 10 * MM  # m, least side of a plate (common practice, no source)
END_CLEARANCE_M = 10 * MM  # of a plate's edges from wall, floor and surface
DENSITY_HEADROOM = 1.25  # area beyond what the anode's own limit asks for: its rim carries more than its middle
MIN_DENSITY_HEADROOM = 1.05  # the same where a larger plate would ask for a larger tank
# width of a plate in a round tank, by the diameter, and its way from the middle: it clears an octagon
PLATE_WIDTH_OVER_DIAMETER = 0.5
PLATE_REACH_OVER_DIAMETER = 0.36


def facing_axis(length: float, width: float, on: str = LONG_SIDES) -> int:
    """0 or 1, the level axis along which a tank's plates face each other: across its longer side, y of a square; where
    they stand on its short sides, along it."""
    across = 1 if length >= width else 0
    return across if on == LONG_SIDES else 1 - across


def plates(
    surface: Surface, poses: Sequence[Pose], job: Job, inside: Array, thief_area: float = 0.0
) -> tuple[Anode, ...]:
    """One plate on each of the tank's `plates_on` sides, in meters and tank coordinates.

    Together they have the area that the bath's usual ratio asks for, to parts and thieves: the geometric mean of its
    ends, and no less than the anode's own limit wants. They are as tall as what hangs between them; where that would
    make them too wide for the tank, taller. inside : (2, 3) box round the liquid; thief_area : m2. In an open tank they
    are as large as the part.
    """
    placed = np.vstack([pose.of(surface.points) for pose in poses])
    low, high = placed.min(axis=0), placed.max(axis=0)
    length, width = (inside[1] - inside[0])[:2]
    across = 1 if job.tank.shape == "open" else facing_axis(length, width, job.tank.plates)
    x, y = inside.mean(axis=0)[:2]
    z = float(low[2] + high[2]) / 2
    tall = max(float(high[2] - low[2]), MIN_PLATE_M)
    if job.tank.shape == "open":
        size = float(np.linalg.norm(high - low))
        x, y = (0.5 * (low + high))[:2]
        reach, wide = 0.5 * (high[1] - low[1]) + size, size
    else:
        box = job.tank.shape == "box"
        facing, side = (width, length) if across == 1 else (length, width)
        most = max(side - 2 * END_CLEARANCE_M, MIN_PLATE_M) if box else PLATE_WIDTH_OVER_DIAMETER * min(length, width)
        reach = facing / 2 - min(STAND_OFF_M, facing / 40) if box else PLATE_REACH_OVER_DIAMETER * min(length, width)
        wanted = _size(surface, job, len(poses), thief_area)
        area = max(float(np.sqrt(wanted.low * wanted.high)), DENSITY_HEADROOM * wanted.least) / 2
        wide = float(np.clip(area / tall, min(MIN_PLATE_M, most), most))
        room = 2 * min(z - inside[0, 2], job.tank.level - z) - 2 * END_CLEARANCE_M
        tall = max(tall, min(area / wide, room))
    anodes = []
    for way in (1.0, -1.0):
        off = np.array([0.0, way * reach]) if across == 1 else np.array([way * reach, 0.0])
        normal = (0.0, -way, 0.0) if across == 1 else (-way, 0.0, 0.0)
        anodes.append(Anode(plate=(float(wide), float(tall)), centre=(x + off[0], y + off[1], z), normal=normal))
    return tuple(anodes)


def thief_area(bodies: Iterable[Body]) -> float:
    """m2 of the thieves among them, that takes current as the parts do."""
    thieves = [body for body in bodies if body.role == Role.THIEF]
    return sum(
        (2.0 if thief.sheet else 1.0) * float(measure(thief.points, thief.triangles).area.sum()) for thief in thieves
    )


def min_plate_area(surface: Surface, job: Job, copies: int) -> float:
    """m2 that each of the two plates needs: the low end of the usual ratio, a little less than the anode's limit."""
    wanted = _size(surface, job, copies)
    return max(wanted.low, MIN_DENSITY_HEADROOM * wanted.least) / 2


def _size(surface: Surface, job: Job, copies: int, thief: float = 0.0) -> baths.AnodeSize:
    """Of both plates, of the sides that face the part. thief : m2 of thieves beside it"""
    area = copies * float(surface.plated_area.sum()) + thief
    return baths.anode_size(baths.recipe(job.bath), job.bath, area, job.target.density * area)
