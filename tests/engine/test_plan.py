"""The plan: what a person at the bench needs is on two pages, whatever is missing or wrong.

Numbers are tested on findings, on the schedule and on `handling`; here it is whether they reach the page.
"""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from addon.engine import handling, schedule
from addon.engine.coat.contact import Contact
from addon.engine.field import cautions as field_cautions
from addon.engine.findings import Code, Severity
from addon.engine.reasons import Reason, ReasonCode
from addon.engine.reporting import finding_text, plan, plan_fits, plan_ready, plan_steps, plan_wire, words
from addon.engine.reporting.instructions_steps import Step
from addon.engine.reporting.plan_bench import Bench
from addon.engine.reporting.plan_text import PAGE_COLUMNS, figure, sentence, typeset
from addon.engine.study import Results
from addon.engine.study import findings as study_findings
from addon.engine.trapping import gas
from addon.engine.units import CM2, ML, MM

from cup_study import SETTINGS, WIRE, hanging, study, suggestion
from plan_checks import MAX_LINES as PAGES
from plan_checks import faults, flat, pages, steps


@pytest.fixture(scope="module")
def text() -> str:
    return plan.write(study())


def test_two_pages_before_the_appendix(text):
    assert len(pages(text)) <= PAGES and max(map(len, text.splitlines())) <= PAGE_COLUMNS <= 100
    assert text.isprintable() or set(filter(lambda c: not c.isprintable(), text)) == {"\n"}


def test_the_steps_stand_in_the_order_of_the_hands(text):
    """Seal before the coat, weigh before the bath, wires before the coat is checked, off before in and out."""
    found = [re.match(r"\[ \] \d+ ____ (\S+)", one)[1] for one in steps(text)]
    assert found == [
        "Sand",
        "Seal",
        "Fix",
        "Coat",
        "Weigh",
        "Bring",
        "Dip",
        "Output",
        "Hang",
        "Start:",
        "Set",
        "Every",
        "At",
        "Rinse",
        "Dry",
    ]


@pytest.mark.parametrize(
    "settings",
    [{}, {"coat": {"name": "none (metal part)"}}, {"bath": {"name": "nickel, Watts"}, "part": {"material": "ABS"}}],
)
def test_twelve_to_fifteen_steps_each_with_a_box_a_line_for_the_time_and_a_check(settings):
    found = steps(plan.write(study({**SETTINGS, **settings})))
    assert 12 <= len(found) <= 15
    for number, one in enumerate(found, 1):
        assert re.match(rf"\[ \] {number} ____ [A-Z]", one), one
        assert " Check: " in one


def test_the_last_step_weighs_against_the_metal_of_the_deposit(text):
    whole = study()
    grams = whole.results.deposit.mass / 1e-3
    assert f"Wanted: {grams:.2f} g more than before" in steps(text)[-1]  # a scale to 0.01 g shows no more


def test_it_does_not_contradict_itself(text):
    assert faults(text, study()) == []


def test_every_finding_that_spoils_stands_on_the_first_page_once():
    whole = study()
    text = flat(plan.write(whole))
    for one in study_findings.of_study(whole):
        said = flat(typeset(sentence(finding_text.text(one))))
        assert text.count(said) == 1, said
        if one.severity in (Severity.STOPS, Severity.SPOILS):
            assert said in flat("\n".join(pages(plan.write(whole))))


def test_a_step_points_back_to_what_spoils_it(text):
    """The cup floats: that is told first, and the step at which it goes in says so."""
    label = re.search(r"\[ \] (R\d+) The print floats", text)[1]
    (enter,) = [one for one in steps(text) if "Hang it" in one]
    assert f"Mind {label}." in enter


def test_no_voltage_limit_lies_above_the_supply_s_own():
    whole = study()
    high = replace(whole.results.field, voltage=14.0)
    line = flat(plan.write(replace(whole, results=replace(whole.results, field=high))))
    assert "A and 15 V" in line and "14 V on the meter" in line


