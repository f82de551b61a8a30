"""GMRES on small systems whose solution numpy knows."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.linalg.krylov import gmres
from addon.engine.progress import run_to_end


def system(n: int = 60, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """A matrix that is not symmetric, its rows badly scaled, and a right-hand side."""
    rng = np.random.default_rng(seed)
    matrix = np.eye(n) + 0.5 * rng.normal(size=(n, n)) / np.sqrt(n)
    return matrix * np.exp(rng.uniform(-2, 2, n))[:, None], rng.normal(size=n)


@pytest.mark.parametrize("restart", [80, 10])
def test_agrees_with_a_direct_solution(restart: int) -> None:
    """With and without restarts, the residual it states is the true one and the solution is numpy's."""
    matrix, b = system()
    found = run_to_end(
        gmres(lambda v: matrix @ v, b, precondition=lambda v: v / matrix.diagonal(), tolerance=1e-10, restart=restart)
    )
    assert found.converged
    assert found.residual == pytest.approx(np.linalg.norm(b - matrix @ found.x) / np.linalg.norm(b), rel=0.05)
    assert found.x == pytest.approx(np.linalg.solve(matrix, b), rel=1e-7)


def test_takes_no_more_products_than_unknowns() -> None:
    """In exact arithmetic GMRES ends after n products (Saad and Schultz 1986)."""
    matrix, b = system(12)
    found = run_to_end(gmres(lambda v: matrix @ v, b, tolerance=1e-9))
    assert found.converged
    assert found.iterations <= 12


def test_a_perfect_preconditioner_takes_one_product() -> None:
    matrix, b = system()
    inverse = np.linalg.inv(matrix)
    assert run_to_end(gmres(lambda v: matrix @ v, b, precondition=lambda v: inverse @ v)).iterations == 1


def test_a_good_start_is_used() -> None:
    """From the solution itself it only checks; from nearby it needs less than from nothing."""
    matrix, b = system()
    solution = np.linalg.solve(matrix, b)
    cold = run_to_end(gmres(lambda v: matrix @ v, b))
    assert run_to_end(gmres(lambda v: matrix @ v, b, start=solution)).iterations == 1
    assert run_to_end(gmres(lambda v: matrix @ v, b, start=1.001 * solution)).iterations < cold.iterations


def test_stops_at_its_limit_and_says_so() -> None:
    matrix, b = system()
    found = run_to_end(gmres(lambda v: matrix @ v, b, tolerance=1e-12, max_products=5))
    assert (found.iterations, found.converged) == (5, False)
    assert 1e-12 < found.residual < 1.0


def test_zero_needs_no_product() -> None:
    found = run_to_end(gmres(lambda v: v, np.zeros(4)))
    assert (found.iterations, found.converged) == (0, True)
    assert not found.x.any()


def test_a_singular_system_ends() -> None:
    """Where b is out of reach the iteration ends, and says that it did not converge."""
    matrix = np.diag([1.0, 1.0, 0.0])
    found = run_to_end(gmres(lambda v: matrix @ v, np.ones(3), max_products=20))
    assert not found.converged
    assert found.residual == pytest.approx(np.sqrt(1 / 3), rel=1e-6)


def test_steps_come_before_each_product_and_go_forwards() -> None:
    """The caller can stop at any step; the fraction follows the residual's logarithm."""
    matrix, b = system()
    products = 0

    def product(v: np.ndarray) -> np.ndarray:
        nonlocal products
        products += 1
        return matrix @ v

    fractions = []
    for step in gmres(product, b, tolerance=1e-8):
        fractions.append(step.fraction)
        assert products == len(fractions) - 1
    assert fractions == sorted(fractions)
    assert 0.0 <= fractions[0] < 0.1
    assert 0.8 < fractions[-1] <= 1.0
