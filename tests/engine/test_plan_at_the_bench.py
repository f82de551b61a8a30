"""What a plan told wrong to the person who follows it with wet gloves: each a job that somebody would bring."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from addon.engine import copper_wire, handling, schedule
from addon.engine.chemistry import deposit
from addon.engine.coat import cautions as coat_cautions
from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.geometry.location import Location
from addon.engine.reporting import finding_text, plan, words
from addon.engine.settings.job import read_job
from addon.engine.units import GRAM, MM

import models
from cup_study import SETTINGS, WIRE, hanging, study
from plan_checks import flat, steps

METAL = {**SETTINGS, "coat": {"name": "none (metal part)"}}
PLACES = [[-50, 0, 110], [50, 0, 110]]


def told(settings=SETTINGS, **results) -> str:
    return flat(plan.write(study(settings, **results)))


def masked(settings):
    whole = study(settings)
    shown = np.zeros(len(whole.surface.triangles), dtype=bool)
    shown[::2] = True
    return replace(whole, surface=replace(whole.surface, plated=whole.surface.plated & ~shown))


@pytest.mark.parametrize(("supply", "copies"), [({}, 1), ({"max_A": 0.3}, 1), ({"max_A": 0.3}, 2)])
def test_wires_carry_together_what_the_supply_gives(supply, copies):
    """The coat is computed at what the supply gives: their currents were scaled down once more, 18 fold on a helmet."""
    settings = {**SETTINGS, "supply": supply, **({"rack": {"positions_mm": PLACES}} if copies > 1 else {})}
    whole = study(settings)
    each = schedule.of_study(replace(whole, results=whole.results.without("coat"))).full_current / copies
    wires = tuple(replace(WIRE, current=each / 4) for _ in range(4))
    stages = tuple(replace(stage, current=min(stage.current, each)) for stage in whole.results.coat.steps)
    coat = replace(whole.results.coat, wires=wires, steps=stages)
    text = plan.write(replace(whole, results=replace(whole.results, coat=coat)))
    currents = [float(one) for one in re.findall(r"- \d\. [^;]*?, ([\d.]+) A\b", flat(text))]
    assert len(currents) == 4 and sum(currents) == pytest.approx(each, rel=0.03)


@pytest.mark.parametrize(("settings", "step"), [(SETTINGS, "Coat the whole part"), (METAL, "Fix a bare copper wire")])
def test_the_wires_are_lacquered_before_they_are_weighed(settings, step):
    """Lacquer was bought, and the appendix reckoned with it, but no step put it on."""
    found = [one for one in steps(plan.write(study(settings))) if "Lacquer each wire" in one]
    assert len(found) == 1 and step in found[0]


def test_a_held_voltage_is_left_alone():
    """The plan held 0.5 V, then told to set amperes, and that the part takes less than flows."""
    text = told({**SETTINGS, "supply": {"hold_V": 0.5}})
    assert "Leave the voltage as it is until" in text and not re.search(r"Set [\d.]+ A", text)
    ramp = SimpleNamespace(held="burn")
    start = SimpleNamespace(ramp=ramp, steps=(SimpleNamespace(current=0.3),))
    for supply, count in (({}, 1), ({"hold_V": 0.5}, 0)):
        job = read_job({**SETTINGS, "supply": supply})
        assert len(coat_cautions.current_limited(job, 1.0, start, 0.01, 0.5)) == count


def test_the_output_is_off_before_hands_turn_the_part():
    coat = replace(study().results.coat, wires=(WIRE,))
    text = told(
        {**SETTINGS, "place": {"half_turn": True}}, coat=coat, hanging=replace(hanging(), pair=None, rigid_wire=None)
    )
    assert re.search(r"switch OFF, turn it by half about the vertical, and move the wire", text)


def test_copies_share_the_tubs_that_are_bought():
    """Seven parts were rinsed in three tubs of half a liter, and seven liters of rinse went to the collector."""
    settings = {**SETTINGS, "rack": {"positions_mm": PLACES}}
    one, two = handling.of_study(study()), handling.of_study(study(settings))
    assert two.metal == pytest.approx(2 * one.metal)
    assert two.first_rinse_metal * (two.rinse_volume + two.carried_out) == pytest.approx(two.metal)
    text = told(settings)
    bought = re.search(r"(\d+) rinse tubs of (\d+) mL", text)
    kept = re.search(r"The other rinses, ([\d.]+) (m?L)", text)
    liters = float(kept[1]) * (1e-3 if kept[2] == "mL" else 1.0)
    assert liters == pytest.approx((int(bought[1]) - 1) * int(bought[2]) * 1e-3)


def test_each_copy_is_weighed_in_nickel_too():
    nickel = {"part": {"material": "ABS"}, "bath": {"name": "nickel, Watts"}}
    text = told({**SETTINGS, **nickel, "rack": {"positions_mm": PLACES}})
    assert re.search(
        r"weigh each: _+ g. Wanted: [\d.]+ g more than before on each\. .* these take no more nickel", text
    )


def test_a_temperature_is_not_asked_for_twice():
    """ "Bring the bath to 32 C" stood above "works well from 18 to 30: bring it there first"."""
    told_ = told({**SETTINGS, "bath": {"name": "acid copper, bench mix", "temperature_C": 32}})
    assert "32 °C is set; the bath works well from 18 to 30 °C. Set 30 °C." in told_


def test_a_poor_coat_is_not_recommended_against_itself():
    job = read_job({**SETTINGS, "coat": {"name": "graphite lacquer", "sheet_resistance_ohm_sq": 900}})
    start = SimpleNamespace(refusal=coat_cautions.Refusal.COAT, ramp=None)
    finding = coat_cautions.refused(job, start, 900.0)[0]
    assert "silver paint" in finding.remedy.names["coats"] and "graphite" not in finding.remedy.names["coats"]


@pytest.mark.parametrize(
    ("supply", "copies", "helps"),
    [
        ({"max_A": 0.05}, 1, "It takes a supply of"),
        ({"max_A": 0.05}, 2, "Plate fewer parts at once, or take a supply of"),
        ({"max_A": 5}, 1, "Raise the current."),
    ],
)
def test_too_little_current_is_helped_by_what_there_is(supply, copies, helps):
    """One part was to be plated with fewer at once, and a supply that gives all that it has was to give more."""
    job = read_job({**SETTINGS, "supply": supply, "target": {"thickness_um": 30, "density_A_dm2": 0.3}})
    found = deposit.estimate(study().surface, job.target, job.bath, job.supply, copies).findings
    finding = next(one for one in found if one.code == Code.BELOW_WINDOW)
    assert finding_text.text(finding).count(helps) == 1
    needed = finding.remedy.quantities[Quantity.CURRENT]
    area = study().surface.plated_total
    assert needed == pytest.approx(copies * 0.5 * 100 * area)  # 0.5 A/dm2, the low end of its range


def test_no_figure_has_an_exponent():
    whole = Finding(Code.OPEN_SHEET, Severity.NOTE, {Quantity.SHARE: 1.0})
    assert "takes 100 % of the surface" in finding_text.text(whole)
    volts = {Quantity.VOLTAGE: 123.4, Quantity.LIMIT_VOLTAGE: 15.0}
    assert "give 120 V" in finding_text.text(Finding(Code.SUPPLY_VOLTAGE_TOO_SMALL, Severity.COSTS, volts))


def test_nothing_is_0_mm_above_the_bottom():
    where = Location(None, "", None, 25.5 * MM, 0.5 * MM, 26 * MM)
    assert words.place_name(where).endswith("at the bottom")


def test_a_sheet_has_two_sides():
    sheet = study(model=models.moved(models.plate((60, 30), (4, 2)), scale=MM))
    assert "60 x 30 mm of PLA" in flat(plan.write(sheet))


def test_a_wire_bears_the_part_in_air():
    """70 MPa with a factor of two: a kilogram takes 0.6 mm. A wire was chosen by its current alone."""
    for mass in (0.05, 1.0, 3.0):
        size = copper_wire.bearing(mass)
        assert mass * 9.80665 / (math.pi * size**2 / 4) <= 35e6
        assert size == 0.4 * MM or mass * 9.80665 / (math.pi * (0.8 * size) ** 2 / 4) > 35e6
    heavy = replace(hanging(), rigid_wire=None, ballast=0.0, pair=None, lifted=1.5)
    assert "Bare copper wire 0.80 mm (gauge 20)" in told(hanging=heavy)


def test_the_scale_reads_the_same_things_twice():
    """Ballast is tied on after the first weighing; what covers a metal part is on in both."""
    flexible = replace(hanging(), rigid_wire=None, ballast=5 * GRAM, pair=None)
    assert "Weigh it without its ballast." in told(hanging=flexible)
    assert "without its ballast" not in told()
    metal, painted = (flat(plan.write(masked(settings))) for settings in (METAL, SETTINGS))
    assert "After weighing take off the lacquer or tape" in metal
    assert "After weighing take off" not in painted


def test_the_anodes_of_the_job_are_named():
    """A job with one anode at one wall was told to hang other areas, half on either side."""
    anode = {"plate_mm": [30, 60], "centre_mm": [0, 50, 60], "normal": [0, -1, 0]}
    one, two = (told({**SETTINGS, "anode": [anode] * count}) for count in (1, 2))
    assert "1 plate of 30 x 60 mm, where the job places it." in one and "2 plates of 30 x 60 mm" in two
    assert "half on either side" not in one + two


def test_a_stopped_job_is_not_plated_longer():
    stopped = flat(plan.write(study({**SETTINGS, "bath": {"name": "nickel, Watts"}})))
    assert "NOT TO BE PLATED" in stopped and "plate for" not in stopped