def test_without_coat_and_field_rules_of_thumb_stand_in():
    whole = study()
    without = replace(whole.results, coat=None, field=None)
    contact = Contact(
        point=np.array((0, 11, 18)) * MM,
        normal=np.array((0, 1.0, 0)),
        face=0,
        piece=0,
        drop=0.4,
        hidden=False,
        place=WIRE.place,
        reasons=(Reason(ReasonCode.IN_VIEW),),
    )
    contacts = SimpleNamespace(ranked=(contact,), best=(contact,), pieces=1)
    job = replace(whole.job, wires=())
    line = flat(plan.write(replace(whole, job=job, results=replace(without, contacts=contacts))))
    assert f"at (0, 11, 18) mm ({words.place_name(WIRE.place)})" in line
    assert "0.17 A for 10 min, then 0.35 A for 5 min" in line  # a quarter, then half of 0.693 A
    line = flat(plan.write(replace(whole, results=without)))
    assert "at (0, 11, -5) mm (back, 6 mm below the top)" in line


def test_what_was_set_is_not_told_as_assumed():
    changed = study({**SETTINGS, "supply": {"max_A": 3}, "part": {"file": "cup.stl", "infill": 0.3}})
    for job, told in ((study(), {"current limit 5 A", "infill 0.15"}), (changed, set())):
        line = flat(plan.write(job).split("ASSUMED")[1])
        assert {one for one in ("current limit 5 A", "infill 0.15") if one in line} == told
        assert "voltage limit 15 V" in line and "Tafel kinetics" in line


@pytest.mark.parametrize("gone", ["deposit", "gas", "drainage", "coat", "field", "hanging", "preparation", "narrow"])
def test_any_analysis_may_be_missing(gone):
    whole = study()
    without = whole.results.without(gone)
    line = flat(plan.write(replace(whole, results=without, reasons={gone: "left out"})))
    assert "CAUTIONS" in line and not re.search(r"\b(None|nan|inf)\b", line)
    assert "left out" in line


def test_nothing_at_all_still_makes_a_plan():
    line = flat(plan.write(replace(study(), results=Results(), reasons={})))
    assert "CAUTIONS" in line and "not computed" in line


def test_copies_share_the_tank():
    line = flat(plan.write(study({**SETTINGS, "rack": {"positions_mm": [[-50, 0, 110], [50, 0, 110]]}})))
    assert "2 parts hang in the tank" in line and "all 2 parts together" in line


def test_a_metal_part_is_not_painted():
    line = flat(plan.write(study({**SETTINGS, "coat": {"name": "none (metal part)"}})))
    assert "paint" not in line and "lifts the film" not in line and "Seal" not in line
    assumed = line.split("ASSUMED")[1]
    assert not [name for name in ("infill", "plastic", "coat", "print:") if name in assumed]


def test_weak_acid_needs_no_license_and_says_when_it_cannot_do():
    line = flat(plan.write(study({**SETTINGS, "batch": {"volume_L": 0.5, "acid_percent": 15}})))
    assert "2019/1148" not in line and "of 15 % sulfuric acid" in line
    weak = {**SETTINGS, "bath": {"name": "acid copper, high throw"}, "batch": {"acid_percent": 15}}
    assert "too weak" in flat(plan.write(study(weak)))


def test_a_part_with_everything_wrong_stays_on_two_pages():
    """Many pockets, pools, mesh faults and warnings: the plan lists a few of each and counts the rest."""
    whole = study(slots=9)
    pocket = whole.results.gas.pockets[0]
    many = replace(whole.results.gas, pockets=(pocket,) * 40, level_underside_area=3 * CM2)
    held = replace(whole.results.drainage, pools=(gas.Pool.of(pocket),) * 40, held_volume=40 * ML)
    text = plan.write(replace(whole, results=replace(whole.results, gas=many, drainage=held)))
    assert len(pages(text)) <= PAGES


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0"), (1234.5, "1230"), (12.345, "12.3"), (0.0012345, "0.00123"), (9.999, "10.0")]
)
def test_figures_have_three_digits_and_no_exponent(value, shown):
    assert figure(value) == shown


def test_units_are_set_with_their_signs():
    assert typeset("2 A/dm2, 30 um, 25 C, 3 cm2, 60 degrees") == "2 A/dm², 30 µm, 25 °C, 3 cm², 60°"
    assert typeset("Watts C and m2 of it; gum") == "Watts C and m² of it; gum"


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("the part floats", "The part floats."),
        ("res4.ply: 2 of 9 faces were left out", "res4.ply: 2 of 9 faces were left out."),
        ("scan: the mesh is open", "scan: the mesh is open."),
        ("part.walls_mm: walls meet.", "part.walls_mm: walls meet."),
    ],
)
def test_a_name_keeps_its_small_letter(said, shown):
    assert sentence(said) == shown


