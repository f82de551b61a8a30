"""What hangs over a point: vertical rays among triangles, in double precision and without a host.

All rays of one way up are parallel, so this is a search in the plane: which triangle, seen from below, covers
which point. It decides exactly what a ray caster in single precision leaves open at edges and in thin gaps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .relief import Relief

CELLS = 128  # of the raster, an axis
TOUCH = 1e-12  # of the size: a ray this near to an edge meets it
SAME = 1e-9  # of the size: a ceiling this little below a point touches it


def ceilings_over(
    relief: Relief, up: NDArray[np.float64], height: NDArray[np.float64], origin: NDArray[np.intp]
) -> NDArray[np.intp]:
    """The first downward-facing triangle above each point, -1 where there is none.

    origin : (k,) points of the relief. A triangle that has the point for a corner is not above it.
    Cost: one pass over the triangles, then work on those few whose shadow falls on a point's cell.
    """
    found = np.full(len(origin), -1)
    if not len(origin):
        return found
    flat = relief.points @ _across(up).T
    facing_down = np.flatnonzero(relief.vector @ up < 0)
    triangle, ray = _shadows(flat, [corner[facing_down] for corner in relief.corners], origin)
    triangle = facing_down[triangle]
    corners = np.stack([corner[triangle] for corner in relief.corners])  # (3, pairs)
    start = origin[ray]
    edge = flat[np.roll(corners, -1, axis=0)] - flat[corners]
    out = flat[start] - flat[corners]
    # weight of the corner across from each edge; seen from above the triangles run clockwise
    weight = edge[..., 1] * out[..., 0] - edge[..., 0] * out[..., 1]
    slack = TOUCH * relief.size * np.abs(edge).sum(axis=-1)
    total = weight.sum(axis=0)
    over = (weight >= -slack).all(axis=0) & (total > 0)
    over &= (relief.place[corners] != relief.place[start]).all(axis=0)
    weight = np.maximum(weight[:, over], 0)
    meet = (np.roll(weight, -1, axis=0) * height[corners[:, over]]).sum(axis=0) / weight.sum(axis=0)
    triangle, ray = triangle[over], ray[over]
    above = np.flatnonzero(meet >= height[start[over]] - SAME * relief.size)
    nearest_last = above[np.argsort(-meet[above], kind="stable")]
    found[ray[nearest_last]] = triangle[nearest_last]
    return found


def _across(up: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two unit vectors (2, 3) across `up`, right-handed with it."""
    side = np.cross(up, np.eye(3)[int(np.abs(up).argmin())])
    side /= np.linalg.norm(side)
    return np.stack([side, np.cross(up, side)])


def _shadows(
    flat: NDArray[np.float64], corners: list[NDArray[np.int32]], origin: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs (triangle, ray) where the ray's cell lies in the box of cells round the triangle.

    A table of sums over the raster tells at four look-ups how many rays a box of cells holds.
    """
    low, high = flat.min(axis=0), flat.max(axis=0)
    cell = ((flat - low) * ((CELLS - 1e-6) / max((high - low).max(), 1e-300))).astype(np.int16)
    column, row = np.ascontiguousarray(cell.T)
    box = []
    for axis in (column, row):
        a, b, c = (axis[corner] for corner in corners)
        box += [np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)]
    left, right, bottom, top = (side.astype(np.int32) for side in box)
    key = row[origin].astype(np.int32) * CELLS + column[origin]
    sums = np.zeros((CELLS + 1, CELLS + 1), dtype=np.int32)
    counts = np.bincount(key, minlength=CELLS * CELLS)
    sums[1:, 1:] = counts.reshape(CELLS, CELLS).cumsum(axis=0).cumsum(axis=1)
    sums, wide = sums.reshape(-1), CELLS + 1
    above, below = (top + 1) * wide, bottom * wide
    right1 = right + 1
    held = sums[above + right1] - sums[above + left] - sums[below + right1] + sums[below + left]
    triangle = np.flatnonzero(held)
    # rays sorted by cell: those of one row of a box follow each other
    order = np.argsort(key, kind="stable")
    before = np.concatenate([[0], np.cumsum(counts)])
    line, of = _spread(top[triangle] - bottom[triangle] + 1)
    first = (bottom[triangle][of] + line) * CELLS
    begin, end = before[first + left[triangle][of]], before[first + right[triangle][of] + 1]
    step, of_line = _spread(end - begin)
    return triangle[of[of_line]], order[begin[of_line] + step]


def _spread(counts: NDArray[np.integer]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """For lists of these lengths laid end to end: the place in its list, and the list, of every item."""
    of = np.repeat(np.arange(len(counts)), counts)
    return np.arange(len(of)) - (np.cumsum(counts) - counts)[of], of
