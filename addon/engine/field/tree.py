"""An octree over panels or points, in a frame whose box may have mirrors for faces.

A panel is kept by the deepest cell that is still wide against the panel, so that a large wall panel and the
thousand small ones before it live at their own levels. Panels are sorted along the Morton curve; the panels
below a cell are then one range, and those that it keeps itself come first in the range.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Plane = tuple[Sequence[float], Sequence[float]]

DEEPEST = 18  # levels: 3 x 18 bits of Morton code and 5 of level fit one integer

_STEPS = np.stack(np.meshgrid(*[np.arange(-3, 4)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
NEIGHBOURS = _STEPS[np.abs(_STEPS).max(axis=1) <= 1]
OFFSETS = _STEPS[np.abs(_STEPS).max(axis=1) > 1]  # the 316 well separated ones of a cell's interaction list


@dataclass(frozen=True, eq=False)
class Frame:
    """The root box: a corner, its axes (rows, unit, perpendicular), its widths, and which faces are mirrors.

    An image is coded by three digits of base 3, first axis first: 0 as it is, 1 mirrored in the low face,
    2 mirrored in the high face.
    """

    origin: Array
    axes: Array
    width: Array
    low: NDArray[np.bool_]
    high: NDArray[np.bool_]

    @classmethod
    def around(cls, points: Array, mirrors: Sequence[Plane] = ()) -> Frame:
        """The smallest cube round the points that has the mirrors for faces."""
        axes, faces = _mirror_axes(mirrors)
        local = points @ axes.T
        lowest, highest = local.min(axis=0), local.max(axis=0)
        size = float((highest - lowest).max()) or 1.0
        has = np.isfinite(faces)
        slack = 1e-9 * size
        if np.any(lowest < np.where(has[0], faces[0], -np.inf) - slack) or np.any(
            highest > np.where(has[1], faces[1], np.inf) + slack
        ):
            raise ValueError("the panels do not all lie on one side of a mirror")
        low, high = np.where(has[0], faces[0], lowest), np.where(has[1], faces[1], highest)
        width = (1.0 + 1e-6) * (high - low).max()
        # one face is fixed where it is a mirror; otherwise the box is centred
        origin = np.where(has[0], low, np.where(has[1], high - width, 0.5 * (low + high - width)))
        return cls(origin, axes, np.full(3, width), has[0], has[1])

    def place(self, points: Array) -> Array:
        """Points (n, 3) in units of the box, 0..1 inside."""
        return (points @ self.axes.T - self.origin) / self.width

    def image(self, points: Array, code: int) -> Array:
        """Points (n, 3) mirrored as the code says."""
        local = points @ self.axes.T
        for axis in range(3):
            face = code // 3**axis % 3
            if face:
                local[:, axis] = 2.0 * (self.origin[axis] + (face - 1) * self.width[axis]) - local[:, axis]
        return local @ self.axes

    @property
    def codes(self) -> list[int]:
        """Every image that the mirrors make of the box itself, 0 (itself) first."""
        digits = [[0] + [1] * bool(a) + [2] * bool(b) for a, b in zip(self.low, self.high, strict=True)]
        return sorted(x + 3 * y + 9 * z for x in digits[0] for y in digits[1] for z in digits[2])

    def fold(self, level: Ints, at: Ints) -> tuple[Ints, Ints, NDArray[np.bool_]]:
        """Cells at any place: the cell of the box that each one is an image of, the code, and whether any is."""
        side = (1 << level)[..., None]
        under, over = (at < 0) & self.low, (at >= side) & self.high
        at = np.where(under, -1 - at, np.where(over, 2 * side - 1 - at, at))
        code = ((under + 2 * over) * np.array([1, 3, 9])).sum(axis=-1)
        return at, code, np.all((at >= 0) & (at < side), axis=-1)


def _mirror_axes(mirrors: Sequence[Plane]) -> tuple[Array, Array]:
    """Axes along the mirrors' normals, and where the mirrors cut them: (2, 3), low and high, nan where none."""
    axes: list[Array] = []
    faces = np.full((2, 3), np.nan)
    for point, normal in mirrors:
        unit = np.asarray(normal, float) / np.linalg.norm(normal)
        if any(abs(unit @ axis) > 1e-9 for axis in axes):
            raise ValueError("mirrors must be perpendicular to each other")
        faces[0, len(axes)] = np.asarray(point, float) @ unit
        axes.append(unit)
    for unit in np.eye(3):
        rest = unit - sum(((unit @ axis) * axis for axis in axes), start=np.zeros(3))
        if len(axes) < 3 and np.linalg.norm(rest) > 0.5:
            axes.append(rest / np.linalg.norm(rest))
    return np.array(axes), faces