def test_no_hole_is_asked_for_to_free_a_drop():
    """Below 0.05 mL and 0.5 % of the plated area (common practice, no source): no vent."""
    whole = study()
    drop = replace(whole.results.gas.pockets[0], volume=0.0018 * ML, area=0.002 * CM2)
    small = replace(whole.results.gas, pockets=(drop,), findings=())
    line = flat(plan.write(replace(whole, results=replace(whole.results, gas=small))))
    assert "Cut a vent" not in line


def test_polishing_is_told_where_it_wears_through(text):
    """12 um at the rim, 75 um at the floor: what is under 10 um is none of it, and the plan does not say so."""
    whole = study()
    assert handling.of_study(whole).worn_share == 0.0
    assert "of the area the deposit is thinner than that" not in flat(text)
    thin = replace(whole.results.field, thickness=whole.results.field.thickness / 2)
    worn = replace(whole, results=replace(whole.results, field=thin))
    share = handling.of_study(worn).worn_share
    assert 0 < share < 1 and f"on {100 * share:.0f} % of the area" in flat(plan.write(worn))


def test_trapped_gas_is_a_finding_and_its_vent_is_told_once(text):
    assert any(one.code == Code.GAS_TRAPPED for one in study_findings.of_study(study()))
    assert flat(text).lower().count("cut a vent of") == 1


def test_a_job_that_is_stopped_gets_no_steps():
    """PLA softens at 55 C, and the Watts bath is at 55 C: no current, no time, and the first page says why."""
    whole = study({**SETTINGS, "bath": {"name": "nickel, Watts"}})
    text = plan.write(whole)
    assert schedule.of_study(whole) is None and faults(text, whole) == []
    assert "NOT TO BE PLATED AS IT IS" in text and "R1 STOP: PLA softens at 55" in text
    (only,) = steps(text)
    assert "Do not start" in only and "while R1 stands" in only and "Set " not in text.split("APPENDIX")[0]


def test_what_the_bath_s_entry_adds_is_measured_out():
    """Watts: 0.2 g/L of wetter and 10 mL/L of additive at make-up (data/baths.toml); half a liter."""
    whole = study({**SETTINGS, "bath": {"name": "nickel, Watts"}, "part": {"material": "ABS"}})
    line = flat(plan.write(whole))
    assert "100 mg of sodium lauryl sulfate" in line and "5.00 mL (0.17 fl oz) of brightener and leveler" in line
    assert "Bring the pH to 3.5 to 4.5: dilute sulfuric acid lowers it" in line


def kinds(whole) -> dict[str, Step]:
    """Name of a step -> its row of the table."""
    bench = Bench.of(whole)
    return {row.name: row.kind for row in plan_steps.rows(bench, plan.lettered(plan.sections(bench)))}


ABS = {"part": {"material": "ABS"}}


def test_nickel_is_never_without_current():
    """Nickel that was without it turns passive, and more peels (Products Finishing, Peeling and Chipping Nickel): no wire
    is moved, nothing is dipped again, nothing is plated on what has dried. Copper bears all three."""
    loose = replace(hanging(), rigid_wire=None)
    nickel = study({**SETTINGS, **ABS, "bath": {"name": "nickel, Watts"}}, hanging=loose)
    copper = study(hanging=loose)
    assert plan_wire.moved(Bench.of(nickel)) == "" != plan_wire.moved(Bench.of(copper))
    assert kinds(nickel)["move"] == Step.MOVE_NICKEL and kinds(nickel)["dry"] == Step.DRY_NICKEL
    assert kinds(copper)["move"] == Step.MOVE_HALF and kinds(copper)["dry"] == Step.DRY


def test_each_part_of_a_rack_gets_its_wires():
    rack = study({**SETTINGS, "rack": {"positions_mm": [[-50, 0, 110], [50, 0, 110]]}})
    assert [kinds(rack)[name] for name in ("wires", "weigh", "enter", "dry")] == [
        Step.WIRES_EACH,
        Step.WEIGH_EACH,
        Step.ENTER_EACH,
        Step.DRY_EACH,
    ]


