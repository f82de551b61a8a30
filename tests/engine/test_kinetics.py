"""Overpotential laws: inverses, slopes and handbook slopes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from addon.engine.settings.job import read_job
from addon.engine.chemistry.kinetics import ButlerVolmer, Linear, Tafel, density_behind, law, laws
from addon.engine.settings.bath import Kinetics

J = np.concatenate([-np.geomspace(1e3, 1e-3, 25), np.geomspace(1e-3, 1e4, 29)])


@pytest.mark.parametrize(
    "some", [Linear(1.28e-3), Tafel(10.0, 0.0514), ButlerVolmer(1.0, 0.0514, 0.0171), ButlerVolmer(1.0, 0.0171, 0.3)]
)
def test_density_undoes_overpotential(some):
    """j(eta(j)) = j over seven decades and both signs."""
    np.testing.assert_allclose(some.density(some.overpotential(J)), J, rtol=1e-9)


@pytest.mark.parametrize("some", [Linear(1.28e-3), Tafel(10.0, 0.0514), ButlerVolmer(10.0, 0.0514, 0.0171)])
def test_resistance_is_the_slope(some):
    """d eta / dj by central differences, whose own error is the square of the step."""
    step = 1e-4 * np.abs(J)
    slope = (some.overpotential(J + step) - some.overpotential(J - step)) / (2.0 * step)
    np.testing.assert_allclose(some.resistance(J), slope, rtol=1e-6)


@pytest.mark.parametrize(
    "some", [Tafel(1.0, 0.0514), ButlerVolmer(1.0, 0.0514, 0.0171), ButlerVolmer(1.0, 0.0171, 0.3)]
)
@pytest.mark.parametrize("resistance", [1e-7, 3e-4, 1.0])
def test_density_behind_a_resistance(some, resistance):
    """j with eta(j) + r j = V over seven decades and both signs: what drops on both, put in again, gives j back."""
    volts = some.overpotential(J) + resistance * J
    found = density_behind(some, volts, np.full(len(J), resistance))
    np.testing.assert_allclose(some.overpotential(found) + resistance * found, volts, rtol=1e-9)


def test_tafel_is_odd_and_nears_its_line():
    """eta(-j) = -eta(j); at j = 20 i0 within 0.3 % of a slope of b ln(j / i0)."""
    some = Tafel(10.0, 0.0514)
    np.testing.assert_allclose(some.overpotential(-J), -some.overpotential(J))
    assert abs(some.overpotential(np.array(200.0)) - 0.0514 * np.log(20.0)) < 0.003 * 0.0514


def test_butler_volmer_against_root_finding():
    """j = i0 (exp(aC F eta / RT) - exp(-aA F eta / RT)) with copper's aC 0.5 and aA 1.5 (J. Newman and K. E.
    Thomas-Alyea, Electrochemical Systems, 2004; from memory), its inverse by scipy's bracketing root finder."""
    some = law(Kinetics("butler-volmer", exchange=10.0, transfer=0.5, anodic=1.5), 298.15)
    unit = 8.314462618 * 298.15 / 96485.33212
    for j in (-900.0, -20.0, -1e-4, 3e-3, 5.0, 400.0):
        root = brentq(
            lambda e, j=j: 10.0 * (np.exp(0.5 * e / unit) - np.exp(-1.5 * e / unit)) - j, -1.0, 1.0, xtol=1e-15
        )
        assert float(some.overpotential(np.array(j))) == pytest.approx(root, rel=1e-9)


def test_butler_volmer_at_its_ends():
    """At rest R T / ((aA + aC) F i0); far out either Tafel line; with equal branches the law that Tafel's kind has."""
    some, unit = ButlerVolmer(10.0, 0.0514, 0.0171), 10.0 * (1 / 0.0514 + 1 / 0.0171)
    assert float(some.resistance(np.array(0.0))) == pytest.approx(1.0 / unit)
    assert float(some.overpotential(np.array(5e3))) == pytest.approx(0.0514 * np.log(500.0), rel=1e-6)
    assert float(some.overpotential(np.array(-5e3))) == pytest.approx(-0.0171 * np.log(500.0), rel=1e-4)
    np.testing.assert_allclose(ButlerVolmer(3.0, 0.05, 0.05).overpotential(J), Tafel(3.0, 0.05).overpotential(J))


def test_slope_of_copper_at_25_degrees():
    """R T / (0.5 F) = 51.39 mV an e-fold, 118.3 mV a decade (computed from the SI's constants)."""
    some = law(Kinetics("tafel", transfer=0.5), 298.15)
    assert isinstance(some, Tafel)
    assert some.slope == pytest.approx(51.39e-3, rel=1e-4)
    assert some.slope * np.log(10.0) == pytest.approx(118.3e-3, rel=1e-3)


def test_polarization_length():
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


def test_both_electrodes_of_a_job():
    """Anodes have no overpotential unless the job gives them a law; a law left without its kind is Tafel's."""
    assert laws(read_job({}).bath)[1] == Linear(0.0)
    given = {"anode_kinetics": {"kind": "linear", "resistance_ohm_m2": 3e-4}}
    assert laws(read_job({"bath": given}).bath)[1] == Linear(3e-4)
    assert isinstance(laws(read_job({"bath": {"anode_kinetics": {"transfer": 1.5}}}).bath)[1], Tafel)
