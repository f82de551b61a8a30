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
    measures = Measures(np.empty(len(triangles)), np.empty((len(triangles), 3)), np.empty(len(triangles)))
    for start in range(0, len(triangles), TRIANGLES_PER_BATCH):
        batch = slice(start, start + TRIANGLES_PER_BATCH)
        i, j, k = triangles[batch].T.astype(np.intp)
        ax, ay, az = x[i], y[i], z[i]
        bx, by, bz = x[j] - ax, y[j] - ay, z[j] - az
        cx, cy, cz = x[k] - ax, y[k] - ay, z[k] - az
        nx, ny, nz = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
        twice = np.sqrt(nx * nx + ny * ny + nz * nz)
        measures.volume[batch] = (ax * nx + ay * ny + az * nz) / 6.0
        measures.area[batch] = 0.5 * twice
        scale = np.divide(1.0, twice, out=np.zeros_like(twice), where=twice > 0)
        for axis, across in enumerate((nx, ny, nz)):
            np.multiply(across, scale, out=measures.normal[batch, axis])
    return measures


def bounds(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2, k) lowest and highest coordinates of points (n, k): axis by axis, which takes a third of the time."""
    return np.array([[axis.min() for axis in points.T], [axis.max() for axis in points.T]])


def longest_edges(corners: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Length (m,) of the longest edge of triangles (m, 3, 3), and the corner (m,) that it starts at, 0 to 2."""
    edges = np.roll(corners, -1, axis=1) - corners
    length = np.sqrt(np.einsum("ijk,ijk->ij", edges, edges))
    return length.max(axis=1), length.argmax(axis=1)


def bisected(values: NDArray[np.float64], start: NDArray[np.intp]) -> NDArray[np.float64]:
    """What stands at the corners of triangles (m, 3) or (m, 3, k), at those of their halves (2 m, 3, ...): the first
    halves, then the second. start : (m,) the corner that each cut edge starts at; its middle is the first half's second
    corner."""
    row = np.arange(len(values))
    a, b, c = (values[row, (start + k) % 3] for k in range(3))
    middle = 0.5 * (a + b)
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