def test_electroless_copper_is_no_paint():
    coat = study({**SETTINGS, "coat": {"name": "electroless copper"}})
    assert kinds(coat)["coat"] == Step.COAT_ELECTROLESS


@pytest.mark.parametrize(
    ("coat", "order"),
    [
        ("copper paint", ["Tape over the faces", "Coat the whole part", "pull the tape off"]),
        ("electroless copper", ["electroless copper, about", "Cover the faces that stay bare with stop-off"]),
        ("none (metal part)", ["Cover the faces that stay bare with stop-off", "Bring the bath"]),
    ],
)
def test_no_coat_lies_where_faces_stay_bare(coat, order):
    """Lacquer before the spray is coated and plated with the rest: the plan told so."""
    whole = study({**SETTINGS, "coat": {"name": coat}})
    bare = np.arange(len(whole.surface.triangles)) % 2 == 0
    masked = replace(whole, surface=replace(whole.surface, plated=whole.surface.plated & ~bare))
    text = plan.write(masked)
    told = "\n".join(steps(text))
    assert [told.index(words) for words in order] == sorted(told.index(words) for words in order)
    assert ("pull the tape off" in told) == (coat == "copper paint")
    assert faults(text, masked) == []


def test_the_acid_dip_has_five_percent():
    """50 g of acid in a kilogram, at 1.0317 g/mL (handbook): of 37 % acid at 1.277 g/mL, 54.6 mL a half liter."""
    told = plan_ready.dip(0.5e-3, 0.37)
    whole, acid = 0.5 * 1031.7, 54.6e-3 * 1277.0
    assert 0.37 * acid / whole == pytest.approx(0.05, rel=2e-3) and "54.6 mL" in told
    assert whole - acid == pytest.approx(447e-3 * 998.2, rel=2e-3) and "447 mL" in told


def test_the_rigid_wire_stays_where_it_holds_the_part():
    """The part would rise if the wire that is clamped above were taken off it at half time."""
    held = Bench.of(study())
    assert held.hung.rigid_wire and plan_wire.carrying(held) == {0} and plan_wire.moved(held) == ""


def test_what_holds_a_metal_part_feeds_it():
    """One wire where it hangs, not a second one for the current: metal loses nothing along it."""
    held = SimpleNamespace(points=np.array([[0.0, 0.0, 0.001]]), tether=False, wires=1)
    up = suggestion((0, 0, 1), hold=held)
    sinking = replace(hanging(), rigid_wire=None, ballast=0.0, pair=None, suggestions=(up,))
    for coat, alone in (("none (metal part)", True), ("copper paint", False)):
        whole = study({**SETTINGS, "coat": {"name": coat}}, hanging=sinking)
        bench = Bench.of(whole)
        assert plan_wire.hung_alone(bench) is alone and bool(plan_wire.beside(bench)) is not alone
        assert (bench.where(held.points[0]) in plan_wire.wires(bench, {"wires": "C"})) is alone


def test_what_the_bath_s_upper_end_is_passed_by_in_a_percent_does_not_burn():
    """A ring at 2.0 A/dm2 in a bath to 2.0 was to be burnt on half of its area, at 2.04."""
    whole = study().results.field
    job = study().job
    limit = min(job.bath.window[1], job.bath.limiting)
    for over, burnt in ((1.02, False), (1.2, True)):
        field = replace(whole, density_spread=replace(whole.density_spread, max=over * limit))
        assert field_cautions.burns(job, field, 1.5 * field.burnt_area) is burnt


@pytest.mark.parametrize(
    ("rough", "shown"),
    [((1.9e-6, 23e-4), "0 dm2 (0 in2) of steps to sand in place of 0.23"), ((0.0, 3e-6), "up): supports touch")],
)
def test_a_speck_of_layer_steps_is_no_area_to_sand(rough, shown):
    """A scan was promised 0.00019 dm2 of steps to sand, a bolt 0 cm2 in place of 0."""
    better, now = (SimpleNamespace(up=(0.0, 0.0, -1.0), rough_area=area, support_area=0.01) for area in rough)
    results = SimpleNamespace(orientation=SimpleNamespace(better=better, as_set=now))
    line = str(plan_fits.print_up(SimpleNamespace(study=SimpleNamespace(results=results)))[0])
    assert shown in line
