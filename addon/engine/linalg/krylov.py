"""Iterative solution of linear systems of which only the product is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..progress import Progress, Step

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]
Product = Callable[[Vector], Vector]

ROUNDING = 1e-14  # of a vector's length


@dataclass(frozen=True, eq=False)
class Solution:
    """The result of a solver.

    x : (n,) the solution, the best so far where it did not converge
    residual : |b - A x| / |b|
    iterations : products taken
    converged : whether the residual came under the tolerance
    """

    x: Vector
    residual: float
    iterations: int
    converged: bool


def gmres(
    matrix_vector_product: Product,
    b: Vector,
    *,
    precondition: Product | None = None,
    start: Vector | None = None,
    tolerance: float = 1e-6,
    restart: int = 60,
    max_products: int = 300,
    sentence: str = "Solving",
) -> Progress[Solution]:
    """Solve A x = b by GMRES, preconditioned from the right, so that the residual watched is the true one.

    matrix_vector_product, precondition : A v, and an approximation of the inverse of A times v
    start : (n,) first guess; zero where None
    restart : products between restarts; the memory is (restart + 1) vectors
    Yields a step before each product: a caller may stop there.
    Source: Y. Saad and M. H. Schultz, SIAM J. Sci. Stat. Comput. 7 (1986) 856 (from memory).
    """
    approximate_inverse = precondition or (lambda v: v)
    norm = float(np.linalg.norm(b))
    x = np.zeros_like(b, dtype=float) if start is None or norm == 0.0 else start.astype(float)
    count, first, size = 0, 1.0, 1.0 if norm else 0.0
    residual = b.astype(float)
    while True:
        if x.any():
            yield _step(size, first, tolerance, sentence)
            residual = b - matrix_vector_product(x)
            count += 1
            size = float(np.linalg.norm(residual)) / norm
            first = max(first, size)
        if size <= tolerance or count >= max_products:
            return Solution(x, size, count, size <= tolerance)
        cycle = _Cycle(residual, min(restart, max_products - count))
        while not cycle.is_full:
            yield _step(size, first, tolerance, sentence)
            ended = cycle.extend(matrix_vector_product(approximate_inverse(cycle.last)))
            count += 1
            size = cycle.residual_norm / norm
            if size <= tolerance or ended:
                break
        if cycle.columns:
            x = x + approximate_inverse(cycle.combination())
        if size <= tolerance or count >= max_products or not cycle.is_full:
            return Solution(x, size, count, size <= tolerance)


class _Cycle:
    """Arnoldi's process between two restarts, its Hessenberg matrix made triangular by Givens rotations as it grows."""

    def __init__(self, residual: Vector, products: int) -> None:
        self.columns = 0
        self.residual_norm = float(np.linalg.norm(residual))
        self._basis = np.empty((products + 1, len(residual)))
        self._basis[0] = residual / self.residual_norm
        self._r_factor, self._rhs = np.zeros((products, products)), np.zeros(products + 1)
        self._rhs[0] = self.residual_norm
        self._rotations: list[tuple[float, float]] = []
        self._products = products

    @property
    def is_full(self) -> bool:
        return self.columns == self._products

    @property
    def last(self) -> Vector:
        """The last vector of the orthonormal basis."""
        return self._basis[self.columns]

    def extend(self, image: Vector) -> bool:
        """Add the product of the preconditioned matrix with the last vector. Returns whether the subspace is
        exhausted."""
        k = self.columns
        column, v = _orthogonal(self._basis[: k + 1], image)
        below = float(np.linalg.norm(v))
        whole = float(np.hypot(np.linalg.norm(column), below))
        for i, (c, s) in enumerate(self._rotations):
            column[i : i + 2] = c * column[i] + s * column[i + 1], c * column[i + 1] - s * column[i]
        diagonal = float(np.hypot(column[k], below))
        if diagonal <= ROUNDING * whole:  # singular: this direction adds nothing
            return True
        c, s = column[k] / diagonal, below / diagonal
        self._rotations.append((c, s))
        column[k] = diagonal
        self._r_factor[: k + 1, k] = column
        self._rhs[k : k + 2] = c * self._rhs[k], -s * self._rhs[k]
        self.residual_norm = abs(float(self._rhs[k + 1]))
        self.columns += 1
        if below <= ROUNDING * whole:
            return True
        self._basis[k + 1] = v / below
        return False

    def combination(self) -> Vector:
        """The combination of the basis with the least residual, before the preconditioner."""
        k = self.columns
        y: Vector = np.linalg.solve(self._r_factor[:k, :k], self._rhs[:k])
        return y @ self._basis[:k]


def _orthogonal(basis: Matrix, v: Vector) -> tuple[Vector, Vector]:
    """The components of v along each row of the basis, and the remainder of v."""
    components = basis @ v
    left = v - components @ basis
    again = basis @ left  # a second pass, against the rounding of the first
    return components + again, left - again @ basis


def _step(size: float, first: float, tolerance: float, sentence: str) -> Step:
    """How far the residual has come from the first one to the tolerance, in logarithms."""
    way = np.log(first / max(size, 1e-300)) / max(np.log(first / tolerance), 1e-12)
    return Step(float(np.clip(way, 0.0, 1.0)), sentence)
