"""The part seen along the rod: its outline on a grid, and the depth range of the part in each cell.

Own axes of a cage, meters: u along the rod, v level and square to it, z up. A body moved along u can touch the part
only within this outline.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..mesh.rays import ParallelRays
from ..units import MM
from .lattice import Array

Mask = NDArray[np.bool_]

MIN_PITCH_M = 0.1 * MM  # of the rays
MAX_ALONG = 260  # rays along the outline's longer side
EDGE_CELLS = 3  # empty ones round the outline


@dataclass(frozen=True, eq=False)
class Silhouette:
    """The outline on a grid.

    v : (k,) m; z : (n,) m; solid : (k, n) whether the part is there; front, back : (k, n) the largest and the least u,
    -inf and inf beside the part; front_face, back_face : (k, n) the triangles there, -1 beside it
    """

    v: Array
    z: Array
    solid: Mask
    front: Array
    back: Array
    front_face: NDArray[np.intp]
    back_face: NDArray[np.intp]

    @property
    def pitch(self) -> float:
        """m, of the grid."""
        return float(self.v[1] - self.v[0])

    @cached_property
    def middle(self) -> Array:
        """(2,) m, of the outline's box."""
        i, j = np.nonzero(self.solid)
        return np.array([self.v[i].min() + self.v[i].max(), self.z[j].min() + self.z[j].max()]) / 2

    @cached_property
    def size(self) -> Array:
        """(2,) m, of the outline's box."""
        i, j = np.nonzero(self.solid)
        return np.array([np.ptp(self.v[i]), np.ptp(self.z[j])]) + self.pitch

    @cached_property
    def reach(self) -> float:
        """m, from the middle to the furthest point of the outline."""
        i, j = np.nonzero(self.solid)
        return float(np.hypot(self.v[i] - self.middle[0], self.z[j] - self.middle[1]).max())

    def at(self, v: Array, z: Array) -> Mask:
        """Whether the part is at places (...), beside the grid: not."""
        i = np.rint((v - self.v[0]) / self.pitch).astype(np.intp)
        j = np.rint((z - self.z[0]) / self.pitch).astype(np.intp)
        on_grid = (i >= 0) & (i < len(self.v)) & (j >= 0) & (j < len(self.z))
        return on_grid & self.solid[np.clip(i, 0, len(self.v) - 1), np.clip(j, 0, len(self.z) - 1)]

    def widened(self, diamond: float, square: float) -> Mask:
        """(k, n) where the middle of a diamond (half a diagonal, m) comes nearer than `square` to the part."""
        half, off = (int(np.ceil(length / self.pitch)) for length in (diamond, square))
        widened = np.zeros_like(self.solid)
        for k in range(-half, half + 1):
            widened |= _spread(_moved(self.solid, k), half - abs(k), 1)
        return _spread(_spread(widened, off, 0), off, 1)


def of(points: Array, triangles: NDArray[np.int32], room: float) -> Silhouette:
    """The outline of triangles in a cage's axes, with so much room round it (m). Cost: 100,000 rays either way."""
    used = points[np.unique(triangles)]
    low, high = used.min(axis=0), used.max(axis=0)
    pitch = max(MIN_PITCH_M, float((high - low)[1:].max()) / MAX_ALONG)
    edge = room + EDGE_CELLS * pitch
    v, z = (np.arange(low[k] - edge, high[k] + edge, pitch) for k in (1, 2))
    level = np.stack(np.meshgrid(v, z, indexing="ij"), axis=-1).reshape(-1, 2)
    ends, faces = [], []
    for sign, start in ((-1.0, high[0] + MM), (1.0, low[0] - MM)):
        rays = ParallelRays(points, triangles, (sign, 0.0, 0.0))
        face, distance = rays.first_hit(np.column_stack([np.full(len(level), start), level]))
        ends.append((start + sign * distance).reshape(len(v), len(z)))
        faces.append(face.reshape(len(v), len(z)).astype(np.intp))
    return Silhouette(v, z, faces[0] >= 0, ends[0], ends[1], faces[0], faces[1])


def _moved(mask: Mask, k: int) -> Mask:
    """k cells further along the first axis."""
    moved = np.zeros_like(mask)
    n = len(mask)
    moved[max(k, 0) : n + min(k, 0)] = mask[max(-k, 0) : n - max(k, 0)]
    return moved


def _spread(mask: Mask, cells: int, axis: int) -> Mask:
    """Every true cell with so many beside it on either side."""
    if not cells:
        return mask
    moved = np.moveaxis(mask, axis, 0)
    n = len(moved)
    total = np.concatenate([np.zeros((1, *moved.shape[1:]), dtype=np.int32), np.cumsum(moved, axis=0, dtype=np.int32)])
    index = np.arange(n)
    count = total[np.minimum(index + cells + 1, n)] - total[np.maximum(index - cells, 0)]
    return np.moveaxis(count > 0, 0, axis)


def largest_within(values: Array, cells: int) -> Array:
    """(k, n) the largest within so many cells either way."""
    largest = values
    for axis in (0, 1):
        padded = np.concatenate([np.full_like(np.take(largest, range(cells), axis), -np.inf)] * 2, axis=axis)
        ends = np.split(padded, 2, axis=axis)
        wide = np.concatenate([ends[0], largest, ends[1]], axis=axis)
        largest = np.lib.stride_tricks.sliding_window_view(wide, 2 * cells + 1, axis=axis).max(axis=-1)
    return largest
