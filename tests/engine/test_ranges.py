"""Ranges hold what a finer or another solution says, and are no wider than what was varied can make them."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.chemistry import kinetics
from addon.engine.field import ranges, solve
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job

import models

pytestmark = pytest.mark.slow

MM = 1e-3
CUP = run_to_end(inspection.inspect(models.part(models.moved(models.cup(15, 25, 2, 24, 3), scale=MM))))


def solved(panels: int, **bath):
    job = read_job({"effort": {"panels": panels}, "tank": {"size_mm": [190, 130, 140], "level_mm": 100}, "bath": bath})
    return job, run_to_end(solve.run(CUP, job))


@pytest.fixture(scope="module")
def central():
    job, found = solved(1200)
    return found, run_to_end(ranges.run(CUP, job, found))


def test_every_range_holds_its_figure(central):
    found, spans = central
    for key, value in ranges.figures(found).items():
        low, high = spans.get(key)
        assert low <= value <= high, key
    assert spans.get("field.thickness_um.min")[1] > 1.1 * found.thickness_spread.min * 1e6  # and is one


@pytest.mark.parametrize(("conducts", "transfer"), [(0.85, 0.6), (1.15, 0.4), (1.1, 0.65), (0.9, 0.37)])
def test_another_bath_lies_inside(central, conducts, transfer):
    """Baths within what is varied, 18 S/m and a transfer coefficient of 0.5 being the usual one, on their own panels."""
    law = {"kind": "tafel", "exchange_A_m2": 1.0, "transfer": transfer}
    _, other = solved(1200, conductivity_S_m=18 * conducts, kinetics=law)
    inside(other, central[1])


def test_a_refined_solution_lies_inside(central):
    inside(solved(3000)[1], central[1])


def inside(other, spans):
    for key, value in ranges.figures(other).items():
        low, high = spans.get(key)
        if "area" not in key and "time" not in key:
            assert low * (1 - 1e-3) <= value <= high * (1 + 1e-3), key


def test_a_scaled_law_is_the_law_of_the_scaled_coefficient():
    """Of Tafel and of Butler and Volmer's law, by the section's own transfer coefficient; a linear one by its slope."""
    j = np.array([1.0, 30.0, 400.0])
    for kind in ("tafel", "butler-volmer"):
        one, other = (
            kinetics.law(read_job({"bath": {"kinetics": {"kind": kind, "transfer": a}}}).bath.kinetics, 298.15)
            for a in (0.5, 0.35)
        )
        assert kinetics.scaled(one, 0.7).overpotential(j) == pytest.approx(other.overpotential(j), rel=1e-9)
    assert kinetics.scaled(kinetics.Linear(2e-3), 0.5).overpotential(j) == pytest.approx(4e-3 * j)


def test_a_field_that_kept_nothing_has_no_ranges(central):
    assert run_to_end(ranges.run(CUP, read_job({}), None)).get("field.cell_voltage_V") is None


def test_a_measured_conductivity_narrows_the_range():
    """Readings at three currents, exact to the ruler's 2 % each way (uncertainty 2.8 %): 6 % in place of 20."""
    read = {"area_cm2": 25, "gap_mm": 30, "current_A": [0.5, 1.0, 1.5], "voltage_V": [0.4333, 0.7667, 1.1]}
    job, found = solved(600, measured=read)
    low, high = run_to_end(ranges.run(CUP, job, found)).conductivity
    assert high / low < 1.2
