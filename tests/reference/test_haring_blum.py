"""The Haring-Blum cell: two cathodes, one five times as far from the anode as the other."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.bem.influence import Liquid
from addon.engine.chemistry.kinetics import Linear
from addon.engine.tank.body import Role

import models
from cells import Bench, Surface

KAPPA = 25.0


@pytest.fixture(scope="module")
def cell() -> Bench:
    """Cathodes at x = 0 and 6, a perforated anode (a sheet) across the cell at x = 1; insulating sides."""
    flat, faces = models.plate((1, 1), (4, 4))
    side = np.insert(flat[:, :2], 0, 0.0, axis=1)
    roles = [(0.0, Role.PART), (6.0, Role.PART), (1.0, Role.ANODE)]
    surfaces = [Surface((side + (x, 0.0, 0.0), faces), role, True) for x, role in roles]
    return Bench(surfaces, Liquid(box=np.array([[0.0, 0.0, 0.0], [6.0, 1.0, 1.0]])))


@pytest.mark.parametrize(
    ("wagner", "ratio", "haring", "field", "heatley"),
    [
        (0.1, 4.636, 7.3, 4.8, 9.1),
        (0.5, 3.667, 26.7, 20.0, 33.3),
        (1.0, 3.0, 40.0, 33.3, 50.0),
        (2.0, 2.333, 53.3, 50.0, 66.7),
        (10.0, 1.364, 72.7, 83.3, 90.9),
    ],
)
def test_throwing_power(cell, wagner, ratio, haring, field, heatley):
    """near / far = (K + Wa) / (1 + Wa), Wa = kappa rho / x near, K = 5: two parallel paths (derived). Throwing power by
    Haring and Blum, Trans. Am. Electrochem. Soc. 44 (1923) 313: 100 (K - C) / K; by Field: 100 (K - C) / (K + C - 2);
    by Heatley: 100 (K - C) / (K - 1) (the last two from memory). Tolerance: 2 % of the ratio, and what it becomes."""
    state = cell.solved(Linear(wagner / KAPPA), voltage=1.0)
    c, k = cell.mean(state, 0) / cell.mean(state, 1), 5.0
    assert c == pytest.approx(ratio, rel=0.005)
    assert 100.0 * (k - c) / k == pytest.approx(haring, abs=0.5)
    assert 100.0 * (k - c) / (k + c - 2.0) == pytest.approx(field, abs=0.5)
    assert 100.0 * (k - c) / (k - 1.0) == pytest.approx(heatley, abs=0.6)
