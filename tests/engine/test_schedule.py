"""The schedule of currents: its charges are the charge that the wanted thickness takes, however the start runs."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from hypothesis import given, strategies

from addon.engine.chemistry.deposit import Deposit
from addon.engine.coat.ramp import Stage
from addon.engine.schedule import schedule, with_thieves

DENSITY, THICKNESS, EQUIVALENT = 8960.0, 30e-6, 1.18549e-3 / 3600  # kg/m3; m; kg/C of copper(II), from F


def deposit(area=0.01, density=200.0, supply=200.0, copies=1, efficiency=1.0) -> Deposit:
    charge = area * THICKNESS * DENSITY / EQUIVALENT / efficiency
    return Deposit(
        metal="copper",
        area=area,
        density=density,
        current=density * area,
        time=charge / (density * area),
        charge=charge,
        mass=area * THICKNESS * DENSITY,
        thickness=THICKNESS,
        efficiency=efficiency,
        copies=copies,
        total_current=copies * density * area,
        supply_density=supply,
        supply_time=charge / (supply * area),
    )


@given(
    area=strategies.floats(1e-4, 1.0),
    supply=strategies.floats(1.0, 200.0),
    copies=strategies.integers(1, 5),
    shares=strategies.lists(strategies.floats(0.01, 1.0), min_size=1, max_size=6),
)
def test_the_charges_add_up_to_faraday_s(area, supply, copies, shares):
    """Whatever the coat allows: the sum of current times time is area x thickness x density / equivalent (Faraday)."""
    wanted = deposit(area, supply=supply, copies=copies)
    full, passed, stages = supply * area, 0.0, []
    for share in shares:
        seconds = 0.1 * wanted.charge / full
        stages.append(Stage(share * full, seconds, share))
        passed += stages[-1].current * seconds
    stages.append(Stage(full, (wanted.charge - passed) / full, 1.0))
    for found in (schedule(wanted, stages), schedule(wanted, None)):
        assert found.charge == pytest.approx(copies * area * THICKNESS * DENSITY / EQUIVALENT, rel=1e-9)
        assert found.full_current == pytest.approx(copies * full)
        assert all(one.time > 0 for one in found.steps)


def test_a_start_that_never_reaches_the_target_is_the_whole_run():
    """The charge that a poor coat lets through at 0.1 A is not plated a second time at the full current."""
    wanted = deposit()
    found = schedule(wanted, [Stage(0.05, 600.0, 0.2), Stage(0.1, (wanted.charge - 30.0) / 0.1, 1.0)])
    assert found.full_current == pytest.approx(0.1) and found.wanted_current == pytest.approx(2.0)
    assert found.charge == pytest.approx(wanted.charge)
    assert found.steps[-1].current == pytest.approx(0.1)


def test_equal_currents_in_turn_are_one_step():
    wanted = deposit()
    half = wanted.charge / 2 / 2.0
    found = schedule(wanted, [Stage(2.0, half, 0.5), Stage(2.0, half, 1.0)])
    assert len(found.steps) == 1 and found.time == pytest.approx(2 * half)


def test_a_held_voltage_gives_its_own_current():
    found = schedule(deposit(copies=2), None, held_current=3.0)
    assert [one.current for one in found.steps] == [3.0] and found.charge == pytest.approx(2 * deposit().charge)


def test_the_supply_gives_what_thieves_take_as_well():
    """A thief hangs on the part's wire: of the 1.5 A that the supply shows 1 A makes metal on the part, in the same
    time, and the meter counts half as much charge again."""
    whole = schedule(deposit(area=0.005), None)
    field = SimpleNamespace(thief_current=0.5, part_currents=(1.0,))
    found = with_thieves(whole, field)
    assert found.thief_share == pytest.approx(1 / 3)
    assert found.full_current == pytest.approx(1.5 * whole.full_current)
    assert found.charge == pytest.approx(1.5 * whole.charge) and found.time == pytest.approx(whole.time)
    assert with_thieves(whole, SimpleNamespace(thief_current=0.0, part_currents=(1.0,))) is whole
