"""The first minutes: which current the coat bears, and when metal has covered it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from addon.engine import faraday
from addon.engine.coat.film import RESISTIVITY_OHM_M
from addon.engine.coat import current_limit, drop, proxy, ramp, sheet, wires
from addon.engine.coat.spread import Spread
from addon.engine.progress import Step, run_to_end
from addon.engine.settings.job import read_job
from addon.engine.settings.part import Wire

import models
from coats import surface

COPPER = faraday.metal("copper")
RATE = faraday.thickness(COPPER, 1.0, 1.0)  # m3/C
STRIP = surface(models.moved(models.plate((60, 10), (60, 10)), scale=1e-3))
STRIP_COAT = run_to_end(sheet.build(STRIP, triangles=1))
PADS = wires.specified_pads(STRIP, [Wire((0.0, 0.005, 0.0), 0.004)])  # half a disc of 2 mm at one end
FITTED, COVERED = run_to_end(sheet.with_pads(STRIP, STRIP_COAT, PADS))
FED = drop.WiredSheet.of(FITTED, COVERED)
SPREAD = Spread.of(FED, run_to_end(proxy.build(FITTED, 400, COVERED)), PADS)


class Even:
    """A bath of the same resistance everywhere, ohm m2."""

    resolution = 0.0

    def __init__(self, resistance: float) -> None:
        self.resistance = resistance

    def patch_resistance(self, spread: Spread, conductance: np.ndarray, current: float):
        yield Step(1.0, "")
        return np.full(len(spread.own), self.resistance)


def voltage(sheet_resistance: float, resistance: float) -> float:
    """V for an ampere on the strip itself."""
    scaled = replace(FED.graph, weight=FED.graph.weight / sheet_resistance)
    bath = np.full(len(FITTED.area), resistance)
    return run_to_end(drop.share_current(FED, scaled, FED.ground / sheet_resistance, bath, 1.0)).voltage


def walked(
    sheet_resistance: float,
    resistance: float,
    *,
    top: float = 600.0,
    covered_top: float | None = None,
    film: float = 0.0,
    kappa: float = 1e-9,
):
    """The first minutes on a strip of 60 x 10 mm fed at one end: target 0.12 A, 30 um. kappa : S/m of a bath whose
    kinetics polarize by 0.1 mohm m2."""
    charge = faraday.charge(COPPER, 6e-4 * 30e-6 * COPPER.density)
    metal = RESISTIVITY_OHM_M["copper"]
    drive = current_limit.Drive(
        0.12, charge, top, kappa, 1e-4, math.inf, math.inf, RATE, metal, covered_top=covered_top
    )
    conductance = np.full(len(SPREAD.own), 1 / sheet_resistance)
    bath = np.full(len(SPREAD.own), resistance)
    spread = SPREAD.fitted(conductance, bath, voltage(sheet_resistance, resistance))
    return run_to_end(ramp.run(spread, Even(resistance), sheet_resistance, drive, film=film))


@pytest.mark.slow
@pytest.mark.parametrize("sheet_resistance", [1.0, 10.0, 100.0])
def test_first_current_is_that_of_the_coat_itself(sheet_resistance):
    """Under a bath that resists place by place, and so conducts nothing sideways, the density beside the pad is nearly
    voltage / rho, and may be `top`: the first current is near rho top / (voltage an ampere)."""
    rho, top = 2e-3, 300.0
    expected = min(rho * top / voltage(sheet_resistance, rho), 0.12)
    found = walked(sheet_resistance, rho, top=top)
    assert 0.9 * expected <= found.stages[0].current <= 1.25 * expected


def test_a_bath_that_conducts_sideways_gathers_current_at_the_rim():
    """And so the start must be lower; on a coat that loses next to nothing it makes no difference."""
    assert walked(10.0, 2e-3, kappa=18.0).stages[0].current < 0.7 * walked(10.0, 2e-3).stages[0].current
    assert walked(0.01, 2e-3, kappa=18.0).stages[0].current == 0.12


def test_ramp_rises_covers_and_passes_the_wanted_charge():
    """Current goes up only, cover too; time x current is the charge of 30 um whatever the steps."""
    found = walked(30.0, 2e-3)
    currents = [stage.current for stage in found.stages]
    covered = [stage.covered for stage in found.stages]
    assert len(currents) > 1
    assert currents == sorted(currents)
    assert currents[-1] == 0.12
    assert covered == sorted(covered)
    assert covered[-1] == pytest.approx(1.0)
    assert found.covered_after is not None
    charge = sum(stage.current * stage.seconds for stage in found.stages)
    assert charge == pytest.approx(faraday.charge(COPPER, 6e-4 * 30e-6 * COPPER.density), rel=1e-6)
    assert all(stage.seconds >= ramp.MIN_HOLD_S for stage in found.stages)


@pytest.mark.slow
def test_better_coats_start_higher_and_cover_sooner():
    coats = [walked(rs, 2e-3) for rs in (0.1, 3.0, 30.0, 100.0)]
    first = [found.stages[0].current for found in coats]
    assert first == sorted(first, reverse=True)
    assert first[0] == 0.12
    after = [found.covered_after for found in coats]
    assert after == sorted(after)


def test_film_that_lies_there_from_the_start_counts_as_cover():
    found = walked(1000.0, 2e-3, film=0.5e-6)
    assert found.covered_after == 0.0
    assert found.stages[0].covered == pytest.approx(1.0)


def test_a_coat_that_is_covered_within_the_first_hold_is_raised_after_it():
    """0.95 um lie there and the rest comes in seconds: once covered it bears the wanted current, but a current is held for
    a minute. The walk stood still there for all its steps, and never raised it."""
    found = walked(1.0, 2e-3, top=100.0, covered_top=600.0, film=0.95e-6)
    assert found.stages[0].current < 0.1 and found.stages[0].seconds == pytest.approx(ramp.MIN_HOLD_S, rel=0.5)
    assert found.stages[-1].current == 0.12 and found.held == "target"


def test_a_covered_coat_that_never_bears_the_wanted_current_ends_by_its_charge(monkeypatch):
    """The window holds it below for good: time goes on until the charge has passed, and no step is without time."""
    asked, share = [], Spread.share
    monkeypatch.setattr(Spread, "share", lambda self, *more: asked.append(1) or share(self, *more))
    found = walked(0.1, 2e-3, top=150.0)
    charge = sum(stage.current * stage.seconds for stage in found.stages)
    assert charge == pytest.approx(faraday.charge(COPPER, 6e-4 * 30e-6 * COPPER.density), rel=1e-6)
    assert found.held == "burn" and found.covered_after is not None
    assert len(asked) < ramp.MAX_RAMP_STEPS / 4


def test_metal_of_the_film_is_kept():
    """What the charge deposits is found again on the patches, by Faraday's law."""
    found = walked(10.0, 2e-3)
    assert SPREAD.patches.area @ found.film == pytest.approx(6e-4 * 30e-6, rel=1e-3)


