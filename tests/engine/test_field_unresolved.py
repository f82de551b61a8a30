"""Panels that their equations give a negative resistance: in liquid there is none (a body's own potential rises with the
current that it takes; Thomson's theorem, classical).
"""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.bem.influence import Influence, Liquid
from addon.engine.field.bem.neighborhoods import Neighborhoods, unresolved
from addon.engine.tank.body import Role

import models
from cells import Bench, Surface


def rough_disk(seed: int) -> models.Model:
    """A ball flattened to a fifth of its panels' width, its corners moved by a tenth: sides that cross and fold."""
    rng = np.random.default_rng(seed)
    points, faces = models.sphere(1.0, 2)
    return points * np.array([1.0, 1.0, 0.04]) + rng.normal(0.0, 0.02, points.shape), faces


def influence_of(model: models.Model) -> Influence:
    return Bench([Surface(model, Role.PART)], Liquid()).cell.influence


def own_resistances(influence: Influence, left: np.ndarray) -> np.ndarray:
    """Diagonal of (share - D)^-1 S over that of S, from products with unit vectors: the whole, not neighborhoods."""
    every, none = np.eye(influence.n), np.zeros(influence.n)
    single = np.stack([influence.apply(unit, none, precise=True) for unit in every], axis=1)
    double = np.stack([influence.apply(none, unit, precise=True) for unit in every], axis=1)
    potential = np.diag(influence.share) + double
    here = np.ix_(left, left)
    return np.diagonal(np.linalg.solve(potential[here], single[here])) / influence.diagonal[left]


@pytest.mark.parametrize("seed", [3, 14, 21, 31])
def test_the_panels_that_are_found_are_those_of_negative_resistance(seed: int) -> None:
    influence = influence_of(rough_disk(seed))
    every = np.ones(influence.n, dtype=bool)
    whole = own_resistances(influence, np.flatnonzero(every))
    found = unresolved(influence, Neighborhoods(influence), every, every)
    assert bool(found) == bool((whole < 0.0).any()), np.sort(whole)[:4]
    if found:
        assert whole[found].min() < 0.0
        rows = np.zeros(influence.n, dtype=bool)
        rows[found] = True
        assert own_resistances(influence.without(rows), np.flatnonzero(~rows)).min() > 0.0


@pytest.mark.parametrize(
    "model", [models.sphere(1.0, 2), models.box((1.0, 0.7, 0.01), (6, 5, 1)), models.cup(10.0, 20.0, 1.0, 16, 2)]
)
def test_balls_cups_and_thin_plates_keep_all_panels(model: models.Model) -> None:
    influence = influence_of(model)
    every = np.ones(influence.n, dtype=bool)
    assert not unresolved(influence, Neighborhoods(influence), every, every)
