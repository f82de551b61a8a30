"""Casts rays that all run one way, in numpy alone.

Seen along its direction a bundle of parallel rays is a set of points in a plane, and so is every
triangle's outline. A grid over that plane lists the triangles over each cell; a ray is tried only on
those over its own cell, and only where they reach further than it starts. Exact in double precision;
linear in rays and triangles as long as neither crowds into a small share of the cells.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry.frames import frame

Floats = NDArray[np.float64]
Index = NDArray[np.intp]

# relative costs: of a cell, a triangle over a cell, one over a cell with rays, and a ray tried on a triangle
COST_CELL, COST_OVER, COST_ENTER, COST_TRY = 0.5, 1.0, 3.0, 1.0
MAX_BOX_CELLS = 3  # triangles over at most this many columns and rows are entered by their bounding box
MAX_PAIRS_AT_ONCE = 1 << 18  # ray-triangle pairs tried at once: bounds the memory
ROUNDING_OF_CELL = 1e-9  # of a cell: past rounding


class ParallelRays:
    """Rays of one direction through one set of triangles. Lengths in meters.

    A ray meets what lies ahead of its origin, from either side. `slack` widens each triangle by that
    share of itself, so that a ray through an edge or a corner does not slip between.
    """

    def __init__(
        self, points: Floats, triangles: NDArray[np.int32], direction: ArrayLike, *, slack: float = 1e-12
    ) -> None:
        """points : (v, 3); triangles : (m, 3); direction : (3,), need not be unit."""
        self._frame = frame(direction)
        self._slack = slack
        corner = np.ascontiguousarray(triangles.T, dtype=np.intp)
        # (corner, triangle) along the two axes across the rays and the one along them
        # indices are valid: skipping the check halves the time
        *self._across, self._along = (axis.take(corner, mode="clip") for axis in self._frame @ points.T)
        self._low = [_least(*axis) for axis in self._across]
        self._high = [_most(*axis) for axis in self._across]
        self._reach = _most(*self._along)

    def blocked(self, origins: Floats) -> NDArray[np.bool_]:
        """Whether anything lies ahead of each ray: (n,)."""
        result = np.zeros(len(origins), dtype=bool)
        for ray, _, _ in self.hits(origins):
            result[ray] = True
        return result

    def first_hit(self, origins: Floats) -> tuple[NDArray[np.int32], Floats]:
        """Nearest triangle along each ray and how far it is, (n,) each; -1 and inf where it misses."""
        face = np.full(len(origins), -1, dtype=np.int32)
        distance = np.full(len(origins), np.inf)
        for ray, triangle, length in self.hits(origins):
            order = np.argsort(-length)  # the last write wins: the nearest
            face[ray[order]] = triangle[order]
            distance[ray[order]] = length[order]
        return face, distance

    def hits(self, origins: Floats) -> Iterator[tuple[Index, Index, Floats]]:
        """Every crossing ahead of every ray, in chunks of (ray, triangle, distance); no ray is in two chunks."""
        if not len(origins) or not len(self._reach):
            return
        u, v, w = self._frame @ origins.T
        grid = self._grid(u, v)
        cell = grid.cell(u, v)
        lowest = np.full(grid.cells, np.inf)
        np.minimum.at(lowest, cell, w)
        triangle, over = grid.cover(self._across, self._low, self._high, self._reach, lowest)
        further = np.flatnonzero(self._reach[triangle] > lowest[over])
        triangle, over = triangle[further], over[further]
        highest = np.full(grid.cells, -np.inf)
        np.maximum.at(highest, over, self._reach[triangle])
        rays = np.flatnonzero(w < highest[cell])
        if not len(rays):
            return
        triangle = triangle[np.argsort(over)]
        listed = np.bincount(over, minlength=grid.cells)
        count = listed[cell[rays]]
        start = (np.cumsum(listed) - listed)[cell[rays]]
        flat = _Flat(triangle, self._across, self._along)
        for batch in _slices(count):
            ray = np.repeat(rays[batch], count[batch])
            met = triangle[_ranges(start[batch], count[batch])]
            ahead = np.flatnonzero(self._reach[met] > w[ray])
            ray, met = ray[ahead], met[ahead]
            inside, height = flat.within(met, u[ray], v[ray], self._slack)
            ray, met = ray[inside], met[inside]
            length = height - w[ray]
            hit = length > 0
            yield ray[hit], met[hit], length[hit]

    def _grid(self, u: Floats, v: Floats) -> _Grid:
        """The grid with the cell size that costs least, by a model of the work."""
        low = np.array([u.min(), v.min()])
        width, depth = (high - low for low, high in zip(self._low, self._high, strict=True))
        girth, outline = np.mean(width + depth), 0.5 * np.mean(width * depth)
        # a single ray, or rays in a line, still get a cell
        span = np.maximum(np.array([u.max(), v.max()]) - low, max(1e-6 * girth, np.finfo(np.float32).tiny))
        side = float(span.max()) * 2.0 ** -np.arange(0.0, 14.0, 0.25)
        cells = np.prod(span / side[:, None] + 1.0, axis=1)
        over = len(width) * (1.0 + girth / side + outline / side**2)
        entered = over * np.minimum(1.0, len(u) / cells)
        tried = len(u) * over / cells
        best = np.argmin(COST_CELL * cells + COST_OVER * over + COST_ENTER * entered + COST_TRY * tried)
        return _Grid(low, span, float(side[best]))


class _Grid:
    """Square cells over the origins of the rays."""

    def __init__(self, low: Floats, span: Floats, side: float) -> None:
        self._low, self._span, self.side = low, span, side
        self._size = (span / side).astype(int) + 1
        self.cells = int(self._size.prod())

    def cell(self, u: Floats, v: Floats) -> Index:
        return self._place(u, 0) + self._size[0] * self._place(v, 1)

    def _place(self, x: Floats, axis: int) -> Index:
        place = (x - self._low[axis]) / self.side
        return np.clip(place, 0, self._size[axis] - 1, out=place).astype(np.intp)

    def cover(
        self, across: list[Floats], low: list[Floats], high: list[Floats], reach: Floats, lowest: Floats
    ) -> tuple[Index, Index]:
        """Pairs (triangle, cell): every cell that a triangle lies over, and few more.

        Triangles over few cells whose reach ends below the lowest ray of all of these are left out.
        """
        met = np.ones(len(low[0]), dtype=bool)
        for axis in (0, 1):
            met &= (high[axis] >= self._low[axis]) & (low[axis] <= self._low[axis] + self._span[axis])
        met = np.flatnonzero(met)
        column, row = (self._place(low[axis][met], axis) for axis in (0, 1))
        columns, rows = self._place(high[0][met], 0) - column, self._place(high[1][met], 1) - row
        few = np.maximum(columns, rows) < MAX_BOX_CELLS
        triangles, cells = [], []
        corner = column + self._size[0] * row
        over = np.flatnonzero(few & (reach[met] > np.take(self._lowest_near(lowest), corner)))
        for i in range(MAX_BOX_CELLS):  # triangles over one cell, most of them, are done
            above = over
            for j in range(MAX_BOX_CELLS):
                triangles.append(met[above])
                cells.append(corner[above] + (i + int(self._size[0]) * j))
                above = above[rows[above] > j]
            over = over[columns[over] > i]
        large = np.flatnonzero(~few)
        triangle, cell = self._rows(across, met[large], row[large], rows[large] + 1)
        return np.concatenate([*triangles, triangle]), np.concatenate([*cells, cell])

    def _lowest_near(self, lowest: Floats) -> Floats:
        """(cells,) the least of each cell and those up to `MAX_BOX_CELLS` - 1 columns and rows further."""
        wide, deep = int(self._size[0]), int(self._size[1])
        least = np.full((deep + MAX_BOX_CELLS - 1, wide + MAX_BOX_CELLS - 1), np.inf)
        least[:deep, :wide] = lowest.reshape(deep, wide)
        least = np.minimum.reduce([least[k : deep + k] for k in range(MAX_BOX_CELLS)])
        return np.minimum.reduce([least[:, k : wide + k] for k in range(MAX_BOX_CELLS)]).reshape(-1)

    def _rows(self, across: list[Floats], triangle: Index, row: Index, rows: Index) -> tuple[Index, Index]:
        """The same for triangles over many cells, row by row: from their left to their right in each."""
        triangle, row = np.repeat(triangle, rows), _ranges(row, rows)
        below = self._low[1] + (row - ROUNDING_OF_CELL) * self.side
        above = below + (1 + 2 * ROUNDING_OF_CELL) * self.side
        left, right = np.full(len(row), np.inf), np.full(len(row), -np.inf)
        u, v = (axis[:, triangle] for axis in across)
        for a, b in ((0, 1), (1, 2), (2, 0)):
            rise = v[b] - v[a]
            slope = np.divide(u[b] - u[a], rise, out=np.zeros(len(row)), where=rise != 0)
            start = np.maximum(np.minimum(v[a], v[b]), below)
            end = np.minimum(np.maximum(v[a], v[b]), above)
            within = (start <= end) & (rise != 0)
            for y in (start, end):
                x = u[a] + slope * (y - v[a])
                left = np.where(within, np.minimum(left, x), left)
                right = np.where(within, np.maximum(right, x), right)
        met = np.flatnonzero((right >= self._low[0]) & (left <= self._low[0] + self._span[0]))
        triangle, row = triangle[met], row[met]
        first = self._place(left[met] - ROUNDING_OF_CELL * self.side, 0)
        columns = self._place(right[met] + ROUNDING_OF_CELL * self.side, 0) - first + 1
        return np.repeat(triangle, columns), _ranges(first + self._size[0] * row, columns)


class _Flat:
    """Barycentric coordinates and height over the plane, as linear functions, of the triangles listed."""

    def __init__(self, listed: Index, across: list[Floats], along: Floats) -> None:
        used = np.zeros(along.shape[1], dtype=bool)
        used[listed] = True
        used = np.flatnonzero(used)
        self._place = np.empty(along.shape[1], dtype=np.intp)
        self._place[used] = np.arange(len(used))
        (ua, ub, uc), (va, vb, vc), (wa, wb, wc) = (axis[:, used] for axis in (*across, along))
        self._table: list[list[Floats]] = []
        ub, uc, vb, vc = ub - ua, uc - ua, vb - va, vc - va
        twice = ub * vc - uc * vb
        # a triangle seen edge-on has no inside: nan fails every comparison
        scale = np.divide(1.0, twice, out=np.full(len(used), np.nan), where=twice != 0)
        b = np.stack([vc * scale, -uc * scale])
        c = np.stack([-vb * scale, ub * scale])
        for weight in (b, c):
            self._table.append([*weight, -(weight[0] * ua + weight[1] * va)])
        rise = b * (wb - wa) + c * (wc - wa)
        self._table.append([*rise, wa - (rise[0] * ua + rise[1] * va)])

    def within(self, triangle: Index, u: Floats, v: Floats, slack: float) -> tuple[Index, Floats]:
        """Which of the points (u, v) lie in their triangle's outline, and the height of its plane there."""
        place = self._place[triangle]
        inside = np.arange(len(place))
        total = np.zeros(len(place))
        for weight in self._table[:2]:  # each test only on the survivors of the one before
            value = _linear(weight, place, u, v)
            total += value
            passing = np.flatnonzero((value >= -slack) & (total <= 1.0 + slack))
            inside, place = inside[passing], place[passing]
            u, v, total = u[passing], v[passing], total[passing]
        return inside, _linear(self._table[2], place, u, v)


def _linear(table: list[Floats], place: Index, u: Floats, v: Floats) -> Floats:
    return table[0][place] * u + table[1][place] * v + table[2][place]


def _least(a: Floats, b: Floats, c: Floats) -> Floats:
    return np.minimum(np.minimum(a, b), c)


def _most(a: Floats, b: Floats, c: Floats) -> Floats:
    return np.maximum(np.maximum(a, b), c)


def _ranges(start: Index, count: Index) -> Index:
    """start[0], start[0] + 1, ... (count[0] of them), start[1], ..."""
    before = np.cumsum(count) - count
    return np.arange(int(count.sum())) + np.repeat(start - before, count)


def _slices(count: Index) -> Iterator[slice]:
    """Runs of rays with about `MAX_PAIRS_AT_ONCE` pairs together, at least one ray each."""
    total = np.cumsum(count)
    start = 0
    while start < len(count):
        pairs_before = total[start - 1] if start else 0
        end = max(start + 1, int(np.searchsorted(total, pairs_before + MAX_PAIRS_AT_ONCE, side="right")))
        yield slice(start, end)
        start = end
