"""Ceilings over points: vertical rays among triangles, in double precision and without a host.

All rays of one way up are parallel, so this is a search in the plane: which triangle, seen from below, covers
which point. It is exact where a single-precision ray caster is ambiguous, at edges and in thin gaps.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged
from ..geometry.frames import basis
from .relief import Relief, along, pick

RASTER_CELLS_PER_AXIS = (128, 512)  # least and most cells of the raster, an axis: more for more triangles
TRIANGLES_PER_CELL = 2.0  # of the square round the part, between these two
EDGE_SLACK_OVER_SIZE = 1e-12  # of the size: a ray this near to an edge meets it
TOUCHING_OVER_SIZE = 1e-9  # of the size: a ceiling this little below a point touches it
MAX_PAIRS_AT_ONCE = 1 << 18  # of triangle and ray, tried at once: bounds the memory


def ceilings_over(
    relief: Relief,
    up: NDArray[np.float64],
    height: NDArray[np.float64],
    origin: NDArray[np.intp],
    rise: NDArray[np.float64] | None = None,
) -> NDArray[np.intp]:
    """The first downward-facing triangle above each point, -1 where there is none.

    origin : (k,) points of the relief. A triangle that has the point for a corner is not above it.
    rise : (t,) m2 of `relief.vector` along `up`, where that is known already
    Cost: one pass over the points, then work on those few triangles whose shadow falls near a point's cell.
    """
    ceiling = np.full(len(origin), -1)
    if not len(origin):
        return ceiling
    flat = np.stack([along(relief.points, side) for side in basis(up)])
    scale = _cells_per_axis(relief) / relief.size
    # from cell 1 on, so that every cell has a predecessor
    cell = ((flat - flat.min(axis=1, keepdims=True)) * scale).astype(np.int16) + np.int16(1)
    triangle = _nearby_triangles(relief, cell, origin)
    rise = along(relief.vector, up) if rise is None else rise
    triangle = triangle[pick(rise, triangle) < 0]
    lowest = np.full(len(origin), np.inf)
    for over, ray in _candidate_pairs(cell, [pick(corner, triangle) for corner in relief.corners], origin):
        reach = np.stack([pick(height, corner[triangle[over]]) for corner in relief.corners]).max(axis=0)
        ahead = np.flatnonzero(reach >= height[origin[ray]] - TOUCHING_OVER_SIZE * relief.size)
        over, ray = over[ahead], ray[ahead]
        meet = _ray_heights(relief, flat, height, triangle[over], origin[ray])
        nearest_last = np.argsort(-meet, kind="stable")
        nearest_last = nearest_last[meet[nearest_last] < lowest[ray[nearest_last]]]
        ceiling[ray[nearest_last]] = triangle[over[nearest_last]]
        lowest[ray[nearest_last]] = meet[nearest_last]
    return ceiling


def _cells_per_axis(relief: Relief) -> int:
    return int(np.clip((len(relief.face) / TRIANGLES_PER_CELL) ** 0.5, *RASTER_CELLS_PER_AXIS))


def _nearby_triangles(relief: Relief, cell: NDArray[np.int16], origin: NDArray[np.intp]) -> NDArray[np.intp]:
    """Triangles of which the first corner is so near to a ray that they may cover it, and all long ones."""
    short, long = relief.by_length
    reach = int(short * _cells_per_axis(relief) / relief.size) + 1
    column, row = cell
    wide = int(cell.max()) + 2
    # corners of the square round each ray, summed up along both axes: how many squares each cell lies in
    left, bottom = (np.maximum(axis[origin].astype(np.intp) - reach, 0) for axis in (column, row))
    right, top = (np.minimum(axis[origin].astype(np.intp) + reach + 1, wide - 1) for axis in (column, row))
    squares = np.zeros((wide, wide), dtype=np.int32)
    for line, place, sign in ((bottom, left, 1), (bottom, right, -1), (top, left, -1), (top, right, 1)):
        np.add.at(squares, (line, place), sign)
    marked = squares.cumsum(axis=0).cumsum(axis=1).reshape(-1) > 0
    near = pick(pick(marked, row.astype(np.intp) * wide + column), relief.corners[0])
    near[long] = True
    return np.flatnonzero(near)


def _ray_heights(
    relief: Relief,
    flat: NDArray[np.float64],
    height: NDArray[np.float64],
    triangle: NDArray[np.intp],
    start: NDArray[np.intp],
) -> NDArray[np.float64]:
    """The height at which the ray up from each start meets its triangle; inf where it does not."""
    corners = np.stack([corner[triangle] for corner in relief.corners])  # (3, pairs)
    at = flat[:, corners]
    edge = np.roll(at, -1, axis=1) - at
    out = flat[:, None, start] - at
    # weight of the corner across from each edge; seen from above the triangles run clockwise
    weight = edge[1] * out[0] - edge[0] * out[1]
    slack = EDGE_SLACK_OVER_SIZE * relief.size * np.abs(edge).sum(axis=0)
    over = (weight >= -slack).all(axis=0) & (weight.sum(axis=0) > 0)
    over &= (relief.place[corners] != relief.place[start]).all(axis=0)
    share = np.maximum(weight[:, over], 0)
    share /= share.sum(axis=0)
    meet = np.full(len(triangle), np.inf)
    meet[over] = (np.roll(share, -1, axis=0) * height[corners[:, over]]).sum(axis=0)
    meet[meet < height[start] - TOUCHING_OVER_SIZE * relief.size] = np.inf
    return meet


def _candidate_pairs(
    cell: NDArray[np.int16], corners: list[NDArray[np.intp]], origin: NDArray[np.intp]
) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Pairs (triangle, ray), in chunks, where the ray's cell lies in the box of cells round the triangle.

    A table of sums over the raster tells at four look-ups how many rays a box of cells holds.
    """
    wide = int(cell.max()) + 2
    column, row = cell
    box = []
    for axis in (column, row):
        a, b, c = (pick(axis, corner) for corner in corners)
        box += [np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)]
    left, right, bottom, top = (side.astype(np.int32) for side in box)
    key = row[origin].astype(np.int32) * wide + column[origin]
    counts = np.bincount(key, minlength=wide * wide)
    table = counts.astype(np.int32).reshape(wide, wide).cumsum(axis=0).cumsum(axis=1).reshape(-1)
    above, below, before_left = top * wide, (bottom - 1) * wide, left - 1
    held = pick(table, above + right) - pick(table, above + before_left)
    held += pick(table, below + before_left) - pick(table, below + right)
    triangle = np.flatnonzero(held)
    # with the rays sorted by cell, those in one row of a box follow each other
    order = np.argsort(key, kind="stable")
    before = np.concatenate([[0], np.cumsum(counts)])
    rows = top[triangle] - bottom[triangle] + 1
    triangle = np.repeat(triangle, rows)
    first = (bottom[triangle] + ragged.places(rows)) * wide
    begin = before[first + left[triangle]]
    repeats = before[first + right[triangle] + 1] - begin
    total = np.cumsum(repeats)
    cuts = np.searchsorted(total, np.arange(MAX_PAIRS_AT_ONCE, total[-1] if len(total) else 0, MAX_PAIRS_AT_ONCE))
    for part in np.split(np.arange(len(repeats)), cuts):
        run = np.repeat(part, repeats[part])
        yield triangle[run], order[begin[run] + ragged.places(repeats[part])]
