"""What stands in the way along one direction, for all faces at once: a depth buffer in numpy.

Seen along the direction, triangles are drawn by scan lines onto a raster about as fine as they are; each
pixel keeps the triangle that reaches furthest at its middle (E. Catmull, A subdivision algorithm for computer
display of curved surfaces, 1974: the z-buffer; L. Williams, Casting curved shadows on curved surfaces, 1978:
its use for what a light sees; both from memory). A ray asks the pixel that it starts in, and is blocked where
the plane of that triangle lies ahead of it. So the cost is that of the triangles, not of the crossings that
rays have; the price is that an outline moves by up to half a pixel, either way.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Index = NDArray[np.intp]
Cells = NDArray[np.int32]

PIXELS_A_FACE = 0.5  # more made no smaller error: 0.0169 in place of 0.0170 on a scan of 100,000 faces
MIN_PIXELS, MAX_PIXELS = 1 << 17, 1 << 19  # that the faces are drawn on, about
MAX_RASTER_OVER_DRAWN = 16  # pixels of the whole raster over those: bounds it for lattices and wires
MIN_TILT = 1e-3  # cosine between a face and the direction below which it is seen edge-on: no outline
OWN_MARGIN_PIXELS = 0.5  # what lies nearer than this above a face's plane counts as its own surface
FACES_A_BATCH = 1 << 14  # faces drawn at once, so that the working set stays in the cache
BORDER_PIXELS = 2.0  # round all that is drawn
MAX_SINGLE_STEPS = 4  # rows or columns of a triangle worked through one by one


class DepthBuffers:
    """Draws one set of triangles along any direction. Lengths in and out in meters, inside in pixels."""

    def __init__(
        self,
        points: NDArray[np.float64],
        triangles: NDArray[np.int32],
        normal: NDArray[np.float64],
        pixel: float | None = None,
    ) -> None:
        """points : (v, 3); triangles : (m, 3); normal : (m, 3) unit, zero where a triangle has no area; pixel : meters,
        None takes one about as fine as the faces."""
        corners = points[triangles]
        low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
        edges = corners[:, 1:] - corners[:, :1]
        area = 0.5 * float(np.linalg.norm(np.cross(edges[:, 0], edges[:, 1]), axis=1).sum())
        pixels = min(max(PIXELS_A_FACE * len(triangles), MIN_PIXELS), MAX_PIXELS)
        # turned at random, a triangle shows half its area
        drawn = max(0.5 * area, ((high - low) ** 2).sum() / MAX_RASTER_OVER_DRAWN)
        self.pixel = float(np.sqrt(drawn / pixels)) if pixel is None else pixel
        self._middle = 0.5 * (low + high)
        self._points = np.ascontiguousarray(self.scaled(points).T)
        self._triangles = np.ascontiguousarray(triangles.T, dtype=np.intp)
        self._normal = np.ascontiguousarray(normal.T, dtype=np.float32)
        self._reach = float(np.linalg.norm(self.scaled(high))) + BORDER_PIXELS

    def scaled(self, points: NDArray[np.float64]) -> Floats:
        """Points in pixels from the middle, in single precision."""
        return ((points - self._middle) / self.pixel).astype(np.float32)

    def at_pixel(self, pixel: float) -> DepthBuffers:
        """The same triangles on pixels of another size, meters."""
        other, ratio = copy(self), self.pixel / pixel
        other.pixel = pixel
        other._points, other._reach = self._points * np.float32(ratio), (self._reach - BORDER_PIXELS) * ratio
        other._reach += BORDER_PIXELS
        return other

    def along(self, frame: NDArray[np.float64], shift: NDArray[np.float64], against_only: bool) -> DepthBuffer:
        """Draw along the third row of `frame`.

        frame : (3, 3) rows: two unit axes across the direction, and the direction
        shift : (2,) of a pixel, so that pixels of many directions do not err alike
        against_only : only triangles that look against the direction
        """
        turn = frame.astype(np.float32)
        buffer, placed = self._begun(turn, shift, against_only)
        for place, corners, normal in self._batches(turn, buffer, placed):
            buffer.keep(place, *buffer.draw(place, corners, normal))
        return buffer

    def both_ways(
        self, frame: NDArray[np.float64], shift: NDArray[np.float64], against_only: bool
    ) -> tuple[DepthBuffer, DepthBuffer]:
        """As `along`, and the same against the direction: triangles that count in both are drawn once."""
        back = frame * np.array([[1.0], [1.0], [-1.0]])
        if against_only:
            return self.along(frame, shift, True), self.along(back, shift, True)
        turn = frame.astype(np.float32)
        ahead, placed = self._begun(turn, shift, False)
        behind = DepthBuffer(back.astype(np.float32), ahead.shift, ahead.side, ahead.drawn, ahead.none)
        for place, corners, normal in self._batches(turn, ahead, placed):
            cell, triangle, depth = ahead.draw(place, corners, normal)
            ahead.keep(place, cell, triangle, depth)
            behind.keep(place, cell, triangle, -depth)
        behind.mirror(ahead)
        return ahead, behind

    def _begun(self, turn: Floats, shift: NDArray[np.float64], against_only: bool) -> tuple[DepthBuffer, Floats]:
        """An empty buffer for the triangles that reach a pixel's middle, and all points in it, (3, v)."""
        side, across = int(2 * self._reach) + 2, shift.astype(np.float32) + np.float32(self._reach)
        placed = turn @ self._points
        placed[:2] += across[:, None]
        facing = turn[2] @ self._normal
        drawn = np.flatnonzero((facing < -MIN_TILT) if against_only else (np.abs(facing) > MIN_TILT))
        # of all points between the same two columns and rows, or on one, no triangle spans a pixel's middle
        strip = (np.floor(placed[:2]) + np.ceil(placed[:2])).astype(np.int64)
        cell = (strip[0] << 32) + strip[1]
        a, b, c = (np.take(cell, np.take(corner, drawn)) for corner in self._triangles)
        differs = (a ^ b) | (a ^ c)
        drawn = drawn[(differs >> 32 != 0) & (differs & 0xFFFFFFFF != 0)]
        return DepthBuffer(turn, across, side, drawn, len(facing)), placed

    def _batches(self, turn: Floats, buffer: DepthBuffer, placed: Floats) -> Iterator[tuple[int, Floats, Floats]]:
        """Of the triangles that are drawn, some at a time: the place of the first, corners and normals as `draw`
        takes them."""
        for place in range(0, len(buffer.drawn), FACES_A_BATCH):
            batch = buffer.drawn[place : place + FACES_A_BATCH]
            corners = np.take(placed, np.take(self._triangles, batch, axis=1), axis=1)
            yield place, corners, turn @ np.take(self._normal, batch, axis=1)


