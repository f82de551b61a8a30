"""What is chosen among equals is the same on every processor: rounding decides nothing."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from addon.engine.geometry.choice import descending, first_least, nearest_to_middle


def noise(seed, count):
    return 1 + np.random.default_rng(seed).uniform(-4, 4, count) * np.finfo(float).eps


@given(st.integers(0, 10_000))
def test_noise_of_rounding_does_not_reorder_equals(seed):
    values = np.array([3.0, 5.0, 3.0, 5.0, 0.0, 3.0])
    assert descending(values * noise(seed, 6)).tolist() == [1, 3, 0, 2, 5, 4]
    assert first_least(np.array([2.0, 1.0, 1.0, 3.0]) * noise(seed, 4)) == 1


@given(st.integers(0, 10_000))
def test_of_a_ring_the_first_point_is_taken(seed):
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    ring = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(16)]) * noise(seed, 16)[:, None] + 0.3
    assert nearest_to_middle(ring, np.ones(16)) == 0


def test_what_truly_differs_is_sorted():
    values = np.random.default_rng(1).normal(size=200)
    assert descending(values).tolist() == np.argsort(-values).tolist()
    assert first_least(values) == values.argmin()
    assert descending(np.zeros(0)).tolist() == []
