"""Ten jobs at random, of the two hundred of tests/bench/bench_random_jobs.py."""

from __future__ import annotations

import pytest

import random_jobs

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("coarse_coat")]

MAX_STEPS, MAX_PRODUCTS = 15, 200  # of the finer level; the bench's table has the most that was met


@pytest.mark.parametrize("number", range(10))
def test_a_random_job_ends_and_keeps_its_current(number):
    """Any coat, density, bath, tank and supply: the equations are met, what leaves the anodes arrives (Kirchhoff)."""
    found = random_jobs.outcome(random_jobs.make(number), refine=False)
    assert found.ending in ("converged", "held draw", "held voltage", "coat-too-poor")
    assert found.residual <= 1e-7 and found.balance <= 1e-6
    assert found.steps <= MAX_STEPS and found.products <= MAX_PRODUCTS
