"""Overpotential laws: inverses, slopes and handbook slopes."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.kinetics import Linear, Tafel, law
from addon.engine.sections import Kinetics

J = np.concatenate([-np.geomspace(1e3, 1e-3, 25), np.geomspace(1e-3, 1e4, 29)])


@pytest.mark.parametrize("some", [Linear(1.28e-3), Tafel(10.0, 0.0514), Tafel(1.0, 0.03)])
def test_density_undoes_overpotential(some):
    """j(eta(j)) = j over seven decades and both signs."""
    np.testing.assert_allclose(some.density(some.overpotential(J)), J, rtol=1e-9)


@pytest.mark.parametrize("some", [Linear(1.28e-3), Tafel(10.0, 0.0514)])
def test_resistance_is_the_slope(some):
    """d eta / dj by central differences, whose own error is the square of the step."""
    step = 1e-4 * np.abs(J)
    slope = (some.overpotential(J + step) - some.overpotential(J - step)) / (2.0 * step)
    np.testing.assert_allclose(some.resistance(J), slope, rtol=1e-6)


def test_tafel_is_odd_and_nears_its_line():
    """eta(-j) = -eta(j); at j = 20 i0 within 0.3 % of a slope of b ln(j / i0)."""
    some = Tafel(10.0, 0.0514)
    np.testing.assert_allclose(some.overpotential(-J), -some.overpotential(J))
    assert abs(some.overpotential(np.array(200.0)) - 0.0514 * np.log(20.0)) < 0.003 * 0.0514


def test_slope_of_copper_at_25_degrees():
    """R T / (0.5 F) = 51.39 mV an e-fold, 118.3 mV a decade (computed from the SI's constants)."""
    some = law(Kinetics("tafel", transfer=0.5), 298.15)
    assert isinstance(some, Tafel)
    assert some.slope == pytest.approx(51.39e-3, rel=1e-4)
    assert some.slope * np.log(10.0) == pytest.approx(118.3e-3, rel=1e-3)


def test_polarisation_length():
    """kappa d eta / dj = 12.8 mm at 1 A/dm2 and 6.4 mm at 2, kappa 25 S/m, alpha 0.5 (computed): what plates evenly."""
    some = law(Kinetics("tafel", exchange=1.0, transfer=0.5), 298.15)
    lengths = 25.0 * some.resistance(np.array([100.0, 200.0]))
    np.testing.assert_allclose(lengths, [12.8e-3, 6.4e-3], rtol=0.005)


def test_kinds_of_a_job():
    """ "none" has no overpotential; "linear" its resistance."""
    assert law(Kinetics("none"), 298.15).overpotential(np.array(500.0)) == 0.0
    assert law(Kinetics("linear", resistance=2e-3), 298.15).overpotential(np.array(500.0)) == 1.0
    with pytest.raises(ZeroDivisionError):
        law(Kinetics("none"), 298.15).density(np.array(0.1))
