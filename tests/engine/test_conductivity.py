"""The bath's conductivity from two plates."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.reporting.finding_text import texts
from addon.engine.settings import conductivity
from addon.engine.errors import InputError

AREA, GAP, KAPPA = 25e-4, 0.03, 24.0
OHM = GAP / (KAPPA * AREA)


def test_slope_leaves_polarization_out():
    """Readings made as U = 0.21 V + I R give kappa exactly, and 0.21 V at no current."""
    currents = np.array([0.2, 0.5, 1.0])
    found = conductivity.measured(AREA, GAP, currents, 0.21 + OHM * currents)
    assert found.value == pytest.approx(KAPPA)
    assert found.offset == pytest.approx(0.21)
    assert not texts(found.findings)


def test_uncertainty_covers_the_scatter():
    """With readings off by 1 % at random, the value lies within two standard deviations nineteen times of twenty."""
    random, currents = np.random.default_rng(3), np.array([0.2, 0.4, 0.7, 1.0])
    inside = 0
    for _ in range(400):
        area, gap = AREA * (1 + 0.02 * random.normal()), GAP * (1 + 0.02 * random.normal())
        voltages = (0.2 + OHM * currents) * (1 + 0.01 * random.normal(size=4))
        found = conductivity.measured(area, gap, currents, voltages)
        inside += abs(found.value - KAPPA) < 2 * found.uncertainty
    assert inside > 0.9 * 400


def test_two_settings_do():
    """The least that gives a slope; the meter's own reading sets the uncertainty then."""
    found = conductivity.measured(AREA, GAP, [0.5, 1.0], [0.2 + OHM * 0.5, 0.2 + OHM * 1.0])
    assert found.value == pytest.approx(KAPPA)
    assert 0.03 < found.uncertainty / found.value < 0.15


@pytest.mark.parametrize(
    ("area", "gap", "currents", "voltages", "word"),
    [
        (AREA, GAP, [0.5], [0.7], "two settings"),
        (AREA, GAP, [0.5, 0.501], [0.7, 0.7], "clearly apart"),
        (AREA, GAP, [0.5, 1.0], [0.7], "one of each"),
        (AREA, GAP, [0.5, 1.0], [0.9, 0.7], "does not rise"),
        (0.0, GAP, [0.5, 1.0], [0.7, 0.9], "above zero"),
        (AREA, GAP, [0.5, float("nan")], [0.7, 0.9], "finite"),
    ],
)
def test_readings_without_a_slope(area, gap, currents, voltages, word):
    """One line that says what to read."""
    with pytest.raises(InputError, match=word) as fault:
        conductivity.measured(area, gap, currents, voltages)
    assert "\n" not in str(fault.value)


def test_plates_too_far_apart_are_warned_of():
    """Between free plates further apart than wide the current bulges."""
    found = conductivity.measured(1e-4, 0.05, [0.1, 0.2], [0.5, 0.8])
    assert any("bulges" in warning for warning in texts(found.findings))
