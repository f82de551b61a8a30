"""Weighted quantiles against numpy's on values repeated as often as they weigh."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from addon.engine.geometry.quantiles import weighted_quantiles

ITEMS = st.lists(st.tuples(st.integers(-5, 5), st.integers(0, 9)), min_size=1, max_size=40)


@given(items=ITEMS, share=st.sampled_from([0.0, 0.0123, 0.0511, 0.2718, 0.5033, 0.9497, 0.9871, 1.0]))
def test_as_numpy_of_values_repeated_by_weight(items, share):
    """numpy's method `inverted_cdf` (Hyndman and Fan's definition 1), which knows no weights before numpy 2."""
    values, weights = np.array(items, dtype=float).T
    found = weighted_quantiles(values, weights, (share,))[0]
    if not weights.any():
        assert np.isnan(found)
    else:
        assert found == np.quantile(np.repeat(values, weights.astype(int)), share, method="inverted_cdf")


def test_a_face_cut_in_two_changes_nothing_and_numbers_that_are_none_do_not_count():
    values, weights = np.array([3.0, 1.0, 2.0, np.nan]), np.array([1.0, 8.0, 1.0, 50.0])
    assert list(weighted_quantiles(values, weights, (0.5, 0.85, 0.95))) == [1, 2, 3]
    cut = weighted_quantiles(np.repeat(values, 3), np.repeat(weights / 3, 3), (0.5, 0.8, 0.9, 0.95))
    assert list(cut) == list(weighted_quantiles(values, weights, (0.5, 0.8, 0.9, 0.95))) == [1, 1, 2, 3]
