"""Closed meshes from a few figures: turned, lofted, of blocks, carved from a field, or a relief. Needs numpy alone.

Every shape is corners (m, 3, 3) in mm, watertight, its normals out of the solid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
PROBE = 1e-4  # mm: step in which the slope of a field is measured


def refined(profile: Sequence[tuple[float, float]], most: float) -> Array:
    """(k, 2) the profile with no stretch longer than `most` mm; its own points are kept."""
    points = np.array(profile, dtype=float)
    pieces = np.maximum(1, np.ceil(np.linalg.norm(np.diff(points, axis=0), axis=1) / most).astype(int))
    parts = [a + (b - a) * np.arange(n)[:, None] / n for a, b, n in zip(points[:-1], points[1:], pieces, strict=True)]
    return np.vstack([*parts, points[-1:]])


def turned(profile: Array, around: int, radial: Callable[[Array, Array], Array] | None = None) -> Array:
    """A profile (k, 2) of radius and height, from the axis to the axis, turned about it. radial : height, angle ->
    factor of the radius"""
    loops = _circles(profile[1:-1], around, radial)
    first, last = (np.array([0.0, 0.0, z]) for z in (profile[0, 1], profile[-1, 1]))
    after = np.roll(loops, -1, axis=1)
    caps = [
        np.stack([np.broadcast_to(first, loops[0].shape), loops[0], after[0]], axis=1),
        np.stack([np.broadcast_to(last, loops[0].shape), after[-1], loops[-1]], axis=1),
    ]
    return outward(np.concatenate([strip(loops), *caps]))


def hollow(profile: Array, around: int) -> Array:
    """A closed profile (k, 2) off the axis, its last point before its first, turned about the axis: a ring."""
    return loft(_circles(profile, around))


def loft(loops: Array) -> Array:
    """Loops (k, n, 3) of as many points each, the last one joined to the first: a ring of whatever section."""
    return outward(_cells(loops, np.roll(loops, -1, axis=0)))


def strip(loops: Array) -> Array:
    """The sides from each of the loops (k, n, 3) to the next one; its ends stay open."""
    return _cells(loops[:-1], loops[1:])


def bored(outer: Array, inner: Array, levels: Array) -> Array:
    """A prism between two outlines (n, 2) with points at the same angles, through all heights `levels`, upwards."""
    rise = [_at(outer, z) for z in levels] + [_at(inner, z) for z in levels[::-1]]
    return loft(np.array(rise))


def blocks(planes: Sequence[Array], filled: NDArray[np.bool_]) -> Array:
    """The outside of the filled cells of a grid of planes across x, y and z. Cells must not meet in an edge alone."""
    padded = np.pad(filled, 1)
    faces = []
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        change = np.diff(padded.astype(np.int8), axis=axis)
        inside = [slice(1, -1)] * 3
        inside[axis] = slice(None)
        index = np.argwhere(change[tuple(inside)])
        sign = change[tuple(inside)][tuple(index.T)]
        corner = np.zeros((len(index), 4, 3))
        corner[..., axis] = planes[axis][index[:, axis], None]
        for side, (du, dv) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
            corner[:, side, u] = planes[u][index[:, u] + du]
            corner[:, side, v] = planes[v][index[:, v] + dv]
        corner = np.where((sign < 0)[:, None, None], corner, corner[:, ::-1])
        faces.append(np.concatenate([corner[:, [0, 1, 2]], corner[:, [0, 2, 3]]]))
    return np.concatenate(faces)


def carved(inside: Callable[[Array], Array], low: Array, high: Array, step: float) -> Array:
    """The surface where a field of points (..., 3) in mm crosses zero, above zero inside: one point a cell, on the
    middle of its crossings, then moved onto the surface along the slope (surface nets, Gibson 1998)."""
    axes = [np.arange(a, b + step, step) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    value = inside(grid)
    total, count = np.zeros((*(n - 1 for n in value.shape), 3)), np.zeros([n - 1 for n in value.shape])
    quads = []
    for axis in range(3):
        a, b = _ends(value, axis)
        crossed = (a > 0) != (b > 0)
        share = np.where(crossed, a / np.where(crossed, a - b, 1.0), 0.0)
        place = _ends(grid, axis)[0] + step * share[..., None] * np.eye(3)[axis]
        u, v = (axis + 1) % 3, (axis + 2) % 3
        for du in (0, 1):  # the four cells round each crossed edge take its place
            for dv in (0, 1):
                near, cell = [slice(None)] * 3, [slice(None)] * 3
                for way, by in ((u, du), (v, dv)):
                    near[way], cell[way] = slice(by, by + value.shape[way] - 1), slice(None)
                total[tuple(cell)] += np.where(crossed[tuple(near)][..., None], place[tuple(near)], 0.0)
                count[tuple(cell)] += crossed[tuple(near)]
        index = np.argwhere(crossed)
        quads.append(_quad(index, u, v, a[tuple(index.T)] > 0))
    points = total / np.maximum(count, 1)[..., None]
    corners = points[tuple(np.moveaxis(np.concatenate(quads), -1, 0))]
    corners = _onto(inside, corners)
    return outward(np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]]]))


def relief(height: Array, cell: float) -> Array:
    """A plate with its top at `height` (n, m) mm over a grid of `cell` mm, its bottom at zero."""
    n, m = height.shape
    x, y = np.meshgrid(np.arange(n) * cell, np.arange(m) * cell, indexing="ij")
    top, bottom = np.stack([x, y, height], axis=-1), np.stack([x, y, 0 * x], axis=-1)
    rim = [(i, 0) for i in range(n)] + [(n - 1, j) for j in range(1, m)]
    rim += [(i, m - 1) for i in range(n - 2, -1, -1)] + [(0, j) for j in range(m - 2, 0, -1)]
    where = tuple(np.array(rim).T)
    walls = _cells(top[where][None], bottom[where][None])
    flat = _sheet(bottom)[:, ::-1]
    return outward(np.concatenate([_sheet(top), flat, walls]))


def volume(corners: Array) -> float:
    """mm3, below zero where the normals point inwards."""
    return float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6)


def outward(corners: Array) -> Array:
    """The same triangles, turned if they enclose less than nothing."""
    return corners if volume(corners) > 0 else corners[:, ::-1]


def write(path: Path, corners: Array, name: str) -> None:
    """As binary STL, which knows no unit."""
    record = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    record["normal"] = normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    record["corners"] = corners
    path.write_bytes(f"{name}".encode().ljust(80) + len(corners).to_bytes(4, "little") + record.tobytes())


def _circles(profile: Array, around: int, radial: Callable[[Array, Array], Array] | None = None) -> Array:
    angle = np.arange(around) * 2 * np.pi / around
    radius, z = profile[:, :1], profile[:, 1:]
    wide = radius * (radial(z, angle) if radial else 1.0)
    return np.stack([wide * np.cos(angle), wide * np.sin(angle), z + 0 * angle], axis=-1)


def _cells(here: Array, there: Array) -> Array:
    """Two triangles for each step along loops (k, n, 3) from here to there."""
    a, b, c, d = here, there, np.roll(there, -1, axis=-2), np.roll(here, -1, axis=-2)
    return np.stack([a, b, c, a, c, d], axis=-2).reshape(-1, 3, 3)


def _sheet(points: Array) -> Array:
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    return np.stack([a, b, c, a, c, d], axis=-2).reshape(-1, 3, 3)


def _at(outline: Array, z: float) -> Array:
    return np.column_stack([outline, np.full(len(outline), z)])


def _ends(values: Array, axis: int) -> tuple[Array, Array]:
    """What stands at both ends of every edge along an axis."""
    count = values.shape[axis]
    return values.take(range(count - 1), axis), values.take(range(1, count), axis)


def _quad(index: NDArray[np.intp], u: int, v: int, leaves: NDArray[np.bool_]) -> NDArray[np.intp]:
    """(k, 4, 3) the cells round each crossed edge, turned so that the normal leaves the solid."""
    around = np.repeat(index[:, None], 4, axis=1)
    for corner, (du, dv) in enumerate(((1, 1), (0, 1), (0, 0), (1, 0))):
        around[:, corner, u] -= du
        around[:, corner, v] -= dv
    return np.where(leaves[:, None, None], around, around[:, ::-1])


def _onto(inside: Callable[[Array], Array], corners: Array) -> Array:
    """Points moved onto the zero of the field by two steps of Newton's method along its slope."""
    for _ in range(2):
        slope = np.stack(
            [(inside(corners + d) - inside(corners - d)) / (2 * PROBE) for d in PROBE * np.eye(3)], axis=-1
        )
        steep = np.maximum(np.sum(slope**2, axis=-1, keepdims=True), 1e-6)
        corners = corners - inside(corners)[..., None] * slope / steep
    return corners
