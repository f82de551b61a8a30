"""Coats that no start is safe on: too poor, or gone before metal covers them."""

from __future__ import annotations

import pytest

from addon.engine.coat.wiring import MAX_STARTING_WIRES
from addon.engine.findings import Quantity

from coats import BAR, coated, job

pytestmark = pytest.mark.usefixtures("coarse_coat")


def stopping(found):
    return [one for one in found.findings if one.severity.value == "stops"]


@pytest.mark.slow
def test_a_bath_without_polarization_makes_no_poor_coat_safe():
    """50 ohm a square lose more at the full current than any bath drives: the first current is a small part of it, and
    not far from that in a bath with next to no polarization."""
    first = []
    for kinetics in ({"kind": "none"}, {"kind": "linear", "resistance_ohm_m2": 1e-5}):
        wire = [{"point_mm": [20, 0, 4]}]
        poor = job(
            coat={"sheet_resistance_ohm_sq": 50.0}, bath={"kinetics": kinetics}, supply={"step_A": 1e-4}, wire=wire
        )
        first.append(coated(BAR, poor))
    none, little = first
    assert none.safe_start < 0.015 * none.steps[-1].current
    assert none.safe_start == pytest.approx(little.safe_start, rel=0.25)
    assert none.coupled_drop > 0


@pytest.mark.slow
def test_a_coat_of_more_than_two_hundred_ohm_is_refused():
    refused = stopping(coated(BAR, job(coat={"sheet_resistance_ohm_sq": 210})))
    assert [one.code.value for one in refused] == ["coat-too-poor"]
    assert "copper paint" in refused[0].remedy.names["coats"] and "graphite" not in refused[0].remedy.names["coats"]
    assert not stopping(coated(BAR, job(coat={"sheet_resistance_ohm_sq": 3})))


@pytest.mark.slow
def test_no_step_is_below_what_the_supply_sets():
    """A supply in steps of 0.1 A cannot start a coat that bears less: as many wires as may be are tried, then it is refused."""
    poor = {"coat": {"sheet_resistance_ohm_sq": 30}}
    usual = coated(BAR, job(**poor))
    assert usual.steps and usual.steps[0].current >= 0.01
    for one in usual.steps[:-1]:
        assert one.current / 0.01 == pytest.approx(round(one.current / 0.01))
    coarse = coated(BAR, job(**poor, supply={"step_A": 0.25}))
    assert coarse.steps == () and len(coarse.wires) == len(usual.wires) == MAX_STARTING_WIRES
    assert [one.code.value for one in stopping(coarse)] == ["coat-too-poor"]
    given = coated(BAR, job(**poor, supply={"step_A": 0.25}, wire=[{"point_mm": [0, 5, 4]}]))
    assert len(given.wires) == 1  # wires that were placed stay as they are


@pytest.mark.slow
def test_a_coat_that_does_not_last_until_half_is_covered_is_refused():
    short = coated(BAR, job(coat={"sheet_resistance_ohm_sq": 30, "bath_life_h": 0.01}))
    assert short.steps == () and [one.code.value for one in stopping(short)] == ["coat-too-poor"]
    assert stopping(short)[0].quantities.keys() >= {Quantity.TIME, Quantity.LIMIT_TIME}
