"""A surface as it looks from one side: what lies in front at each pixel, shaded by its slope to the light."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry.frames import basis, unit
from ..mesh.surface import Surface
from . import smooth
from .depth import DepthBuffers

Sample = TypeVar("Sample", np.int32, np.float32)
Shade = Callable[[NDArray[np.int32], NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]

SAMPLES_PER_PIXEL_SIDE = 2  # each way in a pixel: edges come out smooth
LIGHT_DIRECTION = unit((-0.45, 0.55, 0.70))  # toward it, as the viewer sees it: right, up, toward
DARKEST, BRIGHTEST = 96.0, 236.0  # gray of a face that looks away from the light, or at it
MIN_BRIGHTNESS = 0.42  # brightness of a colored face that looks away from the light, beside one that looks at it
HALFWAY_DIRECTION = unit(LIGHT_DIRECTION + (0.0, 0.0, 1.0))  # normal of a face that mirrors the light
HIGHLIGHT_EXPONENT = 24.0  # how small the highlight is
HIDDEN_MARGIN_PIXELS = 2.5  # a point this little behind the surface counts as on it
MAX_BAND_SAMPLES = 100_000  # shaded at once
MIN_UPRIGHT_SINE = 1e-3  # between the way up and the line of sight, below which there is no up in the picture


@dataclass(frozen=True, eq=False)
class Sight:
    """face : (height, width, samples) int32, the triangle in front, -1 for none; the first row at the top
    turn : (3, 3) rows right, up and toward the viewer; pixel : meters
    """

    face: NDArray[np.int32]
    turn: NDArray[np.float64]
    pixel: float
    _surface: Surface
    _corner: NDArray[np.float64]  # (2,) meters of the left and top edge along right and up
    _reach: NDArray[np.float64]  # (height, width) meters toward the viewer, the furthest of a pixel's samples

    @property
    def size(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.face.shape[0], self.face.shape[1]

    @cached_property
    def alpha(self) -> NDArray[np.uint8]:
        """(height, width) how much of each pixel the surface covers, 255 all of it."""
        return np.rint(255.0 * (self.face >= 0).mean(axis=-1)).astype(np.uint8)

    @cached_property
    def faces(self) -> NDArray[np.intp]:
        """Triangles of which something is seen, ascending."""
        faces = np.unique(self.face)
        return faces[faces >= 0].astype(np.intp)

    def gray(self) -> NDArray[np.uint8]:
        """(height, width) as of chalk."""
        return self._mean(lambda _, normal, __: DARKEST + (BRIGHTEST - DARKEST) * _lambert(normal))

    def painted(
        self, tint: NDArray[np.float64], gloss: float = 0.0, kind: NDArray[np.intp] | None = None
    ) -> NDArray[np.uint8]:
        """(height, width, 3) in colors. tint : (m, 3) display values 0 to 1; gloss : white added where it mirrors the
        light; kind : (m,) from 0, colors run smoothly among triangles of one kind; None: each has its own color.
        Normals run smoothly over all but sharp edges (Phong's shading and highlight, Comm. ACM 18 (1975) 311, from
        memory)."""
        corner = None if kind is None else smooth.corner_means(self._surface, self.faces, tint, kind)

        def shade(
            face: NDArray[np.int32], normal: NDArray[np.float64], place: NDArray[np.float64]
        ) -> NDArray[np.float64]:
            color = tint[face] if corner is None else self._smooth.mixed(corner, face.astype(np.intp), place)
            level = MIN_BRIGHTNESS + (1 - MIN_BRIGHTNESS) * _lambert(normal)
            shine = gloss * np.clip(normal @ HALFWAY_DIRECTION, 0.0, 1.0) ** HIGHLIGHT_EXPONENT
            return 255.0 * np.clip(color * level[:, None] + shine[:, None], 0.0, 1.0)

        return self._mean(shade)

    @cached_property
    def _smooth(self) -> smooth.Smooth:
        return smooth.seen(self._surface, self.faces, self.turn)

    def _mean(self, shade: Shade) -> NDArray[np.uint8]:
        """Values of the samples that show a triangle, averaged over a pixel; 0 where none does. A band at a time.

        shade : values (n,) or (n, c) from triangles (n,), unit normals (n, 3) as the viewer sees them, and
        places (n, 2), meters along right and up
        """
        rows = max(1, MAX_BAND_SAMPLES // self.face[0].size)
        return np.concatenate([self._band(shade, first, rows) for first in range(0, len(self.face), rows)])

    def _band(self, shade: Shade, first: int, rows: int) -> NDArray[np.uint8]:
        """`rows` rows of the picture from row `first` on."""
        face = self.face[first : first + rows]
        covered = face >= 0
        row, column, sample = np.nonzero(covered)
        down, across = np.divmod(sample, SAMPLES_PER_PIXEL_SIDE)
        step = (
            np.stack([column, -(first + row)], axis=1)
            + (np.stack([across, -down], axis=1) + (0.5, -0.5)) / SAMPLES_PER_PIXEL_SIDE
        )
        place = self._corner + step * self.pixel
        values = shade(face[covered], self._smooth.at(face[covered], place), place)
        total = np.zeros(face.shape + values.shape[1:])
        total[covered] = values
        count = covered.sum(axis=-1).reshape(face.shape[:2] + (1,) * (values.ndim - 1))
        return np.rint(total.sum(axis=2) / np.maximum(count, 1)).astype(np.uint8)

    def place(self, points: ArrayLike) -> NDArray[np.float64]:
        """(n, 2) pixels from the left and from the top of model points (n, 3), meters."""
        across = np.atleast_2d(np.asarray(points, dtype=float)) @ self.turn[:2].T
        return (across - self._corner) * (1.0, -1.0) / self.pixel

    def seen(self, point: ArrayLike) -> bool:
        """Whether nothing lies in front of a point of the surface, (3,) meters."""
        return bool(self.in_sight(point)[0])

    def in_sight(self, points: ArrayLike) -> NDArray[np.bool_]:
        """(n,) whether nothing lies in front of points of the surface, (n, 3) meters."""
        column, row = self.place(points).astype(int).T
        height, width = self._reach.shape
        inside = (row >= 0) & (row < height) & (column >= 0) & (column < width)
        reach = self._reach[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)].astype(float)
        ahead = reach - np.atleast_2d(np.asarray(points, dtype=float)) @ self.turn[2]
        return ~inside | (ahead < HIDDEN_MARGIN_PIXELS * self.pixel)


def _lambert(normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) of unit normals (n, 3) as the viewer sees them."""
    return np.clip(normal @ LIGHT_DIRECTION, 0.0, 1.0)