class DepthBuffer:
    """A square raster; pixel (i, j) has its middle at the whole numbers i, j.

    drawn : (n,) numbers of the triangles that are drawn, and none : the number for no triangle; shift : (2,) pixels
    """

    def __init__(self, turn: Floats, shift: Floats, side: int, drawn: Index, none: int) -> None:
        self._turn, self.shift, self.side = turn, shift, side
        self.drawn, self.none = drawn, none
        self._depth = np.full(side * side, -np.inf, dtype=np.float32)
        self._triangle = np.full(side * side, len(drawn), dtype=np.int32)  # its place among those that are drawn
        # the plane over the raster, a u + b v + c, and the lowest and highest corner: one more row for no triangle
        self._plane = np.zeros((len(drawn) + 1, 5), dtype=np.float32)
        self._plane[-1, 2:] = -np.inf
        self._outline = np.zeros((len(drawn) + 1, 6), dtype=np.float32)  # u and v of the corners

    def mirror(self, other: DepthBuffer) -> None:
        """Take over the planes of what another draws against this one's direction."""
        self._outline = other._outline
        np.negative(other._plane[:-1], out=self._plane[:-1])
        self._plane[:-1, 3:] = self._plane[:-1, :2:-1].copy()  # the lowest corner is the highest

    def draw(self, place: int, corners: Floats, normal: Floats) -> tuple[Cells, Index, Floats]:
        """The pixels of triangles, with the number of the triangle among these and its depth: (c,) each.

        corners : (3 axes, 3 corners, n) on the raster; normal : (3, n), none edge-on; place : of the first of them
        among those that are drawn
        """
        u, v, w = corners
        scale = -1.0 / normal[2]
        slope_u, slope_v = normal[0] * scale, normal[1] * scale
        plane = self._plane[place : place + len(scale)]
        plane[:, 0], plane[:, 1] = slope_u, slope_v
        plane[:, 2] = w[0] - slope_u * u[0] - slope_v * v[0]
        plane[:, 3] = np.minimum(np.minimum(w[0], w[1]), w[2])
        plane[:, 4] = np.maximum(np.maximum(w[0], w[1]), w[2])
        self._outline[place : place + len(scale), :3], self._outline[place : place + len(scale), 3:] = u.T, v.T
        triangle, column, row = _scan(u, v)
        depth = _height(np.take(plane, triangle, axis=0), column, row)
        return column.astype(np.int32) + np.int32(self.side) * row.astype(np.int32), triangle, depth

    def keep(self, place: int, cell: Cells, triangle: Index, depth: Floats) -> None:
        """Of pixels as `draw` gives them those that reach furthest."""
        np.maximum.at(self._depth, cell, depth)
        top = np.flatnonzero(depth == np.take(self._depth, cell))
        self._triangle[cell[top]] = triangle[top] + place

    def front(self) -> NDArray[np.int32]:
        """(side, side) the triangle that reaches furthest at each pixel, by row and column; their number for none."""
        return np.append(self.drawn, self.none).astype(np.int32)[self._triangle].reshape(self.side, self.side)

    def at(self, points: Floats) -> Floats:
        """Column, row and depth (3, n) of points (n, 3), as `DepthBuffers.scaled` gives them."""
        place = self._turn @ points.T
        place[:2] += self.shift[:, None]
        return place

    def depth(self) -> Floats:
        """(side, side) how far that triangle reaches; -inf for none."""
        return self._depth.reshape(self.side, self.side)

    def blocked(self, origins: Floats, cosine: Floats, margin: float) -> NDArray[np.bool_]:
        """Whether anything lies ahead of each ray: (n,).

        origins : (n, 3) pixels, as `DepthBuffers.scaled`; cosine : (n,) between ray and its face's normal
        margin : pixels above the plane of its own face below which nothing counts
        """
        u, v, w = self._turn @ origins.T
        u += self.shift[0]
        v += self.shift[1]
        cell = np.rint(u).astype(np.int32) + np.int32(self.side) * np.rint(v).astype(np.int32)
        triangle = np.take(self._triangle, cell)
        above = (_height(np.take(self._plane, triangle, axis=0), u, v) - w) * cosine
        blocked = above > margin
        if margin > 0:
            # this close, a triangle counts only if it covers the ray's origin: a fold, not a bent neighbor
            near = np.flatnonzero((above > 0) & ~blocked)
            corners = np.take(self._outline, np.take(triangle, near), axis=0).T
            blocked[near] = _inside(corners[:3] - u[near], corners[3:] - v[near])
        return blocked


