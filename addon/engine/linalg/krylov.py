"""Iterative solution of linear systems of which only the product is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..progress import Progress, Step

Vector = NDArray[np.float64]
Product = Callable[[Vector], Vector]

_NOTHING = 1e-14  # of a vector's length: rounding


@dataclass(frozen=True, eq=False)
class Solution:
    """What a solver found.

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
    product: Product,
    b: Vector,
    *,
    precondition: Product | None = None,
    start: Vector | None = None,
    tolerance: float = 1e-6,
    restart: int = 60,
    limit: int = 300,
    sentence: str = "Solving",
) -> Progress[Solution]:
    """Solve A x = b by GMRES, preconditioned from the right, so that the residual watched is the true one.

    product, precondition : A v, and an approximation of the inverse of A times v
    start : (n,) first guess; zero where None
    restart : products between restarts; the memory is (restart + 1) vectors
    Yields a step before each product: a caller may stop there.
    Source: Y. Saad and M. H. Schultz, SIAM J. Sci. Stat. Comput. 7 (1986) 856 (from memory).
    """
    ahead = precondition or (lambda v: v)
    norm = float(np.linalg.norm(b))
    x = np.zeros_like(b, dtype=float) if start is None or norm == 0.0 else start.astype(float)
    count, first, size = 0, 1.0, 1.0 if norm else 0.0
    residual = b.astype(float)
    while True:
        if x.any():
            yield _step(size, first, tolerance, sentence)
            residual = b - product(x)
            count += 1
            size = float(np.linalg.norm(residual)) / norm
            first = max(first, size)
        if size <= tolerance or count >= limit:
            return Solution(x, size, count, size <= tolerance)
        basis, triangle, right = _room(min(restart, limit - count), residual)
        turns: list[tuple[float, float]] = []
        for k in range(len(triangle)):
            yield _step(size, first, tolerance, sentence)
            column, v = _orthogonal(basis[: k + 1], product(ahead(basis[k])))
            below = float(np.linalg.norm(v))
            count += 1
            whole = float(np.hypot(np.linalg.norm(column), below))
            for i, (c, s) in enumerate(turns):
                column[i : i + 2] = c * column[i] + s * column[i + 1], c * column[i + 1] - s * column[i]
            long = float(np.hypot(column[k], below))
            if long <= _NOTHING * whole:  # singular: this direction adds nothing
                break
            c, s = column[k] / long, below / long
            turns.append((c, s))
            column[k] = long
            triangle[: k + 1, k] = column
            right[k : k + 2] = c * right[k], -s * right[k]
            size = abs(float(right[k + 1])) / norm
            if size <= tolerance or below <= _NOTHING * whole:
                break
            basis[k + 1] = v / below
        used = len(turns)
        if used:
            x = x + ahead(np.linalg.solve(triangle[:used, :used], right[:used]) @ basis[:used])
        if size <= tolerance or count >= limit or used < len(triangle):
            return Solution(x, size, count, size <= tolerance)


def _room(products: int, residual: Vector) -> tuple[NDArray[np.float64], NDArray[np.float64], Vector]:
    """Basis with the residual's direction in it, triangular matrix and right-hand side of one cycle."""
    size = float(np.linalg.norm(residual))
    basis = np.empty((products + 1, len(residual)))
    basis[0] = residual / size
    right = np.zeros(products + 1)
    right[0] = size
    return basis, np.zeros((products, products)), right


def _orthogonal(basis: NDArray[np.float64], v: Vector) -> tuple[Vector, Vector]:
    """What v has of each row of the basis, and what is left of v without it."""
    taken = basis @ v
    left = v - taken @ basis
    again = basis @ left  # once more, against the rounding of the first pass
    return taken + again, left - again @ basis


def _step(size: float, first: float, tolerance: float, sentence: str) -> Step:
    """How far the residual has come from the first one to the tolerance, in logarithms."""
    way = np.log(first / max(size, 1e-300)) / max(np.log(first / tolerance), 1e-12)
    return Step(float(np.clip(way, 0.0, 1.0)), sentence)
