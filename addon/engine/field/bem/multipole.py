"""Black-box fast multipole expansions of 1 / (4 pi r): Chebyshev interpolation, compressed.

The kernel between well separated cells is interpolated at p^3 Chebyshev points of each cell, and the
interaction of all 316 offsets projected on the r leading directions of their common range: to one accuracy
there are about as many as solid harmonics, 30 to 90, whatever p is. As 1/r is homogeneous one set of
operators serves all levels, and as it is even those of one octant give the others by mirroring.

Sources: W. Fong and E. Darve, J. Comput. Phys. 228 (2009) 8712 (interpolation and the common basis); M.
Messner et al., arXiv 1210.7292 (symmetries and compression). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import DTypeLike, NDArray

from ...geometry import chebyshev
from .tree import OFFSETS, Far, Tree

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]
F = TypeVar("F", np.float32, np.float64)
Real = NDArray[np.floating[Any]]  # of single or double precision

_OCTANTS = np.array([[k & 1, k >> 1 & 1, k >> 2] for k in range(8)])


class Operators(NamedTuple):
    """What moves coefficients, in one precision: see `Basis`."""

    translate: Real
    shift: Real
    mirror: Real


@dataclass(frozen=True, eq=False)
class Basis:
    """The operators on expansions of cells of unit width.

    order : p, Chebyshev points an axis; rank : r
    read : (p^3, 4 r) from values of the interpolating polynomials at a point to the coefficients of a unit
        source there (r) and of unit dipoles along the three axes, in units of half a cell
    translate : (316, r, r) from a source's coefficients to a target's, 1 / (4 pi r) at unit width
    shift : (8, r, r) from a child's coefficients to its parent's, by octant x + 2 y + 4 z
    mirror : (8, r, r) coefficients of the image, by bits of the mirrored axes
    """

    order: int
    read: Single
    translate: Single
    shift: Single
    mirror: Single

    def operators(self, kind: DTypeLike) -> Operators:
        """Translations, shifts and mirrors in a precision, converted once: they are the same numbers in both."""
        return self._single if np.dtype(kind) == np.float32 else self._doubled

    @cached_property
    def _single(self) -> Operators:
        return Operators(self.translate, self.shift, self.mirror)

    @cached_property
    def _doubled(self) -> Operators:
        return Operators(*(operator.astype(np.float64) for operator in self._single))

    @property
    def rank(self) -> int:
        """Coefficients a cell."""
        return self.read.shape[1] // 4


@lru_cache(maxsize=4)
def basis(order: int, tolerance: float) -> Basis:
    """Operators of p = order points an axis, compressed to a tolerance relative to the largest direction."""
    nodes = chebyshev.nodes(order)
    grid = np.stack(np.meshgrid(nodes, nodes, nodes, indexing="ij"), axis=-1).reshape(-1, 3)
    # the weights of Chebyshev quadrature turn the Euclidean norm into one of functions on the cell
    weight = np.prod(1.0 - grid**2, axis=1) ** 0.25
    first, offset_class = np.unique(np.abs(OFFSETS), axis=0, return_inverse=True)
    apart = [0.5 * (grid[:, None, k] - grid[:, k]) - first[:, k, None, None] for k in range(3)]
    kernel = weight[:, None] * weight / (4 * np.pi * np.sqrt(apart[0] ** 2 + apart[1] ** 2 + apart[2] ** 2))
    images = [np.argmin(((grid * flip)[:, None] - grid) ** 2 @ np.ones(3), axis=1) for flip in 1 - 2 * _OCTANTS]
    gram = np.zeros((len(grid),) * 2)
    for matrix, count in zip(kernel, np.bincount(offset_class), strict=True):
        gram += count * (matrix @ matrix.T)
    gram = np.mean([gram[np.ix_(image, image)] for image in images], axis=0)
    values, vectors = np.linalg.eigh(gram)
    retained = vectors[:, values > tolerance**2 * values[-1]][:, ::-1]
    project, lift = retained / weight[:, None], retained * weight[:, None]  # project.T @ lift = 1
    mirror = np.array([retained[image].T @ retained for image in images])
    octant = ((OFFSETS < 0) @ [1, 2, 4])[:, None, None]
    translate = (retained.T @ kernel @ retained)[offset_class.ravel()]
    for k in range(1, 8):
        of_octant = np.flatnonzero(octant.ravel() == k)
        translate[of_octant] = mirror[k] @ translate[of_octant] @ mirror[k]
    shift = [project.T @ polynomials(order, 0.5 * (grid + 2 * at - 1)).T @ lift for at in _OCTANTS]
    slopes = [_slopes(order, grid, k) @ project for k in range(3)]
    return Basis(
        order,
        np.concatenate([project, *slopes], axis=1).astype(np.float32),
        translate.astype(np.float32),
        np.array(shift, np.float32),
        mirror.astype(np.float32),
    )


def polynomials(order: int, x: Array) -> Single:
    """(n, p^3) values of the nodes' polynomials at x (n, 3), -1 to 1 across the cell."""
    a, b, c = (chebyshev.cardinal(order, x[:, k])[0].T.astype(np.float32) for k in range(3))
    return _product(a, b, c)


def _slopes(order: int, x: Array, axis: int) -> Array:
    """(n, p^3) derivatives of the same along an axis."""
    return _product(*(chebyshev.cardinal(order, x[:, k])[int(k == axis)].T for k in range(3)))


def _product(a: NDArray[F], b: NDArray[F], c: NDArray[F]) -> NDArray[F]:
    """(n, p), (n, p), (n, p) -> (n, p^3)."""
    plane = (a[:, :, None] * b[:, None]).reshape(len(a), -1)
    return (plane[:, :, None] * c[:, None]).reshape(len(a), -1)


class Passes:
    """From the coefficients of a source tree's cells to those of a target tree's: up, across, down."""

    def __init__(self, basis: Basis, sources: Tree, targets: Tree, far: Far, width: float) -> None:
        """width : meters, of the root cell."""
        self._basis = basis
        self._up = _families(sources)
        self._down = _families(targets)[::-1]
        self._scale = (np.exp2(targets.level) / width).astype(np.float32)[:, None]
        count = len(sources.level)
        images, row = np.unique(far.code * count + far.source, return_inverse=True)
        plain = int(np.searchsorted(images, count))
        self._images = [
            (int(flip), images[images // count == flip] % count) for flip in np.unique(images[plain:] // count)
        ]
        row = np.where(far.code == 0, far.source, row.ravel() - plain + count)
        cuts = np.searchsorted(far.offset, np.arange(len(OFFSETS) + 1))
        self._across = [
            (offset, far.target[a:b], row[a:b])
            for offset, (a, b) in enumerate(zip(cuts[:-1], cuts[1:], strict=True))
            if b > a
        ]

    def run(self, moments: Real) -> Real:
        """moments : (cells, r) of what each cell keeps itself, overwritten. Returns (cells, r) at the targets."""
        translate, shift, mirror = self._basis.operators(moments.dtype)
        for octant, child, parent in self._up:
            moments[parent] += moments[child] @ shift[octant].T
        images = [moments[cell] @ mirror[flip].T for flip, cell in self._images]
        with_images = np.concatenate([moments, *images]) if images else moments
        local = np.zeros((len(self._scale), self._basis.rank), moments.dtype)
        for offset, target, row in self._across:
            local[target] += with_images.take(row, axis=0) @ translate[offset].T
        local *= self._scale
        for octant, child, parent in self._down:
            local[child] += local[parent] @ shift[octant]
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