class Tree:
    """An adaptive octree over places in the unit box.

    order : (n,) the places along the curve; start, own, stop below count in it
    level, at, parent : (c,), (c, 3), (c,) of each cell, coarse levels first
    start, own, stop : (c,) the cell keeps order[start:own], and order[start:stop] lies below it
    """

    def __init__(self, place: Array, *, deepest: Ints | None = None, occupancy: int = 64) -> None:
        side = 1 << DEEPEST
        morton = _morton(np.clip((place * side).astype(np.int64), 0, side - 1))
        depth = _depth(morton, np.full(len(place), DEEPEST) if deepest is None else deepest, occupancy)
        shift = 3 * (DEEPEST - depth)
        key = (morton >> shift << shift) * 32 + depth
        self.order = np.argsort(key, kind="stable")
        key, depth = key[self.order], depth[self.order]
        cells = [np.unique(key[depth >= k] >> (3 * (DEEPEST - k) + 5)) for k in range(depth.max() + 1)]
        self.level = np.repeat(np.arange(len(cells)), [len(c) for c in cells])
        self._slices = np.searchsorted(self.level, np.arange(len(cells) + 1))
        self._prefix = np.concatenate(cells)
        self.at = _unmorton(self._prefix)
        shift = 3 * (DEEPEST - self.level)
        self.start = np.searchsorted(key, (self._prefix << shift) * 32 + self.level)
        self.own = np.searchsorted(key, (self._prefix << shift) * 32 + self.level + 1)
        self.stop = np.searchsorted(key, (self._prefix + 1 << shift) * 32)
        self.parent = np.full(len(self.level), -1)
        for k in range(1, len(cells)):
            part = self.cells(k)
            self.parent[part] = self._slices[k - 1] + np.searchsorted(cells[k - 1], cells[k] >> 3)

    @property
    def depth(self) -> int:
        """How many levels there are."""
        return len(self._slices) - 1

    def cells(self, level: int) -> slice:
        """The cells of one level."""
        return slice(int(self._slices[level]), int(self._slices[level + 1]))

    def find(self, level: int, at: Ints) -> Ints:
        """Cells (m,) by their places (m, 3), all inside the box; -1 where there is none."""
        if level >= self.depth:
            return np.full(len(at), -1)
        here = self._prefix[self.cells(level)]
        wanted = _morton(at)
        found = np.minimum(np.searchsorted(here, wanted), len(here) - 1)
        return np.where(here[found] == wanted, found + self._slices[level], -1)


def _depth(morton: Ints, deepest: Ints, occupancy: int) -> Ints:
    """The level at which each place is kept: cells with more than `occupancy` places to hand down are split."""
    depth = np.zeros(len(morton), np.int64)
    active = np.arange(len(morton))
    for level in range(DEEPEST):
        active = active[deepest[active] > level]
        if not len(active):
            break
        _, cell, count = np.unique(
            morton[active] >> 3 * (DEEPEST - level), return_inverse=True, return_counts=True
        )
        active = active[count[cell] > occupancy]
        depth[active] = level + 1
    return depth


