"""The plan holds what a person at the bench needs, for a made-up study whose figures are known."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.chemistry import deposit
from addon.engine.trapping import gas
from addon.engine.reporting import plan
from addon.engine.printing import prepare
from addon.engine.reporting import words
from addon.engine.coat.heat import WireAdvice
from addon.engine.coat.ramp import Stage
from addon.engine.coat.result import Bare, CoatResult, WirePlace
from addon.engine.coat.contact import Contact
from addon.engine.field.result import Field, Spread
from addon.engine.hanging.balance import Balance
from addon.engine.hanging.mass import Body
from addon.engine.hanging.suggest import Hanging, Pair, Suggestion
from addon.engine.settings.job import read_job
from addon.engine.mesh.inspection import inspect
from addon.engine.trapping.narrow import NarrowOpenings, Opening
from addon.engine.reporting.plan_text import figure, typeset
from addon.engine.progress import run_to_end
from addon.engine.analyses import Study
from addon.engine.units import CM2, GRAM, ML, MM

import models

SETTINGS = {
    "part": {"file": "cup.stl"},
    "target": {"thickness_um": 30, "density_A_dm2": 2},
    "bath": {"name": "acid copper, bench mix"},
    "batch": {"volume_L": 0.5},
    "wire": [{"point_mm": [0, 11, -5]}],
}


def suggestion(up, **more):
    found = {
        "up": np.array(up, dtype=float),
        "euler": np.zeros(3),
        "trapped": 0.0,
        "dry": 0.0,
        "underside": 0.0,
        "held": 0.0,
        "fits": True,
        "slack": 0.05,
        "contact": None,
        "best": True,
        "reasons": ("traps no gas",),
    }
    return Suggestion(**{**found, **more})


def hanging():
    body = Body(
        plastic=9 * GRAM,
        coat=1 * GRAM,
        centre=np.zeros(3),
        solid=8 * ML,
        wall=5 * ML,
        air=2 * ML,
        displaced=12 * ML,
        buoyancy=np.zeros(3),
    )
    pair = Pair(suggestion((1, 0, 0)), suggestion((-1, 0, 0)), 0.0, 6 * CM2, True)
    state = Balance(-4 * GRAM, np.zeros(3))
    return Hanging(
        body=body,
        start=state,
        end=state,
        deposit=0.01,
        ballast=5 * GRAM,
        settles_up=None,
        suggestions=(suggestion((1, 0, 0), reasons=("traps no gas", "drains by itself")),),
        pair=pair,
        findings=(
            Finding(
                Code.FLOATS,
                Severity.SPOILS,
                {Quantity.MASS: 4 * GRAM, Quantity.BALLAST: 5 * GRAM, Quantity.THICKNESS: 60e-6},
                {"at_the_end": "floats"},
            ),
        ),
    )


WIRE = WirePlace(
    point=np.array((0, 11, 18)) * MM,
    normal=np.array((0, 1.0, 0)),
    pad=3 * MM,
    face=0,
    piece=0,
    current=0.69,
    place="back, 3 mm below the top",
    suggested=True,
    second=np.array((0, -11, 18)) * MM,
    second_place="front, 3 mm below the top",
)


def coated(surface):
    """A coat that loses much: one wire, two wanted, three steps to the full current."""
    none = np.zeros(len(surface.triangles))
    return CoatResult(
        wires=(WIRE,),
        pieces=1,
        unserved=0,
        drop=none,
        worst_drop=0.42,
        drop_at=np.zeros(3),
        coupled_drop=0.42,
        share=none,
        reach=0.02,
        drop_limit=0.05,
        wires_needed=2,
        safe_start=0.1,
        safe_reason="more would burn the rim of the contact",
        steps=(Stage(0.1, 120.0, 0.3, 0.52), Stage(0.35, 180.0, 1.0), Stage(0.69, 4000.0, 1.0)),
        covered_after=290.0,
        never_covered=np.array([0, 1]),
        heating=None,
        heating_full=None,
        wire=WireAdvice(current=0.69, diameter=0.5 * MM, gauge=24, rise=3.0, lost=0.03, wetted=0.02, takes=0.04),
        findings=(),
        never=(Bare(0.5 * CM2, "inside, at the bottom", (0.0, 0.0, 0.0)),),
    )


def spread(surface):
    """A field that gives 12 um at the floor of the cup and 75 um at its rim; 0.44 V."""
    height = surface.centroid[:, 2]
    thickness = np.interp(height, [height.min(), height.max()], [75e-6, 12e-6])
    none = Spread(0, 0, 0, 0, 0)
    return Field(
        density=thickness,
        thickness=thickness,
        flag=np.zeros(len(height), dtype=np.int8),
        density_spread=none,
        thickness_spread=Spread(12e-6, 15e-6, 28e-6, 60e-6, 75e-6),
        bare_area=0.0,
        dull_area=2 * CM2,
        burnt_area=1 * CM2,
        throw=0.4,
        voltage=0.44,
        ohmic=0.1,
        polarization=0.3,
        coat=0.04,
        resistance=0.2,
        current=0.69,
        anode_current=0.69,
        thief_current=0.0,
        part_currents=(0.69,),
        anodes=(),
        anode_limit=200.0,
        wagner=0.5,
        time=4080.0,
        time_thinnest=10200.0,
        panels=1000,
        error=0.01,
        residual=1e-7,
    )


def study(settings=SETTINGS, slots=1, **results):
    """A cup 10 mm wide and 20 mm deep inside, its mouth down, with all analyses of these rooms."""
    job = read_job(settings)
    part = models.part(models.moved(models.cup(10, 20, 1), turn=np.diag([1, -1, -1]), scale=MM), name="cup")
    surface = run_to_end(inspect(part))
    length = job.bath.capillary_length
    slot = Opening("slot", 2 * MM, 6 * MM, 1 * CM2, np.zeros(3), np.array((0, -11, -5)) * MM, np.array([0]))
    found = {
        "deposit": deposit.estimate(surface, job.target, job.bath, job.supply, max(len(job.rack.positions), 1)),
        "gas": run_to_end(gas.trapped(surface, job.part.up, capillary_length=length)),
        "drainage": run_to_end(gas.held(surface, job.part.up, capillary_length=length)),
        "preparation": prepare.inspect(surface, job.print, job.target, job.coat),
        "hanging": hanging(),
        "coat": coated(surface),
        "field": spread(surface),
        "narrow": NarrowOpenings(4.6 * MM, 0.7 * MM, (slot,) * slots),
    }
    return Study(part, job, surface, results={**found, **results})


def flat(text: str) -> str:
    """The plan on one line, so that a sentence can be found across line ends."""
    return re.sub(r"\s+", " ", text)


@pytest.fixture(scope="module")
def text() -> str:
    return plan.write(study())


PAGES = 2 * 66  # lines of text; what was assumed is an appendix


def bench(text: str) -> list[str]:
    """The lines that are followed at the bench: all before cautions in full and what was assumed."""
    return re.split(r"^\d+\. (?:CAUTIONS|ASSUMED)", text, flags=re.MULTILINE)[0].splitlines()


def test_two_pages_of_eighty_columns(text):
    assert len(bench(text)) <= PAGES and max(map(len, text.splitlines())) <= 80
    assert text.isprintable() or set(filter(lambda c: not c.isprintable(), text)) == {"\n"}


@pytest.mark.parametrize(
    "title",
    [
        "THE PART",
        "BEFORE PRINTING",
        "SURFACE AND COAT",
        "WIRE AND HANGING",
        "BATH AND ANODE",
        "CURRENT AND TIME",
        "AFTER PLATING",
        "WHAT TO EXPECT WHERE",
        "CAUTIONS",
        "ASSUMED",
    ],
)
def test_the_order_of_the_job(text, title):
    assert re.search(rf"^\d+\. {title}", text, re.MULTILINE)


@pytest.mark.parametrize(
    "words_",
    [
        "acid into water",
        "Goggles",
        "gloves",
        "Ventilate",
        "low-voltage supply",
        "down the drain",
        "licensed waste collector",
        "(EU) 2019/1148",
        "not for food",
        "Safety data sheets, your local codes and licensed practice",
        "cool to the touch: warmth lifts the film",
        "PLA softens from about 55 °C",
        "part to MINUS",
        "rinse twice",
        "Sand wet",
        "Polish slowly",
        "brightener the deposit is coarse and matt",
        "model's +Z up and its -Y side in front",
    ],
)
def test_the_bench_s_rules_are_in_it(text, words_):
    assert words_ in flat(text)


def test_current_time_and_metal_follow_from_the_area(text):
    """Area of the cup in closed form, 64 sides: floor and rim exact to the polygon. 13.231 um/h at 1 A/dm2."""
    n, wall, radius, depth = 64, 1.0, 10.0, 20.0
    outer, side = radius + wall, 2 * n * np.sin(np.pi / n)
    disc = n / 2 * np.sin(2 * np.pi / n)
    mm2 = side * (outer * (depth + wall) + radius * depth) + 2 * disc * outer**2
    line = flat(text)
    charge = mm2 * 0.030 * 8.96e-3 / 1.18549  # A h: 1.18549 g/A h of copper(II), from F = 96485.33212 C/mol
    assert f"{figure(charge)} A h in all" in line
    assert f"{figure(mm2 * 0.030 * 8.96e-3)} g" in line
    assert "the full current is 1.99 A/dm² (18.5 A/ft²)" in line  # the coat's last stage: 0.69 A on 34.7 cm2
    assert "Each 10 µm more or less takes 23 min" in line


def test_the_bench_mix_is_in_it(text):
    """100 g and 90 mL of 37 % acid for half a liter (common practice)."""
    line = flat(text)
    assert "100 g (3.5 oz) of copper sulfate pentahydrate" in line
    assert re.search(r"(89\.9|90\.0) mL \([\d.]+ fl oz\) of 37 % sulfuric acid", line)
    assert "1.174 g/mL at 20 °C" in line
    assert "copper sheet or pipe" in line


def test_the_pocket_its_vent_and_its_place(text):
    """The cup mouth down keeps pi r2 h of gas, 6.3 mL (a 64-gon: 6.27); its ceiling is 1 mm below the top."""
    line = flat(text)
    assert "6.3 mL of gas" in line
    assert "on the axis, 1 mm below the top" in line
    assert re.search(r"Vent of 4\.\d+ mm or more", line)
    assert "traps 6.3 mL of gas over" in line


def test_wire_hanging_pair_and_ballast(text):
    line = flat(text)
    assert words.way_up((1, 0, 0)).replace(" degrees", "°") in line
    assert "traps no gas; drains by itself" in line
    assert "At half time switch off" in line and "change to the second way up" in line
    assert "Hang 5.00 g (0.18 oz) of copper" in line
    assert "Weighs about 10.0 g (0.35 oz)" in line


def test_the_start_follows_the_coat(text):
    line = flat(text)
    assert (
        "bare copper, 0.50 mm (gauge 24, 3 K warm in air), at (0, 11, 18) mm (back, 3 mm below the top), pad 3.00 mm"
        in line
    )
    assert "loses 0.42 V" in line and "2 wires bring that under 0.050 V" in line
    assert "move it to (0, -11, 18) mm (front, 3 mm below the top)" in line
    assert "Lacquer the rest of it: bare it takes 0.040 A" in line
    assert "Set 0.10 A for 2 min; by then metal covers about 30 % of the part. (more would burn the rim" in line
    assert "Set 0.35 A for 3 min; by then metal covers the part" in line
    assert "stay bare, inside, at the bottom: too far from any wire" in line
    assert "two strips of metal tape" in line and "times width over gap is the sheet resistance" in line


def test_the_spread_of_the_deposit_and_where(text):
    line = flat(text)
    assert "12 µm (thinnest, at" in line and "28 µm (median)" in line and "75 µm (thickest, at" in line
    assert "plate for 2 h 50 min" in line
    assert "2.0 cm² (0.31 in²) below it (dull or bare) and 1.0 cm² (0.16 in²) above it (burnt" in line
    assert (
        "Expect about 0.44 V at the full current; set the voltage limit to 0.65 V" in line
    )  # 1.25 times the start's 0.52 V


def test_no_time_is_given_for_places_that_no_time_can_plate():
    whole = study()
    deep = replace(whole.results["field"], time_thinnest=np.inf)
    line = flat(plan.write(replace(whole, results={**whole.results, "field": deep})))
    assert "No time makes up for the thinnest places" in line


def test_no_voltage_limit_lies_above_the_supply_s_own():
    whole = study()
    high = replace(whole.results["field"], voltage=14.0)
    line = flat(plan.write(replace(whole, results={**whole.results, "field": high})))
    assert "Expect about 14 V at the full current; set the voltage limit to 15 V" in line


def test_narrow_openings_are_told(text):
    assert "A slot 2.00 mm wide, 6.00 mm deep at (0, -11, -5) mm (front, 6 mm below the top)" in flat(text)


def test_without_coat_and_field_rules_of_thumb_stand_in():
    whole = study()
    without = {name: result for name, result in whole.results.items() if name not in ("coat", "field")}
    contact = Contact(
        point=np.array((0, 11, 18)) * MM,
        normal=np.array((0, 1.0, 0)),
        face=0,
        piece=0,
        drop=0.4,
        hidden=False,
        place="back, 3 mm below the top",
        reasons=("in view: the wire leaves a mark", "loses 0.40 V"),
    )
    contacts = SimpleNamespace(ranked=(contact,), pieces=1)
    job = replace(whole.job, wires=())
    line = flat(plan.write(replace(whole, job=job, results={**without, "contacts": contacts})))
    assert "(0, 11, 18) mm (back, 3 mm below the top): in view: the wire leaves a mark; loses 0.40 V" in line
    assert "Set 0.17 A for 10 min" in line and "Set 0.35 A for 5 min" in line  # a quarter, then half of 0.693 A
    line = flat(plan.write(replace(whole, results=without)))
    assert "as given, at (0, 11, -5) mm (back, 6 mm below the top)" in line


def test_growth_and_layer_steps(text):
    """Coat 40 um and copper 30 um: a hole loses 0.14 mm, a 60 degree thread changes by 0.28 mm."""
    line = flat(text)
    assert "grows by 70.0 µm (2.8 mil)" in line
    assert "holes lose 0.14 mm of diameter" in line and "0.28 mm at the pitch diameter" in line


def test_every_default_is_told_and_what_was_set_is_not(text):
    line = flat(text[text.index("ASSUMED") :])
    for told in (
        "unit of the file mm",
        "plastic PLA",
        "walls 1.2 mm",
        "infill 0.15",
        "conductivity 25 S/m",
        "tank inside 300 x 200 x 250 mm",
        "liquid level 220 mm",
        "sheet resistance 0.5 ohm/sq",
        "current limit 5 A",
        "voltage limit 15 V",
        "layer height 0.05 mm",
        "temperature 25 °C",
        "plating range 0.5 to 5 A/dm²",
        "anodes: two plates",
        "acid 37 wt%",
        "exchange",
    ):
        assert told in line, told
    changed = study({**SETTINGS, "supply": {"max_A": 3}, "part": {"file": "cup.stl", "infill": 0.3}})
    line = flat(plan.write(changed))
    line = line[line.index("ASSUMED") :]
    assert "current limit" not in line and "infill" not in line and "voltage limit 15 V" in line


@pytest.mark.parametrize("gone", ["deposit", "gas", "drainage", "coat", "field", "hanging", "preparation", "narrow"])
def test_any_analysis_may_be_missing(gone):
    whole = study()
    without = {name: result for name, result in whole.results.items() if name != gone}
    line = flat(plan.write(replace(whole, results=without, reasons={gone: "left out"})))
    assert "CAUTIONS" in line and "None" not in line and "nan" not in line
    if gone != "preparation":
        assert "not computed (left out)" in line


def test_nothing_at_all_still_makes_a_plan():
    line = flat(plan.write(replace(study(), results={}, reasons={})))
    assert "CAUTIONS" in line and "not computed" in line


def test_a_small_supply_runs_longer_and_says_so():
    line = flat(plan.write(study({**SETTINGS, "supply": {"max_A": 0.2}})))
    assert "The supply gives 0.2 A" in line
    whole = study({**SETTINGS, "supply": {"max_A": 0.2}})
    results = {name: result for name, result in whole.results.items() if name != "coat"}
    line = flat(plan.write(replace(whole, results=results)))
    assert "up to 0.200 A" in line and "The job asks for 0.693 A" in line


def test_copies_share_the_tank():
    line = flat(plan.write(study({**SETTINGS, "rack": {"positions_mm": [[-50, 0, 110], [50, 0, 110]]}})))
    assert "2 parts hang in the tank" in line and "(all 2 parts together)" in line


def test_a_metal_part_is_not_painted():
    line = flat(plan.write(study({**SETTINGS, "coat": {"name": "none (metal part)"}})))
    assert "paint" not in line and "lifts the film" not in line


def test_warm_nickel_on_soft_plastic_is_said():
    line = flat(plan.write(study({**SETTINGS, "bath": {"name": "nickel, Watts"}})))
    assert "PLA softens from about 55 °C" in line and "sensitize skin and lungs" in line
    cautions = line.split("CAUTIONS")[1].split("ASSUMED")[0].lower()
    assert "copper" not in cautions and "hydrogen" in cautions and "boric acid" in cautions
    assert "nickel sulfate hexahydrate" in line and "sulfuric acid." not in line


def test_weak_acid_needs_no_licence_and_says_when_it_cannot_do():
    line = flat(plan.write(study({**SETTINGS, "batch": {"volume_L": 0.5, "acid_percent": 15}})))
    assert "2019/1148" not in line and "of 15 % sulfuric acid" in line
    line = flat(
        plan.write(study({**SETTINGS, "bath": {"name": "acid copper, high throw"}, "batch": {"acid_percent": 15}}))
    )
    assert "No batch" in line and "too weak" in line


def test_a_part_with_everything_wrong_stays_on_two_pages():
    """Many pockets, pools, mesh faults and warnings: the plan lists a few of each and counts the rest."""
    whole = study(slots=9)
    pocket = whole.results["gas"].pockets[0]
    many = replace(whole.results["gas"], pockets=(pocket,) * 40, level_underside_area=3 * CM2)
    pool = gas.Pool.of(pocket)
    held = replace(whole.results["drainage"], pools=(pool,) * 40, held_volume=40 * ML)
    text = plan.write(replace(whole, results={**whole.results, "gas": many, "drainage": held}))
    assert "38 smaller pockets" in flat(text)
    assert len(bench(text)) <= PAGES


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0"), (1234.5, "1230"), (12.345, "12.3"), (0.0012345, "0.00123"), (9.999, "10.0")]
)
def test_figures_have_three_digits_and_no_exponent(value, shown):
    assert figure(value) == shown


def test_units_are_set_with_their_signs():
    assert typeset("2 A/dm2, 30 um, 25 C, 3 cm2, 60 degrees") == "2 A/dm², 30 µm, 25 °C, 3 cm², 60°"
    assert typeset("Watts C and m2 of it; gum") == "Watts C and m² of it; gum"


@pytest.mark.parametrize(
    ("name", "acid", "restricted"),
    [("high throw", 37, True), ("bench mix", 37, True), ("bench mix", 15, False), ("decorative", 15, False)],
)
def test_the_law_asks_for_the_bath_as_well_as_the_acid_bought(name, acid, restricted):
    """Regulation (EU) 2019/1148: above 15 % by weight. 190 g/L in 1.162 kg/L are 16.4 %; 85 in 1.174 are 7.2 %."""
    line = flat(
        plan.write(study({**SETTINGS, "bath": {"name": f"acid copper, {name}"}, "batch": {"acid_percent": acid}}))
    )
    assert ("2019/1148" in line) == restricted
    assert bool(re.search(r"the finished bath \(16\.[34] % acid\)", line)) == (name == "high throw")


def test_no_hole_is_asked_for_to_free_a_drop():
    """Below 0.05 mL and 0.5 % of the plated area (common practice, no source): one line, and no vent."""
    whole = study()
    drop = replace(whole.results["gas"].pockets[0], volume=0.0018 * ML, area=0.002 * CM2)
    small = replace(whole.results["gas"], pockets=(drop,))
    line = flat(plan.write(replace(whole, results={**whole.results, "gas": small})))
    assert "] Vent of" not in line and "no hole for it, shake it off" in line
