"""What near panels do to the points of each cell, as dense blocks: S beside D."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .integrals import layers
from .quadrature import Group, Panels, Zones
from .tree import Frame, Tree, near

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]
_PAIRS = 30_000  # pairs to integrate exactly at a time


class Sources(Protocol):
    """Panels in the order of their tree."""

    panels: Panels
    tree: Tree
    frame: Frame
    double: bool


class Neighbours:
    """Near panels of the cells of a target tree, integrated where asked for.

    Points and panels are in the order of their trees.
    cells : (k,) the target cells that have points; rows : their points; sizes : (k,) entries of their blocks
    """

    def __init__(
        self, points: Array, tree: Tree, sources: Sources, zones: Zones, double: bool | None = None
    ) -> None:
        """points : (m, 3) metres; double : whether D is wanted, where the sources have it."""
        self._points, self._panels, self._frame, self._zones = points, sources.panels, sources.frame, zones
        self._double = sources.double if double is None else double
        self._lists = lists = near(tree, sources.tree, sources.frame)
        self.cells, first = np.unique(lists.cell, return_index=True)
        self._cuts = np.append(first, len(lists.cell))
        self.rows = [slice(int(tree.start[c]), int(tree.own[c])) for c in self.cells]
        self._widths = np.add.reduceat(np.where(lists.code == 0, lists.stop - lists.start, 0), first)
        self.sizes = (tree.own - tree.start)[self.cells] * self._widths * (1 + self._double)
        self._place = np.empty(len(self._panels.area), np.int64)
        self._waiting: list[tuple[Single, Ints, Ints, Array, Ints]] = []
        self._waiting_pairs = 0

    def integrate(self, k: int, out: Single) -> Ints:
        """Fill out (rows, columns or 2 columns) for the k-th cell with S, then D. Returns the columns: panels.

        The nearest pairs are put in by `finish`, which takes many cells' pairs together.
        """
        part = slice(self._cuts[k], self._cuts[k + 1])
        start, stop, code = (a[part] for a in (self._lists.start, self._lists.stop, self._lists.code))
        points, width = self._points[self.rows[k]], self._widths[k]
        plain = code == 0
        columns = self._act(points, _ranges(start[plain], stop[plain]), out)
        if not plain.all():
            self._place[columns] = np.arange(width)
        for image in np.unique(code[~plain]):
            # an image of the source seen from x is the source seen from the image of x
            seen = code == image
            some = _ranges(start[seen], stop[seen])
            block = np.empty((len(points), len(some) * (1 + self._double)), np.float32)
            some = self._act(self._frame.image(points, int(image)), some, block)
            self.finish()
            place = self._place[some]
            out[:, np.concatenate([place, width + place]) if self._double else place] += block
        if self._waiting_pairs > _PAIRS:
            self.finish()
        return columns

    def finish(self) -> None:
        """Put the exact integrals of the pairs that wait for them into their blocks."""
        if not self._waiting:
            return
        blocks, rows, columns, points, panels = zip(*self._waiting, strict=True)
        single, double = layers(np.concatenate(points), self._panels.triangles, np.concatenate(panels))
        ends = np.cumsum([len(i) for i in rows])
        for block, i, j, one, two in zip(
            blocks, rows, columns, np.split(single, ends[:-1]), np.split(double, ends[:-1]), strict=True
        ):
            block[i, j] += one / (4 * np.pi)
            if self._double:
                block[i, j + block.shape[1] // 2] += two / (4 * np.pi)
        self._waiting.clear()
        self._waiting_pairs = 0

    def _act(self, points: Array, columns: Ints, out: Single) -> Ints:
        """Fill S and D of the columns, sorted from near to far; returns them so."""
        group = Group(points)
        zone = np.searchsorted(self._zones, group.gap(self._panels, columns), side="right")
        columns = columns[np.argsort(zone, kind="stable")]
        exact, six = (int(n) for n in np.cumsum(np.bincount(zone, minlength=3))[:2])
        single, double = out[:, : len(columns)], out[:, len(columns) :] if self._double else None
        for part, fine in ((slice(0, six), True), (slice(six, None), False)):
            if len(columns[part]):
                group.integrate(
                    self._panels, columns[part], fine, single[:, part], None if double is None else double[:, part]
                )
        i, j = np.nonzero(group.closer(self._panels, columns[:exact], self._zones.exact))
        single[i, j] = 0.0
        if double is not None:
            double[i, j] = 0.0
        self._waiting.append((out, i, j, points[i], columns[j]))
        self._waiting_pairs += len(i)
        return columns


def _ranges(start: Ints, stop: Ints) -> Ints:
    """All integers of the ranges start..stop, in order."""
    length = stop - start
    ends = np.cumsum(length)
    return np.arange(ends[-1]) + np.repeat(start - (ends - length), length)
