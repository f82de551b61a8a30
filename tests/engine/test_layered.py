"""The direct solver of sparse systems in layers."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.linalg.layered import MIN_LAYER_POINTS, Layers
from addon.engine.linalg.sparse import added


@pytest.mark.parametrize(("wide", "high", "lone"), [(1, 1, 0), (30, 4, 0), (17, 23, 5), (90, 1, 2)])
def test_a_system_in_layers_is_solved_as_a_dense_one(wide, high, lone):
    """LAPACK's dense solution: conductances on grids, shuffled, in two pieces and lone points, entries given twice."""
    random = np.random.default_rng(wide)
    place = np.arange(wide * high).reshape(high, wide)
    pairs = [(place[:, :-1], place[:, 1:]), (place[:-1], place[1:]), (place[:-1, :-1], place[1:, 1:])]
    low, far = (np.concatenate([pair[end].ravel() for pair in pairs]) for end in (0, 1))
    low, far = np.append(low, low + wide * high), np.append(far, far + wide * high)
    count = 2 * wide * high + lone
    shuffled = random.permutation(count)
    low, far, every = shuffled[low], shuffled[far], np.arange(count)
    weight = random.uniform(0.1, 10.0, len(low))
    ground = random.uniform(0.0, 0.1, count) + (every == shuffled[0]) + 0.01
    degree = added(low, weight, count) + added(far, weight, count)
    row, column = np.concatenate([every, every, low, far]), np.concatenate([every, every, far, low])
    value = np.concatenate([degree, ground, -weight, -0.9 * weight])  # a little unsymmetric
    dense = np.zeros((count, count))
    np.add.at(dense, (row, column), value)
    layers = Layers.of(row, column, count)
    assert sorted(layers.order) == list(every)
    right = random.normal(size=count)
    np.testing.assert_allclose(layers.eliminated(value)(right), np.linalg.solve(dense, right), rtol=1e-9, atol=1e-9)
    assert len(layers.starts) - 1 <= count // MIN_LAYER_POINTS + 1  # thin layers are put together
