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
from addon.engine.field.problem import Control
from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.geometry.location import Location
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import run_to_end
from addon.engine.reporting import finding_text, plan, words
from addon.engine.settings.job import read_job
from addon.engine.sheet import notes
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


def test_no_copper_bath_is_mixed_for_silver():
    """The metal of an entry can be set: silver was then told to be plated from copper sulfate, off copper anodes."""
    text = told({**SETTINGS, "bath": {"name": "acid copper, decorative", "metal": "silver"}})
    assert "is made for copper, not for silver; mix the other by its maker's data sheet" in text
    assert "Anodes: silver," in text and "What is in the bath burns" in text and "Rinse 2 times" in text
    for never in ("copper sulfate", "phosphorized", "brightener", "sulfuric acid:", "blue spots"):
        assert never not in text
    assert "copper sulfate" in told()


@pytest.mark.parametrize(("apart", "bodies"), [(2.0, 2), (0.05, 1), (-2.0, 1)])
def test_bodies_that_do_not_touch_are_told_of(apart, bodies):
    """A vase and its lid beside it hung as if they were one, the lid on nothing."""
    lid = models.moved(models.box((20, 10, 3)), (30 + apart, 0, 0))
    crumb = models.moved(models.box((0.5, 0.5, 0.5)), (0, 0, 40))
    surface = run_to_end(
        inspect(models.part(models.moved(models.joined(models.box((30, 10, 20)), lid, crumb), scale=MM)))
    )
    found = [fault for fault in surface.faults if fault.code == Code.BODIES_APART]
    assert len(found) == (bodies > 1)
    if found:
        assert found[0].quantities == {Quantity.COUNT: bodies} and len(found[0].faces) == 12
        assert "The part is 2 bodies that do not touch" in finding_text.text(found[0])


def test_what_no_cylinder_measures_is_added_later():
    """0.2 mL an ampere hour: a run of 0.79 A h takes 0.16 mL, and 5 A h take 1 mL."""
    little = told({**SETTINGS, "bath": {"name": "acid copper, decorative"}})
    assert "The run uses up 0.16 mL" in little and "add 1 mL after 5.0 A h in all" in little
    thick = {"thickness_um": 300, "density_A_dm2": 2}
    assert "Add 1.6 mL of the bath's additive" in told(
        {**SETTINGS, "bath": {"name": "acid copper, decorative"}, "target": thick}
    )


def test_thick_metal_comes_off_thick_anodes():
    """What dissolves is what Faraday's law says, 1.186 g an ampere hour of copper; plates of twice that thickness."""
    anode = {"anode": [{"plate_mm": [30, 60], "centre_mm": [0, 50, 60], "normal": [0, -1, 0]}]}
    settings = {**SETTINGS, **anode, "target": {"thickness_um": 1000, "density_A_dm2": 2}}
    whole = study(settings)
    found = re.search(r"They lose ([\d.]+) g .*? in this run: plates of ([\d.]+) mm or more", flat(plan.write(whole)))
    grams = 1.1857 * schedule.of_study(whole).charge / 3600
    assert float(found[1]) == pytest.approx(grams, rel=0.01)
    assert float(found[2]) == pytest.approx(2 * 10 * grams / 8.96 / (3 * 6), abs=0.05)
    assert "They lose" not in told({**SETTINGS, **anode})


def test_no_more_is_set_than_the_supply_has_where_thieves_take_of_it():
    """Half an ampere for part and thief: the steps told to set 0.78 A, and two thirds of the time."""
    whole = study({**SETTINGS, "supply": {"max_A": 0.5}})
    wanted = whole.results.deposit.total_current
    field = replace(
        whole.results.field,
        control=Control.DRAW,
        wanted_current=wanted,
        current=0.5,
        thief_current=0.2,
        part_currents=(0.3,),
    )
    limited = replace(whole, results=replace(whole.results, field=field))
    timetable = schedule.of_study(limited)
    assert timetable.full_current == pytest.approx(0.5) and timetable.limited_by == "supply"
    assert timetable.charge == pytest.approx(whole.results.deposit.charge / 0.6)
    assert re.search(r"Set 0\.50 A until", flat(plan.write(limited)))
    assert not (field.limited_by_voltage or replace(field, control=Control.CURRENT).limited_by_supply)


def test_the_client_reads_no_thinner_metal_than_the_plan_tells():
    """A triangle of the vase had no metal in the solution, though no patch of it had less than 7 um: "0 um"."""
    whole = study()
    field = whole.results.field
    rough = field.thickness.copy()
    seen = np.flatnonzero(whole.surface.plated)
    rough[seen[0::3]], rough[seen[1::3]] = 0.0, 500e-6
    spoilt = replace(whole, results=replace(whole.results, field=replace(field, thickness=rough)))
    first, second = (callout.words for callout in notes.best_view_and_callouts(spoilt)[1][:2])
    assert "Thinnest in sight: 12 µm" in first and "Thickest in sight: 75 µm" in second
