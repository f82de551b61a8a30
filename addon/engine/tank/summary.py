"""The tank and its anodes in figures, for plan and report; the solver does not read them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..chemistry import bath as baths
from ..errors import InputError
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..settings.job import Job
from . import vessel
from .anodes import thief_area
from .arrange import Arrangement, arrange
from .body import Role


@dataclass(frozen=True)
class PlatePlace:
    """An assumed anode, meters, tank coordinates. distance : to the nearest copy of the part, across the tank"""

    name: str
    size: tuple[float, float]
    centre: tuple[float, float, float]
    distance: float


@dataclass(frozen=True)
class TankSummary:
    """assumed : whether the tank was fitted to the part; vessel : of the table, "" for one to measure or a given one

    volume : m3 of bath, None where the job's shape does not tell; plates_on : the sides that assumed anodes stand on
    plates : the anodes, where none are given; thief_area : m2 of thieves, that takes current as the parts do
    """

    assumed: bool
    vessel: str
    shape: str
    size: tuple[float, float, float]
    level: float
    volume: float | None
    plates_on: str
    plates: tuple[PlatePlace, ...]
    thief_area: float


def summary(surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None) -> TankSummary:
    """Of the job as its part hangs. meshes : the models that the job names by file, as for `arrange`"""
    tank = job.tank
    known = tank.shape in ("box", "cylinder")
    try:
        stands = None if tank.shape == "mesh" else arrange(surface, replace(job, shields=()), meshes)
    except InputError:
        stands = None  # told with the field
    return TankSummary(
        assumed=tank.assumed,
        vessel=vessel.name_of(tank) if tank.assumed else "",
        shape=tank.shape,
        size=tank.size,
        level=tank.level,
        volume=baths.batch_volume(replace(job.batch, volume=None), tank) if known else None,
        plates_on=tank.plates,
        plates=() if stands is None or job.anodes is not None else _plates(surface, stands),
        thief_area=0.0 if stands is None else thief_area(stands.bodies),
    )


def _plates(surface: Surface, arrangement: Arrangement) -> tuple[PlatePlace, ...]:
    used = surface.points[np.unique(surface.triangles)]
    copies = [pose.of(used) for pose in arrangement.poses]
    places = []
    for body in arrangement.bodies:
        if body.role != Role.ANODE:
            continue
        low, high = body.bounds
        flat = int(np.argmin(high - low))
        across = [axis for axis in (0, 1) if axis != flat][0]
        gap = min(max((low - c.max(axis=0))[flat], (c.min(axis=0) - high)[flat]) for c in copies)
        x, y, z = (0.5 * (low + high)).tolist()
        size = (float((high - low)[across]), float((high - low)[2]))
        places.append(PlatePlace(body.name, size, (x, y, z), float(gap)))
    return tuple(places)
