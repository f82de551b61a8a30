"""Images of panels in the walls of a box: where they lie, and which come near."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Image = tuple[tuple[int, int], tuple[int, int], tuple[int, int]]  # (sign, m) an axis: y' = sign y + 2 L m

SELF: Image = ((1, 0), (1, 0), (1, 0))
MIN_IMAGE_DISTANCE = 0.6  # an image closer than this, in half sizes of a group, is left to the layer operators


def reflect(image: Image, points: Array, low: Array, length: Array) -> Array:
    """Where the image of points (..., 3) lies, in a box from `low` with sides `length`."""
    sign, shift = np.array(image).T
    return low + sign * (points - low) + 2.0 * length * shift


def after(second: Image, first: Image) -> Image:
    """The image of an image."""
    x, y, z = ((s * u, s * m + n) for (s, n), (u, m) in zip(second, first, strict=True))
    return x, y, z


def mirrored(axis: int, way: int) -> Image:
    """The image behind a wall: 0 at the box's lower end of this axis, 1 at its upper one."""
    x, y, z = ((-1, way) if a == axis else (1, 0) for a in range(3))
    return x, y, z


@dataclass(frozen=True, eq=False)
class Group:
    """Panels that lie together: their indices, and the box round their centroids (2, 3)."""

    rows: NDArray[np.intp]
    bounds: Array

    @classmethod
    def of(cls, rows: NDArray[np.intp], points: Array) -> Group:
        """Points (m, 3) of the given indices; flat groups get a little depth to interpolate in."""
        low, high = points.min(axis=0), points.max(axis=0)
        pad = 1e-3 * (high - low).max() + 1e-9
        return cls(rows, np.array([low - pad, high + pad]))

    @property
    def half(self) -> Array:
        """(3,) meters, half of the sides of the group's box."""
        return 0.5 * (self.bounds[1] - self.bounds[0])


def gap(a: Array, b: Array) -> Array:
    """Distance between boxes (..., 2, 3)."""
    apart = np.maximum(np.maximum(a[..., 0, :] - b[..., 1, :], b[..., 0, :] - a[..., 1, :]), 0.0)
    return np.sqrt((apart**2).sum(axis=-1))


def bounds_of(images: Sequence[Image], group: Group, low: Array, length: Array) -> Array:
    """(k, 2, 3) corners of the boxes round the images of a group."""
    sign, shift = np.array(images)[:, None].transpose(3, 0, 1, 2)
    return np.sort(low + sign * (group.bounds - low) + 2.0 * length * shift, axis=1)


def near_images(group: Group, groups: Sequence[Group], low: Array, length: Array) -> list[Image]:
    """The images of a group, itself left out, that come too near some group to be interpolated."""
    ways = [(1, 0), (-1, 0), (-1, 1), (1, 1), (1, -1)]
    images = [image for image in product(ways, ways, ways) if image != SELF]
    bounds, near = bounds_of(images, group, low, length), np.zeros(len(images), bool)
    for other in groups:
        near |= gap(bounds, other.bounds) < MIN_IMAGE_DISTANCE * max(other.half.max(), group.half.max())
    return [images[k] for k in np.flatnonzero(near)]