def view(toward: ArrayLike, up: ArrayLike) -> NDArray[np.float64]:
    """(3, 3) rows right, up, toward for a viewer in the direction `toward` (3,), with `up` (3,) upright as far as it
    can be. Both in model axes, of any length."""
    back = unit(toward)
    right = np.cross(np.asarray(up, dtype=float), back)
    length = float(np.linalg.norm(right))
    right = basis(back)[0] if length < MIN_UPRIGHT_SINE * float(np.linalg.norm(up)) else right / length
    return np.stack([right, np.cross(back, right), back])


def broadside(surface: Surface, up: ArrayLike, facing: ArrayLike = (0.0, 0.0, 0.0)) -> NDArray[np.float64]:
    """(3,) unit, level: toward a viewer who sees the part at its longest, on the side that `facing` (3,) looks to.
    Without one, the model's front."""
    right, _, front = view((0.0, -1.0, 0.0), up)
    level = np.stack([right, np.cross(unit(up), right)])
    points = (surface.points[np.unique(surface.triangles)] - surface.bounds.mean(axis=0)) @ level.T
    toward = np.linalg.svd(points, full_matrices=False)[2][1] @ level  # across the longest extent
    side = np.asarray(facing, dtype=float)
    return toward if toward @ (side if side.any() else front) >= 0 else -toward


def sight(surface: Surface, turn: NDArray[np.float64], pixels: int) -> Sight:
    """The surface as seen, about `pixels` along its longer side. turn : (3, 3) as `view` gives it.

    A depth buffer (see `depth`), shaded by Lambert's cosine law, both sides alike. Linear in faces and
    pixels.
    """
    return next(sights(surface, [turn], pixels))


def sights(surface: Surface, turns: Iterable[NDArray[np.float64]], pixels: int) -> Iterator[Sight]:
    """As `sight`, of several turns one after the other: what is prepared of the faces serves all."""
    drawn = np.flatnonzero(surface.area > 0)
    triangles = surface.triangles[drawn]
    points = surface.points[np.unique(triangles)]
    buffers = DepthBuffers(surface.points, triangles, surface.normal[drawn])
    for turn in turns:
        fine = float(np.ptp(points @ turn[:2].T, axis=0).max()) / (pixels * SAMPLES_PER_PIXEL_SIDE)
        yield _sight(surface, drawn, buffers.at_pixel(fine), turn)


def _sight(surface: Surface, drawn: NDArray[np.intp], buffers: DepthBuffers, turn: NDArray[np.float64]) -> Sight:
    """drawn : of the surface the triangles that the buffers hold"""
    fine, buffer = buffers.pixel, buffers.along(turn, np.zeros(2), against_only=False)
    face, depth = np.append(drawn, -1).astype(np.int32)[buffer.front()], buffer.depth()
    rows, columns = (_whole(np.flatnonzero((face >= 0).any(axis=1 - axis)), SAMPLES_PER_PIXEL_SIDE) for axis in (0, 1))
    known = surface.points[surface.triangles[drawn[0], 0]]  # a point whose place on the raster ties pixels to meters
    u, v, w = buffer.at(buffers.scaled(known[None]))[:, 0].astype(float)
    right, upward, toward = turn @ known
    corner = np.array([right + (columns.start - 0.5 - u) * fine, upward + (rows.stop - 0.5 - v) * fine])
    reach = toward + (_blocks(depth[rows, columns]).max(axis=-1).astype(float) - w) * fine
    return Sight(_blocks(face[rows, columns]), turn, SAMPLES_PER_PIXEL_SIDE * fine, surface, corner, reach)


def _whole(used: NDArray[np.intp], step: int) -> slice:
    """The rows or columns in use, as many as a multiple of `step`."""
    first, count = int(used[0]), int(used[-1] - used[0]) + 1
    return slice(first, first + -(-count // step) * step)


def _blocks(raster: NDArray[Sample]) -> NDArray[Sample]:
    """(rows, columns) samples as (height, width, samples of a pixel), the top row first."""
    height, width = (side // SAMPLES_PER_PIXEL_SIDE for side in raster.shape)
    parts = raster[::-1].reshape(height, SAMPLES_PER_PIXEL_SIDE, width, SAMPLES_PER_PIXEL_SIDE)
    return parts.transpose(0, 2, 1, 3).reshape(height, width, SAMPLES_PER_PIXEL_SIDE**2)
