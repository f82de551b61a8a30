"""What stands between the coat and the anode, as far as the coat sees it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import kinetics
from ..job import Job
from ..sparse import Vector
from ..surface import Surface
from .proxy import Proxy
from .sheet import Sheet

LEAST = 1e-3  # of the mean density: what a face gets that a field leaves with nothing


@dataclass(frozen=True, eq=False)
class BathSide:
    """law : kinetics; ohmic : ohm m2 of the bath; shape : (m,) local beside mean density where a field is known."""

    law: kinetics.Law
    ohmic: float
    shape: Vector | None

    @classmethod
    def of(cls, surface: Surface, job: Job, density: Vector | None) -> BathSide:
        """density : (m,) A/m2 of a field on the triangles, or None.

        The bath's own resistance is that of liquid as deep as the anode is away, or as half the part's size if that
        is less, for round a small part the current spreads: an estimate.
        """
        depth = 0.5 * float(np.ptp(surface.bounds, axis=0).max())
        if job.tank.shape in ("box", "cylinder"):
            depth = min(depth, 0.5 * min(job.tank.size[:2]))
        shape = None
        if density is not None:
            area = surface.plated_area
            known = np.where(area > 0, np.maximum(np.nan_to_num(density), 0.0), 0.0)
            mean = float(area @ known) / float(area.sum())
            shape = np.maximum(known / mean, LEAST) if mean > 0 else None
        return cls(kinetics.law(job.bath.kinetics, job.bath.temperature), depth / job.bath.conductivity, shape)

    def resistance(self, mean: float) -> float:
        """ohm m2 at a mean density in A/m2: the slope of the kinetics there, and the liquid."""
        return float(self.law.resistance(np.array(mean))) + self.ohmic

    def at_points(self, sheet: Sheet, mean: float) -> Vector:
        """(v,) ohm m2 at a sheet's points, so that a sheet without loss collects as the field has it."""
        level = self.resistance(mean)
        if self.shape is None:
            return np.full(len(sheet.mesh.points), level)
        local = sheet.collected(sheet.spread(self.shape)) / np.maximum(sheet.area, 1e-300)
        return level / np.maximum(local, LEAST)

    def at_patches(self, sheet: Sheet, patches: Proxy, mean: float) -> Vector:
        """(n,) the same on a sheet's coarse copy: conductances to the bath add up."""
        leak = patches.collected(sheet.area / self.at_points(sheet, mean))
        return np.divide(patches.area, leak, out=np.ones_like(leak), where=leak > 0)
