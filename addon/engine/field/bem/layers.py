"""Single and double layer of 1 / (4 pi r) over flat panels, as operators."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import DTypeLike, NDArray

from ...linalg.blas import one_thread
from ...progress import Progress, Step, run_to_end, subrange
from .accuracy import setting_for
from .multipole import Passes, basis
from .neighbors import Neighbors
from .quadrature import as_points
from .sources import Sources, readings, sources_tree
from .tree import Frame, Plane, Tree, far, near

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]

_POINTS = 32  # the same for points to evaluate at
_ENTRIES_A_STEP = 1_000_000
_PANEL = 560.0  # bytes of what is kept of a panel to integrate it


class Neighborhood(NamedTuple):
    """Panels that lie together, the first `own` of them a group, the others round it: indices (m,), S and D (m, m)."""

    panels: Ints
    own: int
    single: Single
    double: Single


class LayerOperators:
    """Single layer S and double layer D of 1 / (4 pi r), constant on flat panels, taken at the centroids.

    (S q)_i   = sum_j q_j   integral_j dA_y / (4 pi |x_i - y|)
    (D phi)_i = sum_j phi_j integral_j d/dn_y (1 / (4 pi |x_i - y|)) dA_y,  a flat panel's own term being zero

    Seen from inside a closed surface wound outward D 1 = -1, on its flat panels -1/2, outside 0. With normals
    out of the liquid and q = d phi / dn, Green's identity reads phi / 2 = S q - D phi = apply(q, phi).

    n, corners (n, 3, 3), centroid (n, 3), normal (n, 3), area (n,): of the panels, meters
    targets : at how many of the panels, the first, S and D are taken
    diagonal : (targets,) meters, S_ii; of a panel's own images those that are near count
    """

    def __init__(
        self,
        corners: Array,
        *,
        accuracy: float = 1e-4,
        mirrors: Sequence[Plane] = (),
        double: bool = True,
        targets: int | None = None,
    ) -> None:
        """corners : (n, 3, 3) meters, counter-clockwise seen from the side the normal points to.

        accuracy : 1e-3, 1e-4 or 1e-5: root mean square error of S q over that of S q itself; D's is up to four
            times as much, being a derivative
        mirrors : up to three mutually perpendicular planes (point, unit normal), with every panel on the side
            that the normal points to; each source then has an equal image behind each (insulating walls),
            within S and D
        double : False leaves D out, for half the memory
        targets : how many panels, the first, S and D are wanted at; the others only act. Left out: at all
        """
        run_to_end(self._set_up(corners, accuracy, mirrors, double, targets))

    @classmethod
    def build(
        cls,
        corners: Array,
        *,
        accuracy: float = 1e-4,
        mirrors: Sequence[Plane] = (),
        double: bool = True,
        targets: int | None = None,
    ) -> Progress[LayerOperators]:
        """The same as the constructor, in steps."""
        operators = cls.__new__(cls)
        yield from operators._set_up(corners, accuracy, mirrors, double, targets)
        return operators

    @staticmethod
    def memory_estimate(
        corners: Array,
        *,
        accuracy: float = 1e-4,
        mirrors: Sequence[Plane] = (),
        double: bool = True,
        targets: int | None = None,
    ) -> int:
        """Bytes that operators on these panels hold: from which are near each other, before anything is integrated."""
        frame = Frame.around(corners.reshape(-1, 3), mirrors)
        tree = sources_tree(corners, frame)
        asked = np.append(0, np.cumsum(tree.order < (len(corners) if targets is None else targets)))
        lists = near(tree, tree, frame, asked[tree.own] > asked[tree.start])
        width = np.where(lists.code == 0, lists.stop - lists.start, 0)
        entries = float((tree.own - tree.start)[lists.cell] @ width)
        setting = setting_for(accuracy)
        rank = basis(setting.order, setting.tolerance).rank
        panel_bytes = _PANEL + 4.0 * rank * (2 + double)
        return int((1 + double) * (4.0 * entries + 8.0 * float(width.sum())) + panel_bytes * len(corners))

    def _set_up(
        self, corners: Array, accuracy: float, mirrors: Sequence[Plane], double: bool, targets: int | None
    ) -> Progress[None]:
        yield Step(0.0, "Sorting the panels")
        self.corners = np.asarray(corners, float)
        self.n, self.accuracy, self._mirrors = len(self.corners), accuracy, mirrors
        self.targets = self.n if targets is None else targets
        self._setting = setting_for(accuracy)
        self._basis = basis(self._setting.order, self._setting.tolerance)
        frame = Frame.around(self.corners.reshape(-1, 3), mirrors)
        self._sources = sources = yield from subrange(
            0.05, 0.2, Sources.build(self.corners, self._basis, frame, double)
        )
        tree, panels = sources.tree, sources.panels
        self.centroid, self.normal = _scatter(tree, panels.centroid), _scatter(tree, panels.normal)
        self.area = _scatter(tree, panels.area)
        yield Step(0.2, "Pairing distant groups of panels")
        asked = np.append(0, np.cumsum(tree.order < self.targets))
        below = asked[tree.stop] > asked[tree.start]
        self._passes = Passes(self._basis, tree, tree, far(tree, tree, frame, below), frame.width)
        self._read = readings(self._basis, frame, tree, panels.centroid)
        yield Step(0.3, "Integrating near panels")
        yield from subrange(0.3, 1.0, self._assemble(asked[tree.own] > asked[tree.start]))
        self._position = np.empty(self.n, np.int64)
        self._position[tree.order] = np.arange(self.n)
        self._block_of = np.full(self.n, -1)
        for k, rows in enumerate(self._rows):
            self._block_of[rows] = k
        diagonal = np.empty(self.n)
        for columns, rows, block in zip(self._columns, self._rows, self._blocks, strict=True):
            at, own = np.nonzero(columns == np.arange(rows.start, rows.stop)[:, None])
            diagonal[rows] = block[at, own]
        self.diagonal = _scatter(tree, diagonal)[: self.targets]

    def _assemble(self, wanted: NDArray[np.bool_]) -> Progress[None]:
        """Blocks of near panels of the wanted cells, S beside D, all in one buffer."""
        sources = self._sources
        neighbors = Neighbors(sources.panels.centroid, sources.tree, sources, self._setting.zones, wanted=wanted)
        self._keepers, self._rows = neighbors.cells, neighbors.rows
        ends = np.cumsum(neighbors.sizes)
        buffer = np.empty(ends[-1], np.float32)
        self._blocks = [
            buffer[end - size : end].reshape(rows.stop - rows.start, -1)
            for size, end, rows in zip(neighbors.sizes, ends, self._rows, strict=True)
        ]
        self._columns: list[Ints] = []
        for a, b in _batches(ends):
            with one_thread():
                columns = neighbors.integrate(range(a, b), self._blocks[a:b])
            self._columns += [np.concatenate([c, c + self.n]) if sources.double else c for c in columns]
            yield Step(b / len(ends), "Integrating near panels")

    @property
    def memory(self) -> int:
        """Bytes that the operators hold."""
        arrays: list[NDArray[Any]] = [*self._blocks, *self._columns, self._sources.coefficients, self._read]
        return sum(a.nbytes for a in arrays) + self._sources.panels.memory

    @property
    def double_row_sum(self) -> Array:
        """(targets,) D 1: minus the share of the sphere that the panels fill as seen from each centroid."""
        return self.double(np.ones(self.n))

    def apply(self, q: Array, phi: Array, *, precise: bool = False) -> Array:
        """S q - D phi at the centroids, (targets,), in one pass, of q and phi (n,). precise : sums in double
        precision"""
        return self._product(q, -np.asarray(phi), np.float64 if precise else np.float32)

    def single(self, q: Array) -> Array:
        """S q at the centroids, (targets,)."""
        return self._product(q, None)

    def double(self, phi: Array) -> Array:
        """D phi at the centroids, (targets,)."""
        return self._product(None, phi)

    def _product(self, charge: Array | None, dipole: Array | None, kind: DTypeLike = np.float32) -> Array:
        out = np.zeros(self.n, kind)
        with one_thread():
            density, moments = self._sources.gather(charge, dipole, kind)
            local = self._passes.run(moments)
            for cell, rows, columns, block in zip(self._keepers, self._rows, self._columns, self._blocks, strict=True):
                if charge is None or (dipole is None and self._sources.double):
                    half = slice(0, len(columns) // 2) if dipole is None else slice(len(columns) // 2, None)
                    columns, block = columns[half], block[:, half]
                out[rows] = block @ density.take(columns) + self._read[rows] @ local[cell]
        return _scatter(self._sources.tree, out.astype(float))[: self.targets]

    def groups(self, most: int) -> list[Ints]:
        """The targets parted into groups of at most so many: leaves of one parent together, large leaves cut."""
        tree, groups = self._sources.tree, list[list[Ints]]()
        parent, size = -2, 0
        for cell, rows in zip(self._keepers, self._rows, strict=True):
            panels = tree.order[rows]
            panels = panels[panels < self.targets]
            for members in np.array_split(panels, -(-len(panels) // most)) if len(panels) else []:
                if tree.parent[cell] != parent or size + len(members) > most:
                    groups.append([])
                    parent, size = int(tree.parent[cell]), 0
                groups[-1].append(members)
                size += len(members)
        return [np.concatenate(members) for members in groups]

    def neighborhood(self, group: Ints, size: int) -> Neighborhood:
        """A group with the nearest panels round it, `size` together where there are as many.

        Entries of near panels are the integrated ones; the few others treat the source as a point.
        """
        panels, double = self._sources.panels, self._sources.double
        own = self._position[group]
        columns = [self._columns[k][: self._width(k)] for k in np.unique(self._block_of[own])]
        near = np.setdiff1d(np.concatenate(columns), own)
        near = near[self._sources.tree.order[near] < self.targets]
        middle = panels.centroid[own]
        gap = np.maximum(
            np.maximum(middle.min(axis=0) - panels.centroid[near], panels.centroid[near] - middle.max(axis=0)), 0.0
        )
        nearest = np.argsort((gap**2).sum(axis=1), kind="stable")[: max(size - len(own), 0)]
        members = np.concatenate([own, np.sort(near[nearest])])
        single = np.full((len(members), len(members)), np.nan, np.float32)
        dipole = np.zeros_like(single)
        place = np.full(self.n, -1)
        for k in np.unique(self._block_of[members]):
            rows = np.flatnonzero(self._block_of[members] == k)
            width = self._width(k)
            place[self._columns[k][:width]] = np.arange(width)
            held = np.flatnonzero(place[members] >= 0)
            at, to = place[members[held]], (members[rows] - self._rows[k].start)[:, None]
            single[rows[:, None], held] = self._blocks[k][to, at]
            if double:
                dipole[rows[:, None], held] = self._blocks[k][to, width + at]
            place[self._columns[k][:width]] = -1
        row, column = np.nonzero(np.isnan(single))
        single[row, column], dipole[row, column] = as_points(panels, members[row], members[column], double)
        return Neighborhood(self._sources.tree.order[members], len(own), single, dipole)

    def _width(self, k: int) -> int:
        """Panels that a block has columns of."""
        return len(self._columns[k]) // (1 + self._sources.double)

    def evaluate(self, points: Array, q: Array, phi: Array | None = None) -> Array:
        """S q - D phi at any points (m, 3), (m,); on a panel D takes its principal value."""
        return run_to_end(self.evaluating(points, q, phi))

    def evaluating(self, points: Array, q: Array, phi: Array | None = None) -> Progress[Array]:
        """The same in steps."""
        yield Step(0.0, "Evaluating the field")
        points, sources = np.asarray(points, float), self._sources
        if not len(points):
            return np.empty(0)
        place = sources.frame.place(points)
        if place.min() < 0.0 or place.max() > 1.0:
            frame = Frame.around(np.concatenate([self.corners.reshape(-1, 3), points]), self._mirrors)
            sources = yield from subrange(0.0, 0.2, Sources.build(self.corners, self._basis, frame, sources.double))
        frame = sources.frame
        tree = Tree(frame.place(points), occupancy=_POINTS)
        points = points[tree.order]
        passes = Passes(self._basis, sources.tree, tree, far(tree, sources.tree, frame), frame.width)
        with one_thread():
            density, moments = sources.gather(q, None if phi is None else -np.asarray(phi))
            local = passes.run(moments)
        out = np.einsum("ij,ij->i", readings(self._basis, frame, tree, points), local[tree.cell])
        neighbors = Neighbors(points, tree, sources, self._setting.zones, double=phi is not None)
        ends = np.cumsum(neighbors.sizes)
        for a, b in _batches(ends):
            blocks = [
                np.empty((rows.stop - rows.start, size // (rows.stop - rows.start)), np.float32)
                for rows, size in zip(neighbors.rows[a:b], neighbors.sizes[a:b], strict=True)
            ]
            with one_thread():
                columns_each = neighbors.integrate(range(a, b), blocks)
                for rows, block, columns in zip(neighbors.rows[a:b], blocks, columns_each, strict=True):
                    both = columns if phi is None else np.concatenate([columns, columns + self.n])
                    out[rows] += block @ density[both]
            yield Step(0.2 + 0.8 * b / len(ends), "Evaluating the field")
        return _scatter(tree, out.astype(float))


def _batches(ends: Ints) -> Iterator[tuple[int, int]]:
    """Ranges of blocks that end at these entries, each of about as many entries as one step should take."""
    return pairwise(sorted({0, *(int(k) + 1 for k in np.flatnonzero(np.diff(ends // _ENTRIES_A_STEP))), len(ends)}))


def _scatter(tree: Tree, values: Array) -> Array:
    """From the tree's order to the original one."""
    out = np.empty_like(values)
    out[tree.order] = values
    return out
