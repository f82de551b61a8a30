"""What near panels do to the points of each cell, as dense blocks: S beside D."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from .integrals import layers
from .quadrature import Group, Panels, Zones
from .tree import Frame, Tree, near

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]


class Sources(Protocol):
    """Panels in the order of their tree."""

    panels: Panels
    tree: Tree
    frame: Frame
    double: bool


class Neighbors:
    """Near panels of the cells of a target tree, integrated where asked for.

    Points and panels are in the order of their trees.
    cells : (k,) the target cells that have points; rows : their points; sizes : (k,) entries of their blocks
    """

    def __init__(
        self,
        points: Array,
        tree: Tree,
        sources: Sources,
        zones: Zones,
        double: bool | None = None,
        wanted: NDArray[np.bool_] | None = None,
    ) -> None:
        """points : (m, 3) meters; double : whether D is wanted, where the sources have it

        wanted : (c,) the target cells to take, where not all
        """
        self._points, self._panels, self._frame, self._zones = points, sources.panels, sources.frame, zones
        self._double = sources.double if double is None else double
        self._lists = lists = near(tree, sources.tree, sources.frame, wanted)
        self.cells, first = np.unique(lists.cell, return_index=True)
        self._cuts = np.append(first, len(lists.cell))
        self.rows = [slice(int(tree.start[c]), int(tree.own[c])) for c in self.cells]
        self._widths = np.add.reduceat(np.where(lists.code == 0, lists.stop - lists.start, 0), first)
        self.sizes = (tree.own - tree.start)[self.cells] * self._widths * (1 + self._double)

    def integrate(self, cell_rows: Sequence[int], blocks: Sequence[Single]) -> list[Ints]:
        """Fill the blocks (rows, columns or 2 columns) of some cells with S, then D. Returns their columns, panels.

        Safe to call from several threads at once.
        """
        columns: list[Ints] = []
        exact: list[_Exact] = []
        for k, block in zip(cell_rows, blocks, strict=True):
            part = slice(self._cuts[k], self._cuts[k + 1])
            start, stop, code = (a[part] for a in (self._lists.start, self._lists.stop, self._lists.code))
            points = self._points[self.rows[k]]
            own = code == 0
            columns.append(self._fill(points, _ranges(start[own], stop[own]), block, exact))
            for image in np.unique(code[~own]):
                # an image of the source seen from x is the source seen from the image of x
                seen = code == image
                rows = _ranges(start[seen], stop[seen])
                extra = np.empty((len(points), len(rows) * (1 + self._double)), np.float32)
                pairs: list[_Exact] = []
                rows = self._fill(self._frame.image(points, int(image)), rows, extra, pairs)
                self._finish(pairs)
                order = np.argsort(columns[-1])
                place = order[np.searchsorted(columns[-1], rows, sorter=order)]
                block[:, np.concatenate([place, len(order) + place]) if self._double else place] += extra
        self._finish(exact)
        return columns

    def _fill(self, points: Array, columns: Ints, out: Single, exact: list[_Exact]) -> Ints:
        """Fill S and D of the columns, sorted from near to far, but leave exact pairs; returns the columns so."""
        group = Group(points)
        zone = np.searchsorted(self._zones, group.gap(self._panels, columns), side="right")
        columns = columns[np.argsort(zone, kind="stable")]
        nearest, six = (int(n) for n in np.cumsum(np.bincount(zone, minlength=3))[:2])
        single, double = out[:, : len(columns)], out[:, len(columns) :] if self._double else None
        for part, fine in ((slice(0, six), True), (slice(six, None), False)):
            if len(columns[part]):
                group.integrate(
                    self._panels, columns[part], fine, single[:, part], None if double is None else double[:, part]
                )
        i, j = np.nonzero(group.closer(self._panels, columns[:nearest], self._zones.exact))
        single[i, j] = 0.0
        if double is not None:
            double[i, j] = 0.0
        exact.append(_Exact(out, i, j, points[i], columns[j]))
        return columns

    def _finish(self, exact: list[_Exact]) -> None:
        """Add the exact integrals of all pairs to their blocks."""
        rows = np.concatenate([pairs.panels for pairs in exact])
        single, double = layers(np.concatenate([pairs.points for pairs in exact]), self._panels.triangles, rows)
        ends = np.cumsum([len(pairs.i) for pairs in exact])[:-1]
        for pairs, single_part, double_part in zip(exact, np.split(single, ends), np.split(double, ends), strict=True):
            pairs.block[pairs.i, pairs.j] += single_part / (4 * np.pi)
            if self._double:
                pairs.block[pairs.i, pairs.j + pairs.block.shape[1] // 2] += double_part / (4 * np.pi)


class _Exact(NamedTuple):
    """Pairs to be integrated exactly: the block and the entries they belong to, points and panels."""

    block: Single
    i: Ints
    j: Ints
    points: Array
    panels: Ints


def _ranges(start: Ints, stop: Ints) -> Ints:
    """All integers of the ranges start..stop, in order."""
    length = stop - start
    ends = np.cumsum(length)
    return np.arange(ends[-1]) + np.repeat(start - (ends - length), length)
