"""Areas, normals and volumes of triangles, in one pass that stays within the processor's cache."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

TRIANGLES_PER_BATCH = 1 << 14


class Measures(NamedTuple):
    """area (m,) m2; normal (m, 3) unit, zero where there is no area; volume (m,) m3 of the tetrahedron
    between the triangle and a point, positive where the normal looks away from that point.
    """

    area: NDArray[np.float64]
    normal: NDArray[np.float64]
    volume: NDArray[np.float64]


def measure(points: NDArray[np.float64], triangles: NDArray[np.int32], about: ArrayLike = (0, 0, 0)) -> Measures:
    """points : (v, 3) meters; triangles : (m, 3); about : (3,) meters, the apex of the tetrahedra."""
    x, y, z = np.ascontiguousarray((points - np.asarray(about, dtype=float)).T)
    found = Measures(np.empty(len(triangles)), np.empty((len(triangles), 3)), np.empty(len(triangles)))
    for start in range(0, len(triangles), TRIANGLES_PER_BATCH):
        here = slice(start, start + TRIANGLES_PER_BATCH)
        i, j, k = triangles[here].T.astype(np.intp)
        ax, ay, az = x[i], y[i], z[i]
        bx, by, bz = x[j] - ax, y[j] - ay, z[j] - az
        cx, cy, cz = x[k] - ax, y[k] - ay, z[k] - az
        nx, ny, nz = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
        twice = np.sqrt(nx * nx + ny * ny + nz * nz)
        found.volume[here] = (ax * nx + ay * ny + az * nz) / 6.0
        found.area[here] = 0.5 * twice
        scale = np.divide(1.0, twice, out=np.zeros_like(twice), where=twice > 0)
        for axis, across in enumerate((nx, ny, nz)):
            np.multiply(across, scale, out=found.normal[here, axis])
    return found
