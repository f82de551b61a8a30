"""Deposit, supply and inverse questions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.engine.reporting.finding_text import texts
from addon.engine.chemistry import deposit
from addon.engine.errors import InputError
from addon.engine.findings import Code, Quantity, Severity
from addon.engine.settings.job import read_job
from addon.engine.mesh.surface import Surface
from addon.engine.units import A_PER_DM2, AMPERE_HOUR, GRAM, HOUR, MM, UM

import models

JOB = read_job({})


def surface(model, plated=None) -> Surface:
    points, triangles = model
    yes = np.ones(len(triangles), dtype=bool)
    sides = np.ones(len(triangles), dtype=np.int8)
    shell = np.zeros(len(triangles), dtype=np.int32)
    return Surface("part", points, triangles, shell, yes, yes if plated is None else plated, ~yes, sides, True, 0.0)


SQUARE = surface(models.box((100 * MM, 50 * MM, 10 * MM)))  # 1.3 dm2 outside


def test_a_square_decimeter_of_copper():
    """13.231 um/h at 1 A/dm2 and 1.1855 g/Ah (handbook): 26.462 um in an hour at 2 A/dm2 on 1.3 dm2."""
    job = read_job({"target": {"thickness_um": 26.462, "density_A_dm2": 2}})
    found = deposit.estimate(SQUARE, job.target, job.bath, job.supply)
    assert found.area == pytest.approx(1.3e-2)
    assert found.current == pytest.approx(2.6)
    assert found.time / HOUR == pytest.approx(1, rel=5e-5)
    assert found.charge / AMPERE_HOUR == pytest.approx(2.6, rel=5e-5)
    assert found.mass / GRAM == pytest.approx(2.6 * 1.1855, rel=1e-4)
    assert found.mass == pytest.approx(8960 * found.area * found.thickness)
    assert found.supply_density == found.density and not texts(found.findings)


def test_efficiency_lengthens_the_time():
    """At 95 % of the current the same metal takes 1/0.95 of the charge."""
    full, less = read_job({}), read_job({"bath": {"efficiency": 0.95}})
    a = deposit.estimate(SQUARE, full.target, full.bath, full.supply)
    b = deposit.estimate(SQUARE, less.target, less.bath, less.supply)
    assert b.time == pytest.approx(a.time / 0.95)
    assert b.mass == pytest.approx(a.mass)


def test_a_masked_half_takes_half_the_current():
    plated = surface(models.box()).normal[:, 0] == 0
    half = deposit.estimate(surface(models.box((0.1, 0.1, 0.1)), plated), JOB.target, JOB.bath, JOB.supply)
    assert half.area == pytest.approx(4e-2)


def test_nothing_plated_is_a_fault_that_names_the_remedy():
    none = np.zeros(12, dtype=bool)
    with pytest.raises(InputError, match="unmask"):
        deposit.estimate(surface(models.box(), none), JOB.target, JOB.bath, JOB.supply)


def test_a_small_supply_says_what_it_can_give_and_how_long_that_takes():
    """1.3 A on 1.3 dm2 is 1 A/dm2: half of what is wanted, so twice the time."""
    job = read_job({"supply": {"max_A": 1.3}, "target": {"thickness_um": 13.231, "density_A_dm2": 2}})
    found = deposit.estimate(SQUARE, job.target, job.bath, job.supply)
    assert found.supply_density < found.density
    assert found.supply_density == pytest.approx(A_PER_DM2)
    assert found.supply_time / HOUR == pytest.approx(1, rel=1e-4)
    assert found.time / HOUR == pytest.approx(0.5, rel=1e-4)
    (sentence,) = texts(found.findings)
    assert "1.3 A" in sentence and "1 of 2 A/dm2" in sentence and "takes 1 h" in sentence


def test_copies_share_the_supply():
    four = deposit.estimate(SQUARE, JOB.target, JOB.bath, JOB.supply, copies=4)
    assert four.current == pytest.approx(2.6)
    assert four.total_current == pytest.approx(10.4)
    assert four.supply_density == pytest.approx(JOB.supply.current / (4 * four.area))


@pytest.mark.parametrize(("density", "word"), [(0.2, "dull"), (20, "burnt"), (5.5, "half of the limiting")])
def test_a_density_outside_the_window_is_said(density, word):
    (sentence,) = texts(deposit.window_findings(density * A_PER_DM2, JOB.bath))
    assert word in sentence


@given(density=st.floats(1, 1e4), time=st.floats(1, 1e6), area=st.floats(1e-6, 10), efficiency=st.floats(0.01, 1))
def test_inverse_questions_are_inverse(density, time, area, efficiency):
    bath = read_job({"bath": {"efficiency": efficiency}}).bath
    thickness = deposit.thickness_after(time, density, bath)
    assert deposit.time_for(thickness, density, bath) == pytest.approx(time)
    assert deposit.density_for(thickness, time, bath) == pytest.approx(density)
    assert deposit.density_of(deposit.current_for(density, area), area) == pytest.approx(density)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(12, "12 s"), (45 * 60, "45 min"), (4800, "1 h 20 min"), (7200, "2 h"), (3e5, "83 h")],
)
def test_durations_read_well(seconds, words):
    assert deposit.duration(seconds) == words


def test_rounding_of_a_thickness_does_not_hide_units():
    """One micrometer of copper at 1 A/dm2 takes 272 s (from 13.231 um/h)."""
    assert deposit.time_for(1 * UM, A_PER_DM2, JOB.bath) == pytest.approx(3600 / 13.231, rel=1e-4)


def test_a_current_that_the_supply_cannot_set_is_told_and_the_one_that_flows_is_planned():
    """Steps of 10 mA: of 12.4 mA 10 flow, and the same charge takes 1.24 times as long; 6 mA it cannot set at all; of
    1.85 A nothing is seen to be missing. A ring of 8 mm was planned with 0.0124 A."""
    for wanted, flows in ((0.0124, 0.01), (1.853, 1.853), (0.006, 0.006), (40.0, 5.0)):
        assert JOB.supply.sets(wanted) == pytest.approx(flows)
    ring = surface(models.box((10 * MM, 5 * MM, 3.3333 * MM)))  # 2 cm2
    small = read_job({"target": {"density_A_dm2": 0.62}})
    found = deposit.estimate(ring, small.target, small.bath, small.supply)
    assert found.supply_time == pytest.approx(1.24 * found.time, rel=1e-3)
    (said,) = [one for one in found.findings if one.code == Code.SUPPLY_TOO_COARSE]
    assert said.severity == Severity.COSTS and said.quantities[Quantity.LIMIT_CURRENT] == pytest.approx(0.01)
    tiny = read_job({"target": {"density_A_dm2": 0.3}})
    (stops,) = deposit.estimate(ring, tiny.target, tiny.bath, tiny.supply).findings[:1]
    assert stops.code == Code.SUPPLY_TOO_COARSE and stops.severity == Severity.STOPS
    held = read_job({"target": {"density_A_dm2": 0.3}, "supply": {"hold_V": 0.5}})
    found = deposit.estimate(ring, held.target, held.bath, held.supply)
    assert all(one.code != Code.SUPPLY_TOO_COARSE for one in found.findings)
