"""A surface as a camera sees it: where its points fall in the picture, and what lies in front at each cell of it.

A projection keeps lines and planes, so that the depth buffer of a parallel view (see `depth`) serves: it draws the
points where they fall in the picture, with the depth that the projection gives them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..mesh.surface import Surface
from .depth import DepthBuffers

MAX_CELLS = 1500  # along the part's longer side in the picture
DEPTH_CELLS = 1000.0  # that the part is deep, whatever its own depth: about as many as it is wide
HIDDEN_MARGIN_CELLS = 2.5  # a point this little behind the surface counts as on it
MIN_W_SHARE = 1e-3  # of the part's largest distance from the camera: what is nearer, or behind it, is left out


@dataclass(frozen=True, eq=False)
class Projected:
    """face : (h, w) int32, the triangle in front at each cell of the part's box in the picture, -1 for none
    corner : (2,) the left and the top of that box, and cell : the side of a cell, pixels of the picture
    """

    face: NDArray[np.int32]
    corner: NDArray[np.float64]
    cell: float
    _matrix: NDArray[np.float64]  # (4, 4) meters to clip space
    _size: tuple[int, int]  # of the picture, height and width
    _depth: NDArray[np.float64]  # (h, w) what the projection makes of depth, -1 near to 1 far

    @cached_property
    def alpha(self) -> NDArray[np.uint8]:
        """(h, w) 255 where the part lies, else 0."""
        return np.where(self.face >= 0, 255, 0).astype(np.uint8)

    @cached_property
    def faces(self) -> NDArray[np.intp]:
        """Triangles of which something is seen, ascending."""
        faces = np.unique(self.face)
        return faces[faces >= 0].astype(np.intp)

    def place(self, points: ArrayLike) -> NDArray[np.float64]:
        """(n, 2) cells from the left and from the top of the part's box of model points (n, 3), meters."""
        across = _placed(np.atleast_2d(np.asarray(points, dtype=float)), self._matrix, self._size)[0]
        return (across[:, :2] - self.corner) / self.cell

    def in_sight(self, points: ArrayLike) -> NDArray[np.bool_]:
        """(n,) whether points of the surface, (n, 3) meters, lie in the picture and nothing of it in front of them."""
        locations = np.atleast_2d(np.asarray(points, dtype=float))
        across, ahead = _placed(locations, self._matrix, self._size)
        column, row = np.floor((across[:, :2] - self.corner) / self.cell).astype(int).T
        high, wide = self.face.shape
        inside = ahead & (row >= 0) & (row < high) & (column >= 0) & (column < wide)
        front = self._depth[np.clip(row, 0, high - 1), np.clip(column, 0, wide - 1)]
        nearer = np.column_stack([across[:, :2], np.where(np.isfinite(front), front, across[:, 2])])
        beside = across + (self.cell, 0.0, 0.0)
        seen, front_point, aside = (self._model(point) for point in (across, nearer, beside))
        margin = HIDDEN_MARGIN_CELLS * np.linalg.norm(aside - seen, axis=1)
        return inside & ((nearer[:, 2] >= across[:, 2]) | (np.linalg.norm(front_point - seen, axis=1) < margin))

    def _model(self, across: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 3) meters of places in the picture: pixels from the left, from the top, depth."""
        high, wide = self._size
        clip = np.column_stack(
            [2 * across[:, 0] / wide - 1, 1 - 2 * across[:, 1] / high, across[:, 2], np.ones(len(across))]
        )
        back = clip @ np.linalg.inv(self._matrix).T
        return back[:, :3] / back[:, 3:]


def share_of_picture(points: NDArray[np.float64], matrix: NDArray[np.float64], size: tuple[int, int]) -> float:
    """Of a picture's shorter side, the longer side of the box round what is seen of points (n, 3); 0 where they lie
    behind the camera, infinite where it stands among them. matrix : (4, 4) to clip space; size : height and width"""
    clip = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    ahead = clip[:, 3] > 0
    if not ahead.all():
        return math.inf if ahead.any() else 0.0
    high, wide = size
    sides = np.ptp(clip[:, :2] / clip[:, 3:], axis=0) / 2 * (wide, high)
    return float(sides.max() / min(high, wide))


def projected(surface: Surface, matrix: NDArray[np.float64], size: tuple[int, int]) -> Projected:
    """The surface through a camera.

    matrix : (4, 4) model meters to clip space, in which x, y and depth over w run from -1 to 1
    size : (height, width) of the picture, pixels

    Raises InputError where nothing of the surface falls into the picture. Linear in faces and cells.
    """
    high, wide = size
    across, ahead = _placed(surface.points, matrix, size)
    corners = across[surface.triangles]
    low, top = corners.min(axis=1), corners.max(axis=1)
    drawn = (surface.area > 0) & ahead[surface.triangles].all(axis=1)
    drawn &= (low[:, 0] < wide) & (top[:, 0] > 0) & (low[:, 1] < high) & (top[:, 1] > 0)
    rows = np.flatnonzero(drawn)
    if not len(rows):
        raise InputError("still: the camera does not see the part; point it there")
    flat = across * (1.0, -1.0, -1.0)  # up and toward the viewer
    used = flat[np.unique(surface.triangles[rows])]
    cell = max(1.0, float(np.ptp(used[:, :2], axis=0).max()) / MAX_CELLS)
    deep = DEPTH_CELLS * cell / max(float(np.ptp(used[:, 2])), 1e-12)
    flat = (flat - (0.0, 0.0, used[:, 2].mean())) * (1.0, 1.0, deep)
    buffers = DepthBuffers(flat, surface.triangles[rows], _normal(flat[surface.triangles[rows]]), cell)
    buffer = buffers.along(np.eye(3), np.zeros(2), against_only=False)
    # columns and rows of the raster whose middles lie in the picture, its first row lowest
    u, v, w = buffer.at(buffers.scaled(np.zeros((1, 3))))[:, 0].astype(float)
    front = np.append(rows, -1).astype(np.int32)[buffer.front()]
    drawn_cells = front >= 0
    column, row = np.arange(drawn_cells.shape[1]), np.arange(drawn_cells.shape[0])
    drawn_cells &= ((column - u) * cell >= 0) & ((column - u) * cell < wide)
    drawn_cells &= (((v - row) * cell >= 0) & ((v - row) * cell < high))[:, None]
    if not drawn_cells.any():
        raise InputError("still: the camera does not see the part; point it there")
    ys, xs = (np.flatnonzero(drawn_cells.any(axis=axis)) for axis in (1, 0))
    box = slice(ys[0], ys[-1] + 1), slice(xs[0], xs[-1] + 1)
    depth = -((buffer.depth()[box].astype(float) - w) * cell / deep + used[:, 2].mean())
    corner = np.array([(xs[0] - 0.5 - u) * cell, (v - ys[-1] - 0.5) * cell])
    face = np.where(drawn_cells[box], front[box], -1)[::-1]
    return Projected(face, corner, cell, matrix, size, np.where(drawn_cells[box], depth, np.inf)[::-1])


def _placed(
    points: NDArray[np.float64], matrix: NDArray[np.float64], size: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """(n, 3) pixels from the left, from the top, depth; and (n,) whether a point lies ahead of the camera."""
    clip = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    w = clip[:, 3]
    ahead = w > MIN_W_SHARE * np.abs(w).max()
    x, y, z = (clip[:, :3] / np.where(ahead, w, np.inf)[:, None]).T
    return np.column_stack([(1 + x) / 2 * size[1], (1 - y) / 2 * size[0], z]), ahead


def _normal(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m, 3) unit, zero where a triangle has no area in the picture."""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(across, axis=1, keepdims=True)
    return np.divide(across, length, out=np.zeros_like(across), where=length > 0)
