"""The way up used by current distribution, maps and plan: as the job sets it, or as the search recommends."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import unit
from ..settings.job import Job
from ..settings.tank import Place
from .suggest import Hanging

PLACING_SECTIONS = ("place", "anode", "shield", "thief")  # sections that place things, as the positions of a rack do
MAX_SAME_UP_DISTANCE = 1e-6  # rad: ways up closer than this are equal, up to rounding


@dataclass(frozen=True, eq=False)
class Hung:
    """The recommended way up.

    up : (3,) unit, model axes; turn : radians about the vertical, after the smallest turn that brings `up` upright
    hanging : the search that it comes from
    """

    up: NDArray[np.float64]
    turn: float
    hanging: Hanging

    def of(self, job: Job) -> Job:
        """The job with this way up."""
        x, y, z = (float(value) for value in self.up)
        return replace(job, part=replace(job.part, up=(x, y, z)), place=replace(job.place, turn=self.turn))


def is_recommended(job: Job) -> bool:
    """Whether the part is to hang as recommended, and not as `part.up` says.

    If "auto": where the job was written by hand and places nothing in the tank.
    """
    if job.part.hang != "auto":
        return job.part.hang == "recommended"
    if job.specified is None or job.tank.shape not in ("box", "cylinder"):
        return False
    placed = any(key.split(".")[0] in PLACING_SECTIONS for key in job.specified)
    stands = job.anodes is not None or job.shields or job.thieves or job.rack.positions or job.place != Place()
    return not (placed or stands)


def recommended(hanging: Hanging) -> Hung | None:
    """The best of the suggestions; None where there is none."""
    if not hanging.suggestions:
        return None
    best = hanging.suggestions[0]
    return Hung(best.up, best.turn, hanging)


def differs(job: Job, hung: Hung | None) -> bool:
    """Whether the part hangs another way up than `part.up` says."""
    return hung is not None and float(np.linalg.norm(unit(job.part.up) - hung.up)) > MAX_SAME_UP_DISTANCE
