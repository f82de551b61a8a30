"""A picture of a surface from one side, in gray: what lies in front at each pixel, shaded by its slope to the light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry.frames import basis, unit
from ..mesh.surface import Surface
from .depth import DepthBuffers

Sample = TypeVar("Sample", np.int32, np.float32)

SAMPLES = 2  # each way in a pixel: edges come out smooth
LIGHT = unit((-0.45, 0.55, 0.70))  # toward it, as the viewer sees it: right, up, toward
DARKEST, BRIGHTEST = 96.0, 236.0  # gray of a face that looks away from the light, or at it
HIDDEN_MARGIN_PIXELS = 2.5  # a point so little behind the surface still lies on it
MIN_UPRIGHT_SINE = 1e-3  # between the way up and the line of sight, below which there is no up in the picture


@dataclass(frozen=True, eq=False)
class Shaded:
    """gray, alpha : (height, width) uint8, the first row at the top
    turn : (3, 3) rows right, up and toward the viewer; pixel : meters
    """

    gray: NDArray[np.uint8]
    alpha: NDArray[np.uint8]
    turn: NDArray[np.float64]
    pixel: float
    _corner: NDArray[np.float64]  # (2,) meters of the left and top edge along right and up
    _reach: NDArray[np.float64]  # (height, width) meters toward the viewer, the furthest of a pixel's samples

    def place(self, points: ArrayLike) -> NDArray[np.float64]:
        """(n, 2) pixels from the left and from the top of model points (n, 3), meters."""
        across = np.atleast_2d(np.asarray(points, dtype=float)) @ self.turn[:2].T
        return (across - self._corner) * (1.0, -1.0) / self.pixel

    def seen(self, point: ArrayLike) -> bool:
        """Whether nothing lies in front of a point of the surface, (3,) meters."""
        column, row = self.place(point)[0].astype(int)
        height, width = self._reach.shape
        if not (0 <= row < height and 0 <= column < width):
            return True
        ahead = float(self._reach[row, column]) - float(self.turn[2] @ np.asarray(point, dtype=float))
        return bool(ahead < HIDDEN_MARGIN_PIXELS * self.pixel)


def view(toward: ArrayLike, up: ArrayLike) -> NDArray[np.float64]:
    """(3, 3) rows right, up, toward for a viewer in the direction `toward` (3,), with `up` (3,) upright as far as it
    can be. Both in model axes, of any length."""
    back = unit(toward)
    right = np.cross(np.asarray(up, dtype=float), back)
    length = float(np.linalg.norm(right))
    right = basis(back)[0] if length < MIN_UPRIGHT_SINE * float(np.linalg.norm(up)) else right / length
    return np.stack([right, np.cross(back, right), back])


def shaded(surface: Surface, turn: NDArray[np.float64], pixels: int) -> Shaded:
    """The picture of a surface, about `pixels` along its longer side. turn : (3, 3) as `view` gives it.

    A depth buffer (see `depth`), each face shaded by Lambert's cosine law, both sides alike. Linear in faces and
    pixels.
    """
    kept = np.flatnonzero(surface.area > 0)
    across = surface.points[np.unique(surface.triangles[kept])] @ turn[:2].T
    fine = float(np.ptp(across, axis=0).max()) / (pixels * SAMPLES)
    buffers = DepthBuffers(surface.points, surface.triangles[kept], surface.normal[kept], fine)
    buffer = buffers.along(turn, np.zeros(2), against_only=False)
    face, depth = buffer.front(), buffer.depth()
    rows, columns = (_whole(np.flatnonzero((face < len(kept)).any(axis=1 - axis)), SAMPLES) for axis in (0, 1))
    face, depth = _blocks(face[rows, columns]), _blocks(depth[rows, columns])

    facing = surface.normal[kept] @ turn.T
    facing *= np.where(facing[:, 2:] < 0, -1.0, 1.0)
    level = np.append(DARKEST + (BRIGHTEST - DARKEST) * np.clip(facing @ LIGHT, 0.0, 1.0), 0.0)
    there = face < len(kept)
    count = there.sum(axis=-1)
    gray = np.divide(level[face].sum(axis=-1), count, out=np.zeros(count.shape), where=count > 0)

    known = surface.points[surface.triangles[kept[0], 0]]  # a point whose place on the raster ties pixels to meters
    u, v, w = buffer.at(buffers.scaled(known[None]))[:, 0].astype(float)
    right, upward, toward = turn @ known
    corner = np.array([right + (columns.start - 0.5 - u) * fine, upward + (rows.stop - 0.5 - v) * fine])
    return Shaded(
        gray=np.rint(gray).astype(np.uint8),
        alpha=np.rint(255.0 * count / SAMPLES**2).astype(np.uint8),
        turn=turn,
        pixel=SAMPLES * fine,
        _corner=corner,
        _reach=(toward + (depth.max(axis=-1).astype(float) - w) * fine),
    )


def _whole(used: NDArray[np.intp], step: int) -> slice:
    """The rows or columns in use, as many as a multiple of `step`."""
    first, count = int(used[0]), int(used[-1] - used[0]) + 1
    return slice(first, first + -(-count // step) * step)


def _blocks(raster: NDArray[Sample]) -> NDArray[Sample]:
    """(rows, columns) samples as (height, width, samples of a pixel), the top row first."""
    height, width = (side // SAMPLES for side in raster.shape)
    parts = raster[::-1].reshape(height, SAMPLES, width, SAMPLES)
    return parts.transpose(0, 2, 1, 3).reshape(height, width, SAMPLES**2)
