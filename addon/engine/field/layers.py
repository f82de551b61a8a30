"""Single and double layer of 1 / (4 pi r) over flat panels, as operators."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..steps import Step, Steps, finish
from .multipole import Basis, Passes, basis, slopes, values
from .quadrature import THREE_POINTS, Panels, block, close
from .tree import Frame, Plane, Tree, far, near

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]

_WIDE = 3.0  # a cell is at least so many reaches of the panels it keeps wide
_OCCUPANCY = 100  # panels in a cell before it is split
_BATCH = 100_000  # near pairs integrated together
_ORDERS = ((1e-3, 4, 3e-4), (1e-4, 5, 1e-5), (1e-5, 6, 2e-6), (0.0, 7, 3e-7))


class LayerOperators:
    """Single layer S and double layer D of 1 / (4 pi r), constant on flat panels, taken at the centroids.

    (S q)_i   = sum_j q_j   integral_j dA_y / (4 pi |x_i - y|)
    (D phi)_i = sum_j phi_j integral_j d/dn_y (1 / (4 pi |x_i - y|)) dA_y,  a flat panel's own term being zero

    Seen from inside a closed surface wound outward D 1 = -1, on its flat panels -1/2, outside 0. With normals
    out of the liquid and q = d phi / dn, Green's identity reads phi / 2 = S q - D phi = apply(q, phi).

    n, corners (n, 3, 3), centroid (n, 3), normal (n, 3), area (n,): of the panels, metres
    diagonal : (n,) metres, S_ii
    """

    def __init__(
        self,
        corners: Array,
        *,
        accuracy: float = 1e-4,
        mirrors: Sequence[Plane] = (),
        double: bool = True,
    ) -> None:
        """corners : (n, 3, 3) metres, counter-clockwise seen from the side the normal points to.

        accuracy : of a product, relative to its largest value
        mirrors : up to three mutually perpendicular planes (point, unit normal), with every panel on the side
            that the normal points to; each source then has an equal image behind each (insulating walls),
            within S and D
        double : False leaves D out, for half the memory
        """
        finish(self._set_up(corners, accuracy, mirrors, double))

    @classmethod
    def build(
        cls,
        corners: Array,
        *,
        accuracy: float = 1e-4,
        mirrors: Sequence[Plane] = (),
        double: bool = True,
    ) -> Steps[LayerOperators]:
        """The same as the constructor, in steps."""
        made = cls.__new__(cls)
        yield from made._set_up(corners, accuracy, mirrors, double)
        return made

    def _set_up(self, corners: Array, accuracy: float, mirrors: Sequence[Plane], double: bool) -> Steps[None]:
        yield Step(0.0, "Sorting the panels")
        self.corners = np.asarray(corners, float)
        self.n, self.accuracy, self._double = len(self.corners), accuracy, double
        self._frame = Frame.around(self.corners.reshape(-1, 3), mirrors)
        panels = Panels.of(self.corners)
        self.centroid, self.area = self.corners.mean(axis=1), panels.triangles.area
        self.normal = panels.triangles.normal.T
        place = self._frame.place(self.centroid)
        wide = np.floor(-np.log2(_WIDE * panels.reach / self._frame.width.min())).astype(int)
        self._tree = tree = Tree(place, deepest=np.clip(wide, 0, None), occupancy=_OCCUPANCY)
        yield Step(0.05, "Pairing distant groups of panels")
        self._basis = _basis(accuracy, self._frame)
        self._passes = Passes(self._basis, tree, tree, far(tree, tree, self._frame), self._frame.width.mean())
        self._keepers = np.flatnonzero(tree.own > tree.start)
        yield Step(0.1, "Expanding the panels")
        yield from self._expand()
        yield Step(0.3, "Integrating near panels")
        yield from self._assemble(Panels.of(self.corners[tree.order]))

    def _expand(self) -> Steps[None]:
        """Each panel's coefficients as a source, and what reads the field at its centroid, in tree order."""
        tree = self._tree
        along = self._keepers[np.argsort(tree.start[self._keepers])]
        cell = np.repeat(along, (tree.own - tree.start)[along])
        self._source = np.empty((1 + self._double, self.n, self._basis.rank), np.float32)
        self._read = np.empty((self.n, self._basis.rank), np.float32)
        for start in range(0, self.n, 5000):
            part = slice(start, start + 5000)
            at, panel = cell[part], tree.order[part]
            area = self.area[panel, None].astype(np.float32)
            points = np.einsum("qc,nck->nqk", THREE_POINTS, self.corners[panel])
            single, double = 0.0, 0.0
            turn = self._inside_slope(at, self.normal[panel])
            for q in range(3):
                x = self._inside(at, points[:, q])
                single = single + values(self._basis, x)
                if self._double:
                    double = double + slopes(self._basis, x, turn)
            self._source[0, part] = single * (area / 3)
            if self._double:
                self._source[1, part] = double * (area / 3)
            self._read[part] = values(self._basis, self._inside(at, self.centroid[panel]))
            yield Step(0.1 + 0.2 * start / self.n, "Expanding the panels")

    def _inside(self, cell: Ints, points: Array) -> Array:
        """Points in units of half their cells, from the middle."""
        side = np.exp2(self._tree.level[cell])[:, None]
        return 2.0 * (self._frame.place(points) * side - self._tree.at[cell]) - 1.0

    def _inside_slope(self, cell: Ints, direction: Array) -> Array:
        """Directions (n, 3) as changes of those units a metre."""
        return 2.0 * np.exp2(self._tree.level[cell])[:, None] * (direction @ self._frame.axes.T) / self._frame.width

    def _assemble(self, panels: Panels) -> Steps[None]:
        """Near blocks, leaf by leaf, in one buffer: S and then D of the leaf's rows and its columns."""
        tree = self._tree
        lists = near(tree, tree, self._frame)
        cuts = np.searchsorted(lists.cell, np.append(self._keepers, lists.cell[-1] + 1))
        self._columns = []
        rows = (tree.own - tree.start)[self._keepers]
        for a, b in zip(cuts[:-1], cuts[1:], strict=True):
            own = lists.code[a:b] == 0
            self._columns.append(_ranges(lists.start[a:b][own], lists.stop[a:b][own]))
        sizes = rows * [len(c) for c in self._columns] * (1 + self._double)
        self._starts = np.concatenate([[0], np.cumsum(sizes)])
        self._near = np.empty(self._starts[-1], np.float32)
        waiting: list[tuple[Array, Ints, Ints, Ints]] = []
        count = 0
        center = panels.centroid.T
        for k, cell in enumerate(self._keepers):
            points = center[tree.start[cell] : tree.own[cell]]
            whole = self._block(k)
            for code in np.unique(lists.code[cuts[k] : cuts[k + 1]]):
                own = lists.code[cuts[k] : cuts[k + 1]] == code
                columns = _ranges(lists.start[cuts[k] : cuts[k + 1]][own], lists.stop[cuts[k] : cuts[k + 1]][own])
                x = self._frame.image(points, code) if code else points
                single, double, pairs = block(x, panels, columns)
                width = len(self._columns[k])
                if code == 0:
                    whole[:, :width] = single
                    if self._double:
                        whole[:, width:] = double
                    place = np.arange(width)
                else:
                    place = np.searchsorted(self._columns[k], columns)
                    whole[:, place] += single
                    if self._double:
                        whole[:, width + place] += double
                i, j = np.nonzero(pairs)
                waiting.append((x[i], columns[j], self._starts[k] + i * whole.shape[1] + place[j], width + 0 * i))
                count += len(i)
            if count > _BATCH or k == len(self._keepers) - 1:
                x, j, spot, width = (np.concatenate(part) for part in zip(*waiting, strict=True))
                single, double = close(x, panels, j)
                np.add.at(self._near, spot, single)
                if self._double:
                    np.add.at(self._near, spot + width, double)
                waiting, count = [], 0
                yield Step(0.3 + 0.7 * (k + 1) / len(self._keepers), "Integrating near panels")
        self.diagonal = np.empty(self.n)
        for rows, single, _ in self.leaf_blocks():
            self.diagonal[rows] = single.diagonal()

    def _block(self, k: int) -> Single:
        """(m, columns) or (m, 2 columns): the near block of the k-th keeping cell."""
        cell = self._keepers[k]
        return self._near[self._starts[k] : self._starts[k + 1]].reshape(
            self._tree.own[cell] - self._tree.start[cell], -1
        )

    @staticmethod
    def memory_estimate(n: int) -> int:
        """Bytes that n panels will take."""
        return 5000 * n

    @property
    def double_row_sum(self) -> Array:
        """(n,) D 1: minus the share of the sphere that the panels fill as seen from each centroid."""
        return self.double(np.ones(self.n))

    def apply(self, q: Array, phi: Array) -> Array:
        """S q - D phi at the centroids, (n,), in one pass."""
        return self._product(np.stack([q, -phi]), slice(None))

    def single(self, q: Array) -> Array:
        """S q at the centroids, (n,)."""
        return self._product(np.asarray(q)[None], 0)

    def double(self, phi: Array) -> Array:
        """D phi at the centroids, (n,)."""
        return self._product(np.asarray(phi)[None], 1)

    def _product(self, density: Array, layer: slice | int) -> Array:
        tree, r = self._tree, self._basis.rank
        sorted_ = density[:, tree.order].astype(np.float32)
        source = self._source[layer].reshape(len(density), self.n, r)
        moments = np.zeros((len(tree.level), r), np.float32)
        out = np.empty(self.n)
        for cell in self._keepers:
            part = slice(tree.start[cell], tree.own[cell])
            for one, coefficients in zip(sorted_, source, strict=True):
                moments[cell] += one[part] @ coefficients[part]
        local = self._passes.run(moments)
        for k, cell in enumerate(self._keepers):
            part = slice(tree.start[cell], tree.own[cell])
            columns, near_block = self._columns[k], self._block(k)
            if len(density) == 1 and self._double:
                half = len(columns) * int(layer)
                near_block = near_block[:, half : half + len(columns)]
            out[tree.order[part]] = near_block @ sorted_[:, columns].ravel() + self._read[part] @ local[cell]
        return out

    def leaf_blocks(self) -> Iterator[tuple[NDArray[np.intp], Single, Single]]:
        """Groups of neighbouring panels that part the whole: indices (m,), their block of S and of D (m, m)."""
        for k, cell in enumerate(self._keepers):
            own = slice(self._tree.start[cell], self._tree.own[cell])
            place = np.searchsorted(self._columns[k], np.arange(own.start, own.stop))
            whole = self._block(k)
            width = len(self._columns[k])
            double = whole[:, width + place] if self._double else np.zeros((len(place),) * 2, np.float32)
            yield self._tree.order[own], whole[:, place], double


def _basis(accuracy: float, frame: Frame) -> Basis:
    order, tolerance = next((order, tolerance) for limit, order, tolerance in _ORDERS if accuracy >= limit)
    aspect = frame.width / frame.width.mean()
    return basis(order, tolerance, tuple(np.round(aspect, 12)))


def _ranges(start: Ints, stop: Ints) -> Ints:
    """All integers of the ranges start..stop, in order."""
    length = stop - start
    ends = np.cumsum(length)
    return np.arange(ends[-1]) + np.repeat(start - (ends - length), length)
