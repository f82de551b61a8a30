"""Shared by all purposes: the part with its deposit, and the mean thickness that gives a local one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..faraday import METALS
from ..filled import filled
from ..mesh.surface import Surface
from ..settings.job import Job
from .metals import SERVICE, Service

Array = NDArray[np.float64]

THIN_SHARE = 0.05  # of the area that may have less than is needed
MAX_THICKNESS_M = 5e-3  # as of the setting
UNEVEN = 0.7  # of the mean, on the thin end: below, that end sets the thickness


class Limit(Enum):
    """What sets the proposed thickness."""

    THIN_PLACES = "thin places"
    POLISHING = "polishing"
    SKIN_DEPTH = "skin depth"
    SECTION = "weakest section"
    SKIN = "the skin's conductance"
    WEIGHT = "weight"
    WEAR = "wear"
    METAL_YIELDS = "yield of the deposit"
    PLASTIC_YIELDS = "yield of the plastic"


@dataclass(frozen=True, eq=False)
class Part:
    """share : (m,) deposit on each triangle over the mean; thin : that of the thin end; mass : kg of the print, nan
    where not known"""

    surface: Surface
    job: Job
    share: Array
    thin: float
    mass: float

    @property
    def service(self) -> Service:
        """Service properties of the metal of the job's bath."""
        return SERVICE[self.job.bath.metal]


Judged = tuple[float | None, float, Limit, dict[str, float]]


def everywhere(part: Part, needed: float, limit: Limit) -> tuple[float, Limit]:
    """The mean that gives a local thickness all but the thin end. Raises InputError where that end takes none."""
    if not part.thin > 0:
        raise InputError(
            filled(
                "{target.purpose}: {share} % of the area take next to no deposit, so no thickness is enough"
                " there; open or mask these places, or hang anodes to them",
                share=f"{100 * THIN_SHARE:.0f}",
            )
        )
    return needed / part.thin, Limit.THIN_PLACES if part.thin < UNEVEN else limit


def metal_mass(part: Part, mean: float) -> float:
    """kg of deposit of a mean thickness."""
    return METALS[part.job.bath.metal].density * float(part.surface.plated_area.sum()) * mean


def least(enough: Callable[[float], bool]) -> float:
    """m, the least mean thickness that is enough; inf where none is."""
    low, high = 0.0, MAX_THICKNESS_M
    if not enough(high):
        return float("inf")
    for _ in range(24):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high
