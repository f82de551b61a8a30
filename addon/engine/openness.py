"""How much open bath each face sees: the quick look that comes before the field.

The share of the hemisphere above a face, weighted by the cosine to its normal, along which nothing of the
part stands in the way (the view factor to the surroundings). It is a preview: current bends round corners.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .prepare import weighted_quantile
from .rays import ParallelRays
from .steps import Step, Steps
from .surface import Surface

SHELTERED = 0.2  # a face that sees less of the bath than this is sheltered: common practice, no source
EVEN = 8 / 3  # directions over the whole sphere that do the work of one cosine-weighted ray a face
BUDGET = 4e7  # faces x directions: past that, fewer directions with the error that they have
FEWEST = 48


@dataclass(frozen=True, eq=False)
class Openness:
    """Openness of each face.

    openness : (m,) 0..1, nan where not wetted; area : (m,) m2 that is plated
    directions : how many were tried; error : standard error of a face that sees half of the bath
    """

    openness: NDArray[np.float64]
    area: NDArray[np.float64]
    directions: int
    error: float

    @cached_property
    def hidden(self) -> NDArray[np.bool_]:
        """(m,) sheltered faces."""
        return self.openness < SHELTERED

    @cached_property
    def hidden_area(self) -> float:
        """m2 of plated surface that is sheltered."""
        return float(self.area[self.hidden].sum())

    @cached_property
    def least(self) -> float:
        """Smallest share on a plated face."""
        return float(self.openness[self.area > 0].min(initial=1.0))

    def quantile(self, part: float) -> float:
        """The share that a part (0..1) of the plated area does not exceed."""
        plated = self.area > 0
        return weighted_quantile(self.openness[plated], self.area[plated], part)


def survey(surface: Surface, *, rays: int = 64, seed: int = 0) -> Steps[Openness]:
    """Openness of every wetted face.

    rays : cosine-weighted rays a face whose error is wanted. All faces share one even set of directions over
    the sphere, so that rays of one direction can be cast together; seed turns that set.
    Cost: faces x directions, about a million a second.
    """
    wet = np.flatnonzero(surface.wetted)
    wanted = math.ceil(EVEN * rays)
    count = max(FEWEST, min(wanted, int(BUDGET / max(len(wet), 1))))
    normal = surface.normal[wet]
    start = surface.centroid[wet] + surface.lift * normal
    seen, all_of_it = np.zeros(len(wet)), np.zeros(len(wet))
    for k, direction in enumerate(_directions(count, seed)):
        yield Step(k / count, "looking how much of the bath each face sees")
        cosine = normal @ direction
        facing = np.flatnonzero(cosine > 0)
        free = ~ParallelRays(surface.points, surface.triangles[wet], direction).blocked(start[facing])
        all_of_it[facing] += cosine[facing]
        seen[facing] += cosine[facing] * free
    share = np.full(len(surface.triangles), np.nan)
    share[wet] = np.divide(seen, all_of_it, out=np.ones(len(wet)), where=all_of_it > 0)
    return Openness(share, surface.plated_area, count, 0.5 / math.sqrt(count / EVEN))


def _directions(count: int, seed: int) -> NDArray[np.float64]:
    """(count, 3) unit directions, even over the sphere (a Fibonacci lattice), turned at random."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    angle = np.pi * (1.0 + 5.0**0.5) * k
    ring = np.sqrt(1.0 - z * z)
    turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    return np.stack([ring * np.cos(angle), ring * np.sin(angle), z], axis=1) @ turn.T
