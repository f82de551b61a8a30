"""The resistance between coat and anode, as the coat's network sees it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..chemistry import kinetics
from ..linalg.sparse import Vector
from ..mesh.surface import Surface
from ..progress import Progress, Step
from ..settings.job import Job
from .spread import Spread

MIN_DENSITY_SHARE = 1e-3  # of the mean density: given to faces with no current in the field


class Bath(Protocol):
    """resolution : m, below which densities are not resolved."""

    @property
    def resolution(self) -> float:
        """m, below which densities are not resolved."""
        ...

    def patch_resistance(self, spread: Spread, conductance: Vector, current: float) -> Progress[Vector]:
        """(n,) ohm m2 between each patch and the anode at a current in A, with the coat conducting siemens a square
        (n,)."""
        ...


@dataclass(frozen=True, eq=False)
class LocalBath:
    """The bath as a local resistance at each place, used where there is no field.

    law : kinetics; ohmic : ohm m2 of the bath; shape : (m,) local beside mean density where a field is known
    area : m2 that is plated
    """

    law: kinetics.Law
    ohmic: float
    shape: Vector | None
    area: float
    resolution: float = 0.0

    @classmethod
    def of(cls, surface: Surface, job: Job, density: Vector | None) -> LocalBath:
        """density : (m,) A/m2 of a field on the triangles, or None.

        The bath's own resistance is that of liquid as deep as the anode is away, or as half the part's size if that
        is less, for round a small part the current spreads: an estimate.
        """
        depth = 0.5 * float(np.ptp(surface.bounds, axis=0).max())
        if job.tank.shape in ("box", "cylinder"):
            depth = min(depth, 0.5 * min(job.tank.size[:2]))
        shape, area = None, surface.plated_area
        if density is not None:
            known = np.where(area > 0, np.maximum(np.nan_to_num(density), 0.0), 0.0)
            mean = float(area @ known) / float(area.sum())
            shape = np.maximum(known / mean, MIN_DENSITY_SHARE) if mean > 0 else None
        law = kinetics.law(job.bath.kinetics, job.bath.temperature)
        return cls(law, depth / job.bath.conductivity, shape, float(area.sum()))

    def resistance(self, mean: float) -> float:
        """ohm m2 at a mean density in A/m2: the slope of the kinetics there, and the liquid."""
        return float(self.law.resistance(np.array(mean))) + self.ohmic

    def patch_resistance(self, spread: Spread, conductance: Vector, current: float) -> Progress[Vector]:
        """As of `Bath`: the same at any state of the coat, so that a coat without loss collects as the field has it."""
        yield Step(1.0, "Reckoning with the bath")
        level = self.resistance(current / self.area)
        if self.shape is None:
            return np.full(len(spread.own), level)
        local = spread.collected(self.shape) / spread.area
        return level / np.maximum(local, MIN_DENSITY_SHARE)