def _morton(at: Ints) -> Ints:
    """Interleave three non-negative integers (n, 3) of at most 20 bits."""
    x = at.astype(np.int64)
    for shift, mask in ((32, 0x1F00000000FFFF), (16, 0x1F0000FF0000FF), (8, 0x100F00F00F00F00F),
                        (4, 0x10C30C30C30C30C3), (2, 0x1249249249249249)):  # fmt: skip
        x = (x | x << shift) & mask
    return x[..., 0] | x[..., 1] << 1 | x[..., 2] << 2


def _unmorton(code: Ints) -> Ints:
    x = np.stack([code, code >> 1, code >> 2], axis=-1) & 0x1249249249249249
    for shift, mask in ((2, 0x10C30C30C30C30C3), (4, 0x100F00F00F00F00F), (8, 0x1F0000FF0000FF),
                        (16, 0x1F00000000FFFF), (32, 0x1FFFFF)):  # fmt: skip
        x = (x | x >> shift) & mask
    return x


@dataclass(frozen=True, eq=False)
class Near:
    """Ranges of source panels to take pair by pair: cell of the targets, range in the sources' order, image."""

    cell: Ints
    start: Ints
    stop: Ints
    code: Ints


def near(targets: Tree, sources: Tree, frame: Frame) -> Near:
    """All that the cells with places of their own meet directly, by target cell and then by range.

    A cell meets everything below its neighbours, and what its ancestors' neighbours keep for themselves.
    """
    rows: list[list[Ints]] = []
    keeps = np.flatnonzero(targets.own > targets.start)
    for level in range(targets.depth):
        cell = keeps[targets.level[keeps] >= level]
        up = (targets.level[cell] - level)[:, None]
        at = (targets.at[cell] >> up)[:, None] + NEIGHBOURS
        at, code, inside = frame.fold(np.full(at.shape[:2], level), at)
        which, step = np.nonzero(inside)
        found = sources.find(level, at[which, step])
        which, step, found = (a[found >= 0] for a in (which, step, found))
        last = np.where(targets.level[cell[which]] == level, sources.stop[found], sources.own[found])
        some = last > sources.start[found]
        rows.append([a[some] for a in (cell[which], sources.start[found], last, code[which, step])])
    cell, start, stop, code = (np.concatenate(part) for part in zip(*rows, strict=True))
    order = np.lexsort((start, code, cell))
    return Near(cell[order], start[order], stop[order], code[order])


@dataclass(frozen=True, eq=False)
class Far:
    """Pairs of well separated cells of one level, sorted by offset.

    offset : (m,) row of OFFSETS, source minus target; target, source : (m,) cells
    flip : (m,) bits of the axes along which the source is mirrored
    """

    offset: Ints
    target: Ints
    source: Ints
    flip: Ints


def far(targets: Tree, sources: Tree, frame: Frame) -> Far:
    """The interaction lists: children of the parent's neighbours that are no neighbours themselves."""
    rows: list[list[Ints]] = []
    for level in range(1, min(targets.depth, sources.depth)):
        part = targets.cells(level)
        for parity in np.ndindex(2, 2, 2):
            cell = part.start + np.flatnonzero(np.all((targets.at[part] & 1) == parity, axis=1))
            usable = np.flatnonzero(np.all(np.abs((OFFSETS + parity) >> 1) <= 1, axis=1))
            at = targets.at[cell][:, None] + OFFSETS[usable]
            at, code, inside = frame.fold(np.full(at.shape[:2], level), at)
            which, step = np.nonzero(inside)
            found = sources.find(level, at[which, step])
            which, step, found = (a[found >= 0] for a in (which, step, found))
            image = code[which, step]
            flip = (image % 3 > 0) + 2 * (image // 3 % 3 > 0) + 4 * (image // 9 > 0)
            rows.append([usable[step], cell[which], found, flip])
    if not rows:
        return Far(*(np.empty(0, np.int64) for _ in range(4)))
    offset, target, source, flip = (np.concatenate(part) for part in zip(*rows, strict=True))
    order = np.argsort(offset, kind="stable")
    return Far(offset[order], target[order], source[order], flip[order])
