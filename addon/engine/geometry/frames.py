"""Unit vectors, and frames that a direction is one axis of."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Vector = NDArray[np.float64]


def unit(direction: ArrayLike) -> Vector:
    """A direction (3,), not zero, at length one."""
    vector = np.asarray(direction, dtype=np.float64)
    return vector / float(np.linalg.norm(vector))


def basis(direction: Vector) -> tuple[Vector, Vector]:
    """Two unit vectors that complete a unit direction to a right-handed frame (u, v, direction).

    The axis that the direction leans to least is turned into the plane across it: u loses no digits.
    """
    least = np.eye(3)[np.argmin(np.abs(direction))]
    u = np.cross(least, direction)
    u /= np.linalg.norm(u)
    return u, np.cross(direction, u)


def frame(direction: ArrayLike) -> Vector:
    """(3, 3) rows: two unit axes across a direction (3,) of any length, and the unit direction; a rotation."""
    along = unit(direction)
    return np.stack([*basis(along), along])
