"""Panels as sources: sorted into cells, and expanded there."""

from __future__ import annotations

import numpy as np
from numpy.typing import DTypeLike, NDArray

from ...progress import Progress, Step
from .multipole import Basis, Real, polynomials
from .quadrature import Panels
from .tree import Frame, Tree

Array = NDArray[np.float64]
Single = NDArray[np.float32]

CELL_WIDTH_IN_REACHES = 3.0  # a cell is at least so many reaches of the panels it keeps wide
MAX_CELL_PANELS = 50  # before it is split
PANELS_PER_BATCH = 2000


class Sources:
    """Panels in the order of their tree, with their coefficients as sources.

    coefficients : (1 or 2, n, r) of the single and the double layer of each panel, in the cell that keeps it
    """

    def __init__(self, corners: Array, basis: Basis, frame: Frame, double: bool) -> None:
        self.frame, self.double, self.tree = frame, double, sources_tree(corners, frame)
        self.panels = Panels.of(corners[self.tree.order])
        self.coefficients = np.empty((1 + double, len(corners), basis.rank), np.float32)

    @classmethod
    def build(cls, corners: Array, basis: Basis, frame: Frame, double: bool) -> Progress[Sources]:
        """Sort and expand the panels."""
        sources = cls(corners, basis, frame, double)
        panels, tree, r = sources.panels, sources.tree, basis.rank
        for start in range(0, len(corners), PANELS_PER_BATCH):
            if start % (10 * PANELS_PER_BATCH) == 0:
                yield Step(start / len(corners), "Expanding the panels")
            part = slice(start, start + PANELS_PER_BATCH)
            weight = (panels.area[part, None] / len(panels.three)).astype(np.float32)
            values = sum(
                polynomials(basis.order, tree.inside(frame.place(points[part]), part)) for points in panels.three
            )
            read = (values * weight) @ basis.read[:, : r * (4 if double else 1)]
            sources.coefficients[0, part] = read[:, :r]
            if double:
                turned = panels.normal[part] @ frame.axes.T * (2.0 / frame.width)
                turned *= np.exp2(tree.level[tree.cell[part]])[:, None]
                np.einsum(
                    "nkr,nk->nr",
                    read[:, r:].reshape(-1, 3, r),
                    turned.astype(np.float32),
                    out=sources.coefficients[1, part],
                )
        return sources

    def gather(self, charge: Array | None, dipole: Array | None, kind: DTypeLike = np.float32) -> tuple[Real, Real]:
        """Densities in tree order, charges and then dipoles (n or 2 n,), and what each cell keeps (cells, r)."""
        tree, n = self.tree, len(self.tree.order)
        layers = 1 if dipole is None else 2
        density = np.zeros(layers * n, kind)
        moments = np.zeros((len(tree.level), self.coefficients.shape[2]), kind)
        keepers = np.flatnonzero(tree.own > tree.start)
        for k, values in enumerate((charge, dipole)):
            if values is None:
                continue
            sorted_density = density[k * n : (k + 1) * n]
            sorted_density[:] = np.asarray(values)[tree.order]
            for cell, a, b in zip(keepers, tree.start[keepers], tree.own[keepers], strict=True):
                moments[cell] += sorted_density[a:b] @ self.coefficients[k, a:b]
        return density, moments


def sources_tree(corners: Array, frame: Frame) -> Tree:
    """Panels in cells that are wide against them."""
    reach = np.sqrt(((corners - corners.mean(axis=1)[:, None]) ** 2).sum(axis=2)).max(axis=1)
    deepest = np.floor(-np.log2(CELL_WIDTH_IN_REACHES * reach / frame.width)).astype(np.int64)
    return Tree(frame.place(corners.mean(axis=1)), deepest=np.maximum(deepest, 0), occupancy=MAX_CELL_PANELS)


def readings(basis: Basis, frame: Frame, tree: Tree, points: Array) -> Single:
    """(m, r), which read the field at points (m, 3), in the order of their tree, from their cells' coefficients."""
    out = np.empty((len(points), basis.rank), np.float32)
    for start in range(0, len(points), PANELS_PER_BATCH):
        part = slice(start, start + PANELS_PER_BATCH)
        inside = tree.inside(frame.place(points[part]), part)
        out[part] = polynomials(basis.order, inside) @ basis.read[:, : basis.rank]
    return out
