"""Iterative solution of linear systems of which only the product is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .steps import Step, Steps

Vector = NDArray[np.float64]
Product = Callable[[Vector], Vector]


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
) -> Steps[Solution]:
    """Solve A x = b by GMRES, preconditioned from the right, so that the residual watched is the true one.

    product, precondition : A v, and an approximation of the inverse of A times v
    start : (n,) first guess; zero where None
    restart : products between restarts; the memory is (restart + 1) vectors
    Yields a step before each product: a caller may stop there.
    Source: Y. Saad and M. H. Schultz, SIAM J. Sci. Stat. Comput. 7 (1986) 856 (from memory).
    """
    ahead = precondition or (lambda v: v)
    x = np.zeros_like(b) if start is None else start.astype(float)
    norm = float(np.linalg.norm(b))
    if norm == 0.0:
        return Solution(np.zeros_like(b), 0.0, 0, True)
    count, first, size = 0, 1.0, 1.0
    residual = b
    while True:
        if count or start is not None:
            yield _step(size, first, tolerance, sentence)
            residual = b - product(x)
            count += 1
        beta = float(np.linalg.norm(residual))
        size = beta / norm
        first = max(first, size) if count <= 1 else first
        if size <= tolerance or count >= limit:
            return Solution(x, size, count, size <= tolerance)
        room = min(restart, limit - count)
        basis = np.empty((room + 1, len(b)))
        basis[0] = residual / beta
        triangle = np.zeros((room, room))
        turns = np.empty((room, 2))
        right = np.zeros(room + 1)
        right[0] = beta
        used = 0
        for k in range(room):
            yield _step(size, first, tolerance, sentence)
            v = product(ahead(basis[k]))
            count += 1
            column = basis[: k + 1] @ v
            v -= column @ basis[: k + 1]
            again = basis[: k + 1] @ v  # once more, against the rounding of the first pass
            v -= again @ basis[: k + 1]
            column += again
            for i in range(k):
                c, s = turns[i]
                column[i], column[i + 1] = c * column[i] + s * column[i + 1], c * column[i + 1] - s * column[i]
            below = float(np.linalg.norm(v))
            long = float(np.hypot(column[k], below))
            if long == 0.0:
                break
            turns[k] = column[k] / long, below / long
            column[k] = long
            triangle[: k + 1, k] = column
            right[k + 1] = -turns[k, 1] * right[k]
            right[k] *= turns[k, 0]
            used, size = k + 1, abs(right[k + 1]) / norm
            if size <= tolerance or below == 0.0:
                break
            basis[k + 1] = v / below
        if used == 0:
            return Solution(x, size, count, False)
        weights = np.linalg.solve(triangle[:used, :used], right[:used])
        x = x + ahead(weights @ basis[:used])
        if count >= limit or size <= tolerance:
            return Solution(x, size, count, size <= tolerance)


def _step(size: float, first: float, tolerance: float, sentence: str) -> Step:
    """How far the residual has come from the first one to the tolerance, in logarithms."""
    way = np.log(first / max(size, 1e-300)) / max(np.log(first / tolerance), 1e-12)
    return Step(float(np.clip(way, 0.0, 1.0)), f"{sentence}: residual {size:.0e}")
