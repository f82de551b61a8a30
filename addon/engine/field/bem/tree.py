"""An octree over panels or points, in a frame whose faces may be mirrors.

A panel is kept by the deepest cell that is still wide against the panel, so that a large wall panel and the
thousand small ones before it live at their own levels. Panels are sorted along the Morton curve; the panels
below a cell are then one range, and those that it keeps itself come first in the range.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...geometry import morton

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Plane = tuple[Sequence[float], Sequence[float]]

DEEPEST = 18  # levels: 3 x 18 bits of Morton code and 5 of level fit one integer

_STEPS = np.stack(np.meshgrid(*[np.arange(-3, 4)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
NEIGHBORS = _STEPS[np.abs(_STEPS).max(axis=1) <= 1]
OFFSETS = _STEPS[np.abs(_STEPS).max(axis=1) > 1]  # the 316 well separated ones of a cell's interaction list


@dataclass(frozen=True, eq=False)
class Frame:
    """The root cube: a corner, its axes (rows, unit, perpendicular), its width, and which of its low faces mirror.

    An image is coded by the bits of the axes along which it is mirrored: 1, 2, 4; 0 is the thing itself.
    """

    origin: Array
    axes: Array
    width: float
    mirrored: NDArray[np.bool_]

    @classmethod
    def around(cls, points: Array, mirrors: Sequence[Plane] = ()) -> Frame:
        """The smallest cube round points (n, 3) that has the mirrors for low faces.

        Raises ValueError where a point lies behind one.
        """
        axes, faces = _mirror_axes(mirrors)
        local = points @ axes.T
        lowest, highest = local.min(axis=0), local.max(axis=0)
        mirrored = np.isfinite(faces)
        behind = np.where(mirrored, faces - lowest, -np.inf).max()
        if behind > 1e-9 * np.linalg.norm(highest - lowest):
            raise ValueError(f"points lie {behind:.3g} m behind a mirror")
        low = np.where(mirrored, faces, lowest)
        width = float((1.0 + 1e-6) * (highest - low).max()) or 1.0
        return cls(np.where(mirrored, low, 0.5 * (low + highest - width)), axes, width, mirrored)

    def place(self, points: Array) -> Array:
        """Points (n, 3) in units of the cube, 0..1 inside."""
        return (points @ self.axes.T - self.origin) / self.width

    def image(self, points: Array, code: int) -> Array:
        """Points (n, 3) mirrored as the code says."""
        local = points @ self.axes.T
        for axis in range(3):
            if code >> axis & 1:
                local[:, axis] = 2.0 * self.origin[axis] - local[:, axis]
        return local @ self.axes

    def fold(self, level: int, at: Ints) -> tuple[Ints, Ints, NDArray[np.bool_]]:
        """Cells of a level at any place (..., 3): the cell each is an image of, its code, and whether there is one."""
        under = (at < 0) & self.mirrored
        at = np.where(under, -1 - at, at)
        return at, under @ np.array([1, 2, 4]), np.all((at >= 0) & (at < 1 << level), axis=-1)


def _mirror_axes(mirrors: Sequence[Plane]) -> tuple[Array, Array]:
    """Axes (3, 3) along the mirrors' normals, and where the mirrors cut them (3,), nan where there is none."""
    axes: list[Array] = []
    faces = np.full(3, np.nan)
    for point, normal in mirrors:
        unit = np.asarray(normal, float) / np.linalg.norm(normal)
        if any(abs(unit @ axis) > 1e-9 for axis in axes):
            raise ValueError("mirrors must be perpendicular to each other")
        faces[len(axes)] = np.asarray(point, float) @ unit
        axes.append(unit)
    for unit in np.eye(3):
        remainder = unit - sum(((unit @ axis) * axis for axis in axes), start=np.zeros(3))
        if len(axes) < 3 and np.linalg.norm(remainder) > 0.5:
            axes.append(remainder / np.linalg.norm(remainder))
    return np.array(axes), faces


class Tree:
    """An adaptive octree over places in the unit box.

    order : (n,) the places along the curve; start, own, stop below count in it
    level, at, parent : (c,), (c, 3), (c,) of each cell, coarse levels first
    start, own, stop : (c,) the cell keeps order[start:own], and order[start:stop] lies below it
    cell : (n,) which cell keeps each place, in the order along the curve
    """

    def __init__(self, place: Array, *, deepest: Ints | None = None, occupancy: int = 64) -> None:
        side = 1 << DEEPEST
        codes = morton.encode(np.clip((place * side).astype(np.int64), 0, side - 1))
        depth = _depth(codes, np.full(len(place), DEEPEST) if deepest is None else deepest, occupancy)
        shift = 3 * (DEEPEST - depth)
        key = (codes >> shift << shift) * 32 + depth
        self.order = np.argsort(key, kind="stable")
        key, depth = key[self.order], depth[self.order]
        cells = [np.unique(key[depth >= k] >> (3 * (DEEPEST - k) + 5)) for k in range(depth.max() + 1)]
        self.level = np.repeat(np.arange(len(cells)), [len(c) for c in cells])
        self._slices = np.searchsorted(self.level, np.arange(len(cells) + 1))
        self._prefix = np.concatenate(cells)
        self.at = morton.decode(self._prefix)
        shift = 3 * (DEEPEST - self.level)
        self.start = np.searchsorted(key, (self._prefix << shift) * 32 + self.level)
        self.own = np.searchsorted(key, (self._prefix << shift) * 32 + self.level + 1)
        self.stop = np.searchsorted(key, (self._prefix + 1 << shift) * 32)
        self.parent = np.full(len(self.level), -1)
        for k in range(1, len(cells)):
            part = self.cells(k)
            self.parent[part] = self._slices[k - 1] + np.searchsorted(cells[k - 1], cells[k] >> 3)

        keepers = np.flatnonzero(self.own > self.start)
        keepers = keepers[np.argsort(self.start[keepers])]
        self.cell = np.repeat(keepers, (self.own - self.start)[keepers])

    @property
    def depth(self) -> int:
        """How many levels there are."""
        return len(self._slices) - 1

    def cells(self, level: int) -> slice:
        """The cells of one level."""
        return slice(int(self._slices[level]), int(self._slices[level + 1]))

    def inside(self, place: Array, part: slice) -> Array:
        """Places (m, 3) in the order along the curve, as -1..1 across the cells that keep that part of it."""
        cell = self.cell[part]
        return 2.0 * (place * np.exp2(self.level[cell])[:, None] - self.at[cell]) - 1.0

    def find(self, level: int, at: Ints) -> Ints:
        """Cells (m,) by their places (m, 3), all inside the box; -1 where there is none."""
        if level >= self.depth:
            return np.full(len(at), -1)
        occupied = self._prefix[self.cells(level)]
        wanted = morton.encode(at)
        place = np.minimum(np.searchsorted(occupied, wanted), len(occupied) - 1)
        return np.where(occupied[place] == wanted, place + self._slices[level], -1)


