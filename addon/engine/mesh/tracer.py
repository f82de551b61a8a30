"""The ray caster interface of the engine. The host, or a test's library, implements it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from .surface import Surface


class FirstHit(Protocol):
    """Finds what rays meet first, of the triangles of one surface. Lengths in meters; directions need not be unit.

    A hit on either side of a triangle counts. A ray only hits triangles ahead of its origin, so callers lift origins
    off the surface themselves (`Surface.lift` is a safe distance).
    """

    def first_hit(
        self, origins: NDArray[np.float64], directions: NDArray[np.float64]
    ) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
        """Nearest triangle along each ray.

        origins, directions : (n, 3). Returns (face (n,) int32, -1 where the ray misses;
        distance (n,) in meters along the unit direction, inf where it misses).
        """
        ...


class Tracer(FirstHit, Protocol):
    """Casts rays at the triangles of one surface, as `FirstHit` does."""

    def blocked(self, origins: NDArray[np.float64], directions: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether anything lies ahead of each ray, (n,). May be faster than `first_hit`."""
        ...

    def nearest(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Distance from each point (n, 3) to the closest triangle, (n,) meters."""
        ...


TracerMaker: TypeAlias = "Callable[[Surface], Tracer]"
