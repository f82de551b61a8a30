"""Surfaces cut into pieces small enough to carry one current density each."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged
from ..geometry.nearest import least
from ..geometry.triangles import bisected, longest_edges

Array = NDArray[np.float64]
Ints = NDArray[np.intp]
Sizes = Callable[[Array], Array]  # places (..., 3) -> wanted length of a piece there (...), meters

MIN_EDGE_RATIO = 0.15  # the shortest edge over the longest, below which a triangle is cut into slabs
MAX_BARYCENTRIC_EXCESS = 0.5  # how far outside its piece a value may be read, in barycentric coordinates
MAX_REFINEMENT_RATIO = 8.0  # a piece is never wanted smaller than the even size over this


def split(corners: Array, size: Array) -> tuple[Array, Ints]:
    """Triangles halved across their longest edge until it is no longer than wanted.

    corners : (m, 3, 3); size : (m, 3) meters, wanted at each corner and linear between.
    Returns the pieces (n, 3, 3) and the triangle that each came from (n,).
    """
    finished, origins = [], []
    origin = np.arange(len(corners))
    while len(corners):
        longest, start = longest_edges(corners)
        large = longest > size.mean(axis=1)
        finished.append(corners[~large])
        origins.append(origin[~large])
        corners, size = (bisected(values[large], start[large]) for values in (corners, size))
        origin = np.tile(origin[large], 2)
    return np.concatenate(finished), np.concatenate(origins)


def slabs(corners: Array, size: float) -> tuple[Array, Ints]:
    """Slivers longer than wanted cut across into slabs, so that their number grows with their length and not with its
    square, as by halving; other triangles as they are. Returns as `split`.
    """
    edges = np.roll(corners, -1, axis=1) - corners
    length = np.sqrt(np.einsum("ijk,ijk->ij", edges, edges))
    short, longest = length.argmin(axis=1), length.max(axis=1)
    count = np.ceil(1.1 * longest / size).astype(np.intp)
    count[length.min(axis=1) > MIN_EDGE_RATIO * longest] = 1
    row = np.repeat(np.arange(len(corners)), count)
    step = ragged.places(count)
    far = corners[row[:, None], (short[row, None] + [2, 0, 1]) % 3]  # the corner opposite the short edge comes first
    start, end = (far[:, :1] + ((step + k) / count[row])[:, None, None] * (far[:, 1:] - far[:, :1]) for k in (0, 1))
    lower = np.concatenate([start[:, :1], end], axis=1)
    upper = np.stack([start[:, 0], end[:, 1], start[:, 1]], axis=1)[step > 0]
    return np.concatenate([lower, upper]), np.append(row, row[step > 0])


def _bounded(corners: Array, even: float, count: int) -> float:
    """The even size, m, or a larger one at which `slabs` makes no more than about `count` pieces, two a slab: by area
    alone their number grows as the root of how slender slivers are.
    """
    edges = np.roll(corners, -1, axis=1) - corners
    length = np.sqrt(np.einsum("ijk,ijk->ij", edges, edges))
    longest = length.max(axis=1)
    slender = (length.min(axis=1) <= MIN_EDGE_RATIO * longest) & (longest > 2.0 * even)
    return max(even, 1.1 * float(longest[slender].sum()) / count)


def area(corners: Array) -> Array:
    """(n,) m2 of triangles (n, 3, 3)."""
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return 0.5 * np.sqrt(np.einsum("ij,ij->i", cross, cross))


def normals(corners: Array) -> Array:
    """(n, 3) unit normals of triangles (n, 3, 3)."""
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return cross / np.sqrt(np.einsum("ij,ij->i", cross, cross))[:, None]


def meeting(pieces: Array) -> Ints:
    """(n, 3) one number for all corners of pieces (n, 3, 3) that lie in one place."""
    places = pieces.reshape(-1, 3) - pieces.reshape(-1, 3).min(axis=0)
    cells = np.round(places / (1e-7 * float(places.max()))).astype(np.int64)
    _, place = np.unique(cells @ np.array([1, 1 << 24, 1 << 48]), return_inverse=True)
    return place.reshape(-1, 3)


def barycentric(points: Array, triangles: Array) -> Array:
    """Of points (n, 3) dropped onto triangles (n, 3, 3), (n, 3)."""
    a, b, c = triangles.swapaxes(0, 1)
    u, v, w = b - a, c - a, points - a
    uu, uv, vv, wu, wv = (dot(*pair) for pair in ((u, u), (u, v), (v, v), (w, u), (w, v)))
    below = uu * vv - uv * uv
    second, third = (vv * wu - uv * wv) / below, (uu * wv - uv * wu) / below
    return np.stack([1.0 - second - third, second, third], axis=1)


def within(place: Array) -> Array:
    """Barycentric coordinates (n, 3) drawn in to less than half a triangle outside of it."""
    place = np.clip(place, -MAX_BARYCENTRIC_EXCESS, 1.0 + MAX_BARYCENTRIC_EXCESS)
    return place / place.sum(axis=1, keepdims=True)


def dot(first: Array, second: Array) -> Array:
    """(n,) of vectors (n, 3)."""
    return np.einsum("ij,ij->i", first, second)


def even_size(total: float, count: int) -> float:
    """Longest edge that makes about `count` pieces of a total area in m2 by halving."""
    return float(np.sqrt(5.0 * total / count))


def cut(corners: Array, wanted: Sizes, count: int) -> tuple[Array, Ints]:
    """About `count` pieces whose sizes are in the proportions that are wanted.

    Where the triangles are more already, they stay as they are. Returns as `split`.
    """
    even = _bounded(corners, even_size(float(area(corners).sum()), count), count)
    whole, row = slabs(corners, 2.0 * even)
    first, origin = split(whole, np.full((len(whole), 3), 2.0 * even))
    origin = row[origin]
    pieces, again = first, np.arange(len(first))
    if len(first) >= 0.97 * count:
        return first, origin
    size = wanted(first)
    low, high, factor = 0.02, 50.0, 1.0
    for _ in range(14):
        pieces, again = split(first, np.maximum(factor * size, even / MAX_REFINEMENT_RATIO))
        if abs(len(pieces) - count) < 0.03 * count:
            break
        low, high = (factor, high) if len(pieces) > count else (low, factor)
        factor *= float(
            np.sqrt(len(pieces) / count)
        )  # bounded as for pieces of one size, so that it never makes far too many
        if not low < factor < high:
            factor = float(np.sqrt(low * high))
    return pieces, origin[again]


def distance(places: Array, points: Array) -> Array:
    """From places (..., 3) to the nearest of points (p, 3), (...)."""
    flat = places.reshape(-1, 3)
    near = points[least(flat, points)]
    return np.sqrt(((flat - near) ** 2).sum(axis=1)).reshape(places.shape[:-1])


def nearest(places: Array, normals: Array, points: Array, facing: Array) -> Ints:
    """For places (n, 3) with unit normals the nearest of points (p, 3) that face the same way, (n,).

    A right angle between the normals counts as a quarter of the size: opposite walls are no neighbors.
    """
    bend = 0.25 * float(np.ptp(points, axis=0).max())
    return least(np.hstack([places, bend * normals]), np.hstack([points, bend * facing]))
