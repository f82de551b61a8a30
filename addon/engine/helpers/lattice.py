"""Closed meshes from boxes, without a boolean: the boxes' planes cut space into cells, and the skin of the filled cells
is closed by construction. Slopes are made afterwards by moving points, so the mesh stays closed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Box = tuple[tuple[float, float, float], tuple[float, float, float]]  # lowest and highest corner, meters

GRID_M = 1e-5  # planes are rounded to this, so no sliver is thinner


def union(boxes: Sequence[Box], holes: Sequence[Box] = ()) -> tuple[Array, NDArray[np.int32]]:
    """Points (v, 3) and triangles (m, 3), outward, of the union of boxes less the holes. Linear in the cells of their
    planes."""
    ends = np.round(np.array([*boxes, *holes], dtype=float) / GRID_M) * GRID_M  # (boxes, 2, 3)
    planes = [np.unique(ends[:, :, axis]) for axis in range(3)]
    filled = np.zeros([len(at) + 1 for at in planes], dtype=bool)  # with an empty layer all round
    for k, (low, high) in enumerate(ends):
        cells = [slice(*(np.searchsorted(planes[axis], (low[axis], high[axis])) + 1)) for axis in range(3)]
        filled[cells[0], cells[1], cells[2]] = k < len(boxes)
    shape = np.array([len(at) for at in planes])
    quads = np.concatenate([_skin(filled, axis, shape) for axis in range(3)])
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    used, place = np.unique(triangles, return_inverse=True)
    index = np.unravel_index(used, shape)
    points = np.stack([planes[axis][index[axis]] for axis in range(3)], axis=1)
    return points, place.reshape(-1, 3).astype(np.int32)


def _skin(filled: NDArray[np.bool_], axis: int, shape: NDArray[np.intp]) -> NDArray[np.intp]:
    """(k, 4) lattice points of the quads square to an axis, wound outward."""
    low, high = (np.moveaxis(filled, axis, 0)[part] for part in (slice(None, -1), slice(1, None)))
    faces = []
    for out, order in ((low & ~high, (0, 1, 2, 3)), (high & ~low, (0, 3, 2, 1))):
        k, i, j = np.nonzero(out)
        corners = []
        for di, dj in ((0, 0), (1, 0), (1, 1), (0, 1)):
            place = [k, i - 1 + di, j - 1 + dj]  # axes after moveaxis: this one, then the others in order
            others = [other_axis for other_axis in range(3) if other_axis != axis]
            index = [np.zeros(0, dtype=np.intp)] * 3
            index[axis], index[others[0]], index[others[1]] = place
            corners.append(np.ravel_multi_index(index, tuple(shape)))
        quads = np.stack(corners, axis=1)[:, order]
        faces.append(quads if axis != 1 else quads[:, ::-1])  # the others of axis 1 are left-handed
    return np.concatenate(faces)
