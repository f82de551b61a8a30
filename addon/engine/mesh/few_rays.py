"""A handful of rays in numpy alone, where no host is at hand: each costs a pass over all triangles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .rays import ParallelRays
from .surface import Surface


@dataclass(frozen=True, eq=False)
class FewRays:
    """`tracer.FirstHit` of a surface."""

    surface: Surface

    def first_hit(
        self, origins: NDArray[np.float64], directions: NDArray[np.float64]
    ) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
        """Nearest triangle along each ray (n,), -1 where it misses, and how far it is (n,), m; inf there."""
        face, distance = np.full(len(origins), -1, dtype=np.int32), np.full(len(origins), np.inf)
        for k, (origin, direction) in enumerate(zip(origins, directions, strict=True)):
            rays = ParallelRays(self.surface.points, self.surface.triangles, direction)
            (face[k],), (distance[k],) = rays.first_hit(origin[None])
        return face, distance