def _inside(u: Floats, v: Floats) -> NDArray[np.bool_]:
    """Whether the origin lies in each triangle of corners (u, v), (3, n) each, whichever way round it runs."""
    sides = u * v[[1, 2, 0]] - v * u[[1, 2, 0]]
    return (sides > 0).all(axis=0) | (sides < 0).all(axis=0)


def _height(plane: Floats, u: Floats, v: Floats) -> Floats:
    a, b, c, low, high = np.ascontiguousarray(plane.T)
    a *= u
    b *= v
    a += b
    a += c
    return np.minimum(np.maximum(a, low, out=a), high, out=a)


def _scan(u: Floats, v: Floats) -> tuple[Index, Floats, Floats]:
    """Pixels whose middle lies in a triangle's outline: (triangle, column, row). u, v : (3 corners, n) pixels."""
    low = np.ceil(np.minimum(np.minimum(v[0], v[1]), v[2]))
    rows = np.floor(np.maximum(np.maximum(v[0], v[1]), v[2])) - low + 1
    left = np.ceil(np.minimum(np.minimum(u[0], u[1]), u[2]))
    right = np.floor(np.maximum(np.maximum(u[0], u[1]), u[2]))
    covered = np.flatnonzero((rows > 0) & (left <= right))
    triangle, row = _spread(np.take(low, covered), np.take(rows, covered))
    bounds = np.stack([np.take(left, covered), np.take(right, covered)])
    first, columns = _span(np.take(u, covered, axis=1), np.take(v, covered, axis=1), bounds, triangle, row)
    span, column = _spread(first, columns)
    return np.take(covered, np.take(triangle, span)), column, np.take(row, span)


