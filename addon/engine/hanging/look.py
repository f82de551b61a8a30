"""A single way up evaluated on the whole surface, to verify a sweep over the aggregated surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh.surface import Surface
from ..trapping.basins import find_basins
from ..trapping.gas import MAX_LEVEL_ANGLE_RAD
from ..trapping.pockets import fill
from ..trapping.relief import along
from .balance import Load
from .lift import moments
from .score import Swept, spoilt_by

MAX_THIN_DENSITY_SHARE = 0.5  # of the mean density: faces that get less count as thin


@dataclass(frozen=True, eq=False)
class ExactEvaluation:
    """One way up on the whole surface.

    row : trapped, dry, dry_weighted, underside, underside_weighted, as `Scores`
    visible_spoilt : m2 of show faces that are spoilt; thin_spoilt : m2 of thin places, None where these are not known
    gas : the trapped gas as a load
    """

    row: NDArray[np.float64]
    visible_spoilt: float
    thin_spoilt: float | None
    gas: Load


class ExactEvaluator:
    """Evaluates ways up on the whole surface, each only once."""

    def __init__(self, surface: Surface, whole: Swept, thin: NDArray[np.bool_] | None) -> None:
        """whole : the surface itself; thin : (m,) places that get little deposit, None where that is not known"""
        self._surface, self._whole, self._thin = surface, whole, thin
        self._evaluated: dict[bytes, ExactEvaluation] = {}

    def at(self, up: NDArray[np.float64]) -> ExactEvaluation:
        """The evaluation of one way up. up : (3,) unit"""
        key = up.tobytes()
        if key not in self._evaluated:
            self._evaluated[key] = self._evaluate(up)
        return self._evaluated[key]

    def _evaluate(self, up: NDArray[np.float64]) -> ExactEvaluation:
        surface, relief, areas = self._surface, self._whole.relief, self._whole.areas
        rise = along(relief.vector, up)
        filling = fill(relief, find_basins(relief, up, rise))
        level = (rise < -np.cos(MAX_LEVEL_ANGLE_RAD) * relief.area) & (areas[0] > 0)
        dry_areas = areas[:, filling.triangle] * filling.share
        cling = areas[:, level].sum(axis=1) - dry_areas[:, level[filling.triangle]].sum(axis=1)
        dry, under = dry_areas.sum(axis=1), np.maximum(cling, 0.0)
        spoils = spoilt_by(surface, filling) * surface.plated_area
        volume, centre = moments(filling)
        return ExactEvaluation(
            np.array([filling.volume.sum(), dry[0], dry[1], under[0], under[1]]),
            float(spoils @ surface.show),
            None if self._thin is None else float(spoils @ self._thin),
            Load(0.0, centre, volume, centre),
        )


def thin_places(surface: Surface, density: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(m,) plated triangles that get less than `MAX_THIN_DENSITY_SHARE` of the mean."""
    area = surface.plated_area
    return surface.plated & (density * area.sum() < MAX_THIN_DENSITY_SHARE * float(area @ density))
