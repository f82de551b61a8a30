"""Closed meshes of revolution: rings of as many flats, from one end on the axis to the other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import basis
from .lattice import Array

SIDES = 48


def turned(start: Array, axis: Array, profile: Sequence[tuple[float, float]]) -> tuple[Array, NDArray[np.int32]]:
    """Points (v, 3) and triangles (m, 3), closed; outward where the profile runs up the outside. Meters.

    start : (3,) on the axis, where heights begin; axis : (3,) unit
    profile : (radius to the corners of the flats, height) of each ring; both ends are closed level
    """
    u, v = basis(axis)
    turn = 2 * np.pi * np.arange(SIDES)[:, None] / SIDES
    ring = np.cos(turn) * u + np.sin(turn) * v
    ends = [start + profile[k][1] * axis for k in (0, -1)]
    points = np.vstack([*(start + height * axis + radius * ring for radius, height in profile), *ends])
    i = np.arange(SIDES)
    j = (i + 1) % SIDES
    last = SIDES * (len(profile) - 1)
    first, second = (np.full(SIDES, SIDES * len(profile) + k) for k in (0, 1))
    triangles = [(first, j, i), (second, last + i, last + j)]
    for k in range(0, last, SIDES):
        triangles += [(k + i, k + j, k + SIDES + j), (k + i, k + SIDES + j, k + SIDES + i)]
    return points, np.concatenate([np.stack(corners, axis=1) for corners in triangles]).astype(np.int32)


def frustum(
    start: Array, axis: Array, diameters: tuple[float, float], length: float
) -> tuple[Array, NDArray[np.int32]]:
    """A round taper, as `turned`. start : (3,) middle of its first end; axis : (3,) unit, to the other"""
    return turned(start, axis, ((diameters[0] / 2, 0.0), (diameters[1] / 2, length)))