def _span(u: Floats, v: Floats, bounds: Floats, triangle: Index, row: Floats) -> tuple[Floats, Floats]:
    """The first pixel of each row in its triangle, and how many: between the long edge and one of the short ones.

    bounds : (2, n) the first and the last column of each triangle: where an edge lies almost along a row, single
    precision would carry the crossing far beyond its ends
    """
    (ua, ub, uc), (va, vb, vc) = _by_row(u, v)
    long, low, high = _slope(ua, uc, va, vc), _slope(ua, ub, va, vb), _slope(ub, uc, vb, vc)
    table = np.stack([ua, va, ub, vb, long, low, high])
    ua, va, ub, vb, long, low, high = np.take(table, triangle, axis=1)
    # each from the corner that it starts at: from row 0, an edge almost along a row would lose all its digits
    above = row - va
    level = ua + long * above
    two = np.where(row > vb, ub + high * (row - vb), ua + low * above)
    left, right = np.take(bounds, triangle, axis=1)
    first = np.maximum(np.ceil(np.minimum(level, two)), left)
    return first, np.minimum(np.floor(np.maximum(level, two)), right) - first + 1


def _spread(start: Floats, count: Floats) -> tuple[Index, Floats]:
    """(i, start[i]), (i, start[i] + 1), ..., count[i] of them for every i, in no order."""
    places, values = [], []
    left = np.flatnonzero(count > 0)
    for step in range(MAX_SINGLE_STEPS):  # most have one to three, for which this is faster than np.repeat
        places.append(left)
        values.append(np.take(start, left) + np.float32(step))
        left = left[np.take(count, left) > step + 1]
    more = np.take(count, left).astype(np.intp) - MAX_SINGLE_STEPS
    before = np.cumsum(more) - more
    repeats = np.repeat(left, more)
    values.append(
        start[repeats] + (np.arange(len(repeats)) - np.repeat(before - MAX_SINGLE_STEPS, more)).astype(np.float32)
    )
    return np.concatenate([*places, repeats]), np.concatenate(values)


def _by_row(u: Floats, v: Floats) -> tuple[list[Floats], list[Floats]]:
    """The corners of each triangle from its lowest row to its highest."""
    us, vs = list(u), list(v)
    for a, b in ((0, 1), (1, 2), (0, 1)):
        swap = vs[a] > vs[b]
        vs[a], vs[b] = np.minimum(vs[a], vs[b]), np.maximum(vs[a], vs[b])
        move = swap * (us[b] - us[a])
        us[a], us[b] = us[a] + move, us[b] - move
    return us, vs


def _slope(ua: Floats, ub: Floats, va: Floats, vb: Floats) -> Floats:
    rise = vb - va
    return np.divide(ub - ua, rise, out=np.zeros_like(rise), where=rise > 0)