def _depth(morton: Ints, deepest: Ints, occupancy: int) -> Ints:
    """The level at which each place is kept: cells with more than `occupancy` places to hand down are split."""
    depth = np.zeros(len(morton), np.int64)
    active = np.arange(len(morton))
    for level in range(DEEPEST):
        active = active[deepest[active] > level]
        if not len(active):
            break
        _, cell, count = np.unique(morton[active] >> 3 * (DEEPEST - level), return_inverse=True, return_counts=True)
        active = active[count[cell] > occupancy]
        depth[active] = level + 1
    return depth


def _images(frame: Frame, sources: Tree, level: int, at: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """Which of the places (m, k, 3) hold a source cell or an image of one: row, column, cell and code."""
    at, code, inside = frame.fold(level, at)
    row, column = np.nonzero(inside)
    cell = sources.find(level, at[row, column])
    row, column, cell = (a[cell >= 0] for a in (row, column, cell))
    return row, column, cell, code[row, column]


@dataclass(frozen=True, eq=False)
class Near:
    """Ranges of source panels to take pair by pair: cell of the targets, range in the sources' order, image."""

    cell: Ints
    start: Ints
    stop: Ints
    code: Ints


def near(targets: Tree, sources: Tree, frame: Frame, wanted: NDArray[np.bool_] | None = None) -> Near:
    """All that the cells with places of their own meet directly, by target cell and then by range.

    A cell meets everything below its neighbors, and what its ancestors' neighbors keep for themselves.
    wanted : (c,) the target cells to do it for, where not for all
    """
    rows: list[list[Ints]] = []
    keeps = np.flatnonzero(targets.own > targets.start if wanted is None else wanted)
    for level in range(targets.depth):
        cell = keeps[targets.level[keeps] >= level]
        up = (targets.level[cell] - level)[:, None]
        at = (targets.at[cell] >> up)[:, None] + NEIGHBORS
        target_row, step, source, code = _images(frame, sources, level, at)
        last = np.where(targets.level[cell[target_row]] == level, sources.stop[source], sources.own[source])
        filled = last > sources.start[source]
        rows.append([column[filled] for column in (cell[target_row], sources.start[source], last, code)])
    cell, start, stop, code = (np.concatenate(part) for part in zip(*rows, strict=True))
    order = np.lexsort((start, code, cell))
    return Near(cell[order], start[order], stop[order], code[order])


@dataclass(frozen=True, eq=False)
class Far:
    """Pairs of well separated cells of one level, sorted by offset.

    offset : (m,) row of OFFSETS, source minus target; target, source : (m,) cells
    code : (m,) how the source is mirrored
    """

    offset: Ints
    target: Ints
    source: Ints
    code: Ints


def far(targets: Tree, sources: Tree, frame: Frame, wanted: NDArray[np.bool_] | None = None) -> Far:
    """The interaction lists: children of the parent's neighbors that are no neighbors themselves.

    wanted : (c,) the target cells to list them for, where not for all
    """
    rows: list[list[Ints]] = []
    for level in range(1, min(targets.depth, sources.depth)):
        part = targets.cells(level)
        selected = np.ones(part.stop - part.start, bool) if wanted is None else wanted[part]
        for parity in np.ndindex(2, 2, 2):
            cell = part.start + np.flatnonzero(np.all((targets.at[part] & 1) == parity, axis=1) & selected)
            usable = np.flatnonzero(np.all(np.abs((OFFSETS + parity) >> 1) <= 1, axis=1))
            at = targets.at[cell][:, None] + OFFSETS[usable]
            target_row, step, source, code = _images(frame, sources, level, at)
            rows.append([usable[step], cell[target_row], source, code])
    if not rows:
        return Far(*(np.empty(0, np.int64) for _ in range(4)))
    offset, target, source, code = (np.concatenate(part) for part in zip(*rows, strict=True))
    order = np.argsort(offset, kind="stable")
    return Far(offset[order], target[order], source[order], code[order])
