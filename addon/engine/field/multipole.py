"""Black-box fast multipole expansions of 1 / (4 pi r): Chebyshev interpolation, compressed.

The kernel between well separated cells is interpolated at p^3 Chebyshev points of each cell, and the
interaction of all 316 offsets projected on the r leading directions of their common range: to one accuracy
there are about as many as solid harmonics, 30 to 90, whatever p is. As 1/r is homogeneous one set of
operators serves all levels.

Sources: W. Fong and E. Darve, J. Comput. Phys. 228 (2009) 8712 (interpolation and the common basis); M.
Messner et al., arXiv 1210.7292 (variants of the compression). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .tree import OFFSETS, Far, Tree

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Basis:
    """The operators on expansions of cells of unit width.

    order : p, Chebyshev points an axis; rank : r
    project : (p^3, r) from values of the interpolating polynomials to coefficients
    translate : (316, r, r) from a source's coefficients to a target's, 1 / (4 pi r) at unit width
    shift : (8, r, r) from a child's coefficients to its parent's, by octant x + 2 y + 4 z
    mirror : (8, r, r) coefficients of the image, by bits of the mirrored axes
    """

    order: int
    project: Array
    translate: Single
    shift: Single
    mirror: Single

    @property
    def rank(self) -> int:
        """Coefficients a cell."""
        return self.project.shape[1]


@lru_cache(maxsize=4)
def basis(order: int, tolerance: float, aspect: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> Basis:
    """Operators of p = order points an axis, compressed to a tolerance relative to the largest direction.

    aspect : the cells' widths along the three axes, mean 1
    """
    nodes = _nodes(order)
    grid = _grid(nodes)
    # the weights of Chebyshev quadrature turn the Euclidean norm into one of functions on the cell
    weight = np.prod(1.0 - grid**2, axis=1) ** 0.25
    cell = 0.5 * grid * aspect
    apart = cell[None, :, None] - (cell[None] + (OFFSETS * np.array(aspect))[:, None])[:, None]
    kernel = weight[:, None] * weight / (4 * np.pi * np.sqrt(np.einsum("oabk,oabk->oab", apart, apart)))
    flat = kernel.transpose(1, 0, 2).reshape(len(grid), -1)
    values, vectors = np.linalg.eigh(flat @ flat.T)
    kept = vectors[:, values > tolerance**2 * values[-1]][:, ::-1]
    project = kept / weight[:, None]
    lift = kept * weight[:, None]  # project.T @ lift = 1
    translate = np.einsum("ai,oab,bj->oij", kept, kernel, kept, optimize=True)
    octants = np.array([[k & 1, k >> 1 & 1, k >> 2] for k in range(8)])
    shift = [project.T @ _interpolation(order, 0.5 * (grid + 2 * octant - 1)).T @ lift for octant in octants]
    mirror = [project.T @ _interpolation(order, grid * (1 - 2 * octant)).T @ lift for octant in octants]
    single = np.float32
    return Basis(
        order, project, translate.astype(single), np.array(shift, single), np.array(mirror, single)
    )


def _nodes(order: int) -> Array:
    return np.cos((2 * np.arange(order) + 1) * np.pi / (2 * order))


def _grid(nodes: Array) -> Array:
    return np.stack(np.meshgrid(nodes, nodes, nodes, indexing="ij"), axis=-1).reshape(-1, 3)


@lru_cache(maxsize=8)
def _monomials(order: int) -> tuple[Array, Array]:
    """Coefficients, lowest power first, of the p Lagrange polynomials of the nodes, and of their slopes."""
    rows = np.linalg.inv(np.vander(_nodes(order), order, increasing=True))
    slope = np.zeros_like(rows)
    slope[:-1] = rows[1:] * np.arange(1, order)[:, None]
    return rows, slope


def _axis(order: int, x: Array, slope: bool = False) -> Array:
    """(..., p) the nodes' Lagrange polynomials, or their slopes, at x (...)."""
    powers = x[..., None] ** np.arange(order)
    return powers @ _monomials(order)[int(slope)]


def _product(a: Array, b: Array, c: Array) -> Array:
    """(n, p), (n, p), (n, p) -> (n, p^3)."""
    return ((a[:, :, None] * b[:, None])[..., None] * c[:, None, None]).reshape(len(a), -1)


def _interpolation(order: int, x: Array) -> Array:
    """(n, p^3) values of the nodes' polynomials at x (n, 3) in [-1, 1]."""
    return _product(*(_axis(order, x[:, k]) for k in range(3)))


def values(basis: Basis, x: Array) -> Single:
    """(n, r) coefficients of a unit source at x (n, 3) in [-1, 1]; also what reads the field there."""
    return (_interpolation(basis.order, x) @ basis.project).astype(np.float32)


def slopes(basis: Basis, x: Array, direction: Array) -> Single:
    """(n, r) coefficients of a unit dipole at x (n, 3), the direction (n, 3) in the units of x."""
    along = [_axis(basis.order, x[:, k]) for k in range(3)]
    total = np.zeros((len(x), basis.order**3))
    for k in range(3):
        turned = along.copy()
        turned[k] = _axis(basis.order, x[:, k], slope=True) * direction[:, k : k + 1]
        total += _product(*turned)
    return (total @ basis.project).astype(np.float32)


class Passes:
    """From the coefficients of a source tree's cells to those of a target tree's: up, across, down."""

    def __init__(self, basis: Basis, sources: Tree, targets: Tree, far: Far, unit: float) -> None:
        """unit : metres, the root cell's mean width."""
        self._basis = basis
        self._up = list(_families(sources))
        self._down = list(_families(targets))[::-1]
        self._scale = (np.exp2(targets.level) / unit).astype(np.float32)[:, None]
        count = len(sources.level)
        mirrored, row = np.unique(far.flip * count + far.source, return_inverse=True)
        plain = np.searchsorted(mirrored, count)
        self._mirrored = [
            (flip, mirrored[mirrored // count == flip] % count) for flip in np.unique(mirrored[plain:] // count)
        ]
        row = np.where(far.flip == 0, far.source, row - plain + count)
        cuts = np.searchsorted(far.offset, np.arange(len(OFFSETS) + 1))
        self._across = [
            (offset, far.target[a:b], row[a:b])
            for offset, (a, b) in enumerate(zip(cuts[:-1], cuts[1:], strict=True))
            if b > a
        ]

    def run(self, source: Single) -> Single:
        """source : (cells, r) of what each cell keeps itself, overwritten. Returns (cells, r) at the targets."""
        for octant, child, parent in self._up:
            source[parent] += source[child] @ self._basis.shift[octant].T
        images = [source[cell] @ self._basis.mirror[flip].T for flip, cell in self._mirrored]
        everything = np.concatenate([source, *images]) if images else source
        local = np.zeros((len(self._scale), self._basis.rank), np.float32)
        for offset, target, row in self._across:
            local[target] += everything[row] @ self._basis.translate[offset].T
        local *= self._scale
        for octant, child, parent in self._down:
            local[child] += local[parent] @ self._basis.shift[octant]
        return local


def _families(tree: Tree) -> list[tuple[int, Ints, Ints]]:
    """Children and parents by octant, deepest level first; within one entry no parent comes twice."""
    rows = []
    for level in range(tree.depth - 1, 0, -1):
        part = tree.cells(level)
        octant = (tree.at[part] & 1) @ np.array([1, 2, 4])
        for k in np.unique(octant):
            child = part.start + np.flatnonzero(octant == k)
            rows.append((int(k), child, tree.parent[child]))
    return rows