def test_currents_are_rounded_down_to_what_a_knob_can_be_set_to():
    assert current_limit.rounded_down(0.1289, 1.0) == 0.12
    assert current_limit.rounded_down(2.0, 5.0) == 2.0
    assert current_limit.rounded_down(7.99, 7.5) == 7.5
    assert current_limit.rounded_down(0.0010899, 1.0) == 0.001


def test_covering_is_told_by_its_shares_and_its_last_place():
    """Even current covers 1 um at once, by Faraday's law at 13.231 um/h and 1 A/dm2 (handbook): the strip's far end is last."""
    even = walked(1e-6, 2e-3)
    at_once = 3600 / 13.231 / 2.0  # s for 1 um at 0.12 A on 6 cm2
    assert all(after == pytest.approx(at_once, rel=0.02) for after in even.milestones)
    poor = walked(30.0, 2e-3)
    half, most, nearly = poor.milestones
    assert 0 < half < most < nearly <= poor.covered_after
    assert poor.last[0] > 0.055  # fed at x = 0
    spreads = [stage.spread for stage in poor.stages]
    assert spreads == sorted(spreads) and spreads[-1] > 0.05


def test_the_start_keeps_to_half_of_the_limiting_density():
    """Window to 6 A/dm2, limiting 10: no place gets more than 5 while coat is bare; of a bench mix, 2."""
    assert read_job({"bath": {"name": "acid copper, decorative"}}).bath.safe_density == pytest.approx(500.0)
    assert read_job({"bath": {"name": "acid copper, bench mix"}}).bath.safe_density == pytest.approx(200.0)
    found = walked(3.0, 2e-3, top=250.0)
    rates = [stage.current / SPREAD.area.sum() for stage in found.stages[:-1]]
    assert rates and max(rates) <= 250.0
