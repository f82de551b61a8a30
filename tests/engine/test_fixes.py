"""The fixes of findings: each takes its finding away, and brings no other."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.findings import Code, RemedyCode
from addon.engine.progress import run_to_end
from addon.engine.reporting import verdict_text
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.units import A_PER_DM2, ML
from addon.engine.verdict import fixes, judge, places
from addon.engine.verdict.fixes import FixCode

from models import box, cup, moved, part, torus
from quick_study import BELL, QUICK, codes, finding, walked

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")


def test_the_fix_of_drag_out_brings_no_gas_back():
    """A position that holds no liquid but traps 2 mL, as the one before the fix of the gas did, is passed over."""
    found = finding(Code.LIQUID_HELD, VOLUME=3.0 * ML)
    hung = {"fits": True, "held": 0.0}
    suggestions = [
        SimpleNamespace(up=np.array([1.0, 0.0, 0.0]), trapped=2.0 * ML, **hung),
        SimpleNamespace(up=np.array([0.0, 1.0, 0.0]), trapped=0.0, **hung),
    ]
    study = SimpleNamespace(
        results=SimpleNamespace(hanging=SimpleNamespace(suggestions=suggestions)),
        hung=SimpleNamespace(part=SimpleNamespace(up=(0.0, 0.0, 1.0))),
        gas_as_hung=SimpleNamespace(trapped_volume=0.0),
    )
    assert fixes.fix(found, study).number == 1
    suggestions.pop()
    assert fixes.fix(found, study) is None


@pytest.mark.slow
def test_the_fix_of_trapped_gas_is_a_hanging_position_without_it(trace):
    as_set = {**QUICK, "part": {"hang": "as set"}}  # as in the panels
    study = walked(BELL, trace, as_set, only=("gas", "deposit", "hanging"))
    trapped = next(one for one in judge.verdict(study).changes if one.code == Code.GAS_TRAPPED)
    one = fixes.fix(trapped, study)
    assert one.code == FixCode.USE_HANGING
    position = study.results.hanging.suggestions[one.number]
    turned = {**QUICK, "part": {"up": position.up.tolist(), "hang": "as set"}}
    again = walked(BELL, trace, turned, only=("gas",)).results.gas
    assert again.trapped_volume <= 0.5 * study.results.gas.trapped_volume


def test_without_hanging_positions_the_holes_are_marked(trace):
    study = walked(BELL, trace)
    assert fixes.fix(judge.verdict(study).changes[0], study).code == FixCode.MARK_HOLES


@pytest.mark.slow
@pytest.mark.parametrize("infill", [0.0, 0.2])
def test_the_infill_of_the_fix_makes_the_print_sink(trace, infill):
    """A cube of 40 mm in ABS (1.04 g/mL) or PLA: with the infill of the fix it is heavier than the bath it displaces, and
    with one step less it floats, or is too near to it."""
    table = {**QUICK, "part": {"infill": infill, "walls_mm": 0.8}}
    study = walked(box((0.04, 0.04, 0.04)), trace, table, only=("hanging",))
    hanging = study.results.hanging
    assert hanging.start.floats
    floats = next(one for one in hanging.findings if one.code == Code.FLOATS)
    one = fixes.fix(floats, study)
    assert one.code == FixCode.SET_INFILL
    for share, sinks in ((one.value, True), (one.value - 2 * fixes.INFILL_STEP_SHARE, False)):
        again = {**QUICK, "part": {"infill": share, "walls_mm": 0.8}}
        assert walked(box((0.04, 0.04, 0.04)), trace, again, only=("hanging",)).results.hanging.start.floats != sinks


@pytest.mark.slow
def test_a_plastic_lighter_than_the_bath_floats_however_full_it_is(trace):
    """ABS, 1.04 g/mL, in a bath of more than 1.1 g/mL."""
    table = {**QUICK, "part": {"material": "ABS"}}
    study = walked(box((0.04, 0.04, 0.04)), trace, table, only=("hanging",))
    floats = next(one for one in study.results.hanging.findings if one.code == Code.FLOATS)
    assert fixes.fix(floats, study) is None


def test_a_density_is_set_only_where_the_bath_is_made_for_it(trace):
    """Half above the anode's limit: two thirds of the density, less a margin; not where that is below the bath's window."""
    study = walked(BELL, trace)
    over = finding(Code.ANODE_OVERLOADED, DENSITY=300.0, LIMIT_DENSITY=200.0)
    one = fixes.fix(over, study)
    assert one.code == FixCode.SET_DENSITY
    assert one.value == pytest.approx(0.95 * 2 / 3 * study.job.target.density)
    assert fixes.fix(finding(Code.ANODE_OVERLOADED, DENSITY=4000.0, LIMIT_DENSITY=200.0), study) is None
    held = walked(BELL, trace, {**QUICK, "supply": {"hold_V": 1.0}})
    assert fixes.fix(over, held) is None


@pytest.mark.slow
def test_a_mean_at_the_low_end_of_the_bath_s_range_leaves_much_dull_until_it_is_raised(trace, both_levels):
    """Half of a ring gets less than its mean, by the areas of its faces; the density of the fix leaves at most a quarter."""
    ring = torus(0.016, 0.004, around=32, across=16)
    table = {**QUICK, "bath": {"name": "nickel, Watts"}, "coat": {"name": "none (metal part)"}}
    study = walked(ring, trace, {**table, "target": {"density_A_dm2": 2.0}}, only=("field",))
    (dull,) = (found for found in study.results.field.findings if found.code == Code.DULL)
    low = study.job.bath.window[0]
    area, density = study.surface.plated_area, study.results.field.density
    below = area[density < low].sum() / area.sum()
    assert below > 0.3
    assert dull.spoilt_share == pytest.approx(below, abs=0.03)
    assert density[places.faces(dull, study)].max() < low
    fix = fixes.fix(dull, study)
    assert fix is not None and fix.code == FixCode.SET_DENSITY
    raised = walked(ring, trace, {**table, "target": {"density_A_dm2": fix.value / A_PER_DM2}}, only=("field",))
    assert not {Code.DULL, Code.BURNT, Code.ALMOST_BARE} & set(codes(raised.results.field.findings))
    weak = {**table, "target": {"density_A_dm2": 2.0}, "supply": {"max_A": 1.05 * study.results.field.current}}
    (short,) = (f for f in walked(ring, trace, weak, only=("field",)).results.field.findings if f.code == Code.DULL)
    assert short.remedy.code == RemedyCode.LARGER_SUPPLY and fixes.fix(short, study) is None


def test_no_density_is_proposed_that_burns_the_rim(trace):
    """The bell's hollow is dull and its rim near the top of the range: the same current cannot suit both."""
    study = walked(BELL, trace, only=("field",))
    (dull,) = (found for found in study.results.field.findings if found.code == Code.DULL)
    low, high = study.job.bath.window
    spread = study.results.field.density_spread
    assert spread.max * low / spread.p5 > high
    assert dull.remedy.code == RemedyCode.MOVE_ANODE and fixes.fix(dull, study).code == FixCode.TRY_LAYOUTS


SHEET = box((0.08, 0.004, 0.08), (8, 2, 8))
ONE_SIDED = {  # an anode in front of it alone, in a bath with a narrow range
    **QUICK,
    "bath": {"name": "nickel, Watts"},
    "coat": {"name": "none (metal part)"},
    "tank": {"size_mm": [110, 110, 130], "level_mm": 120},
    "anode": [{"plate_mm": [60, 60], "centre_mm": [0, -50, 60], "normal": [0, 1, 0]}],
    "target": {"density_A_dm2": 2.2},
}


@pytest.mark.slow
def test_other_anodes_are_tried_against_a_dull_back_and_the_field_with_them_is_bright(trace):
    """No density suits a sheet with one anode in front: its back gets a seventh. With the layout that is chosen, and its
    density, no face is dull or burns that was not, and no anode gives more than it bears."""
    only = ("deposit", "field")
    before = walked(SHEET, trace, ONE_SIDED, only=only)
    (dull,) = (found for found in before.results.field.findings if found.code == Code.DULL)
    assert dull.remedy.code == RemedyCode.MOVE_ANODE and fixes.fix(dull, before).code == FixCode.TRY_LAYOUTS
    tried = walked(SHEET, trace, ONE_SIDED, only=(*only, "layouts"))
    assert fixes.fix(dull, tried).code == FixCode.TRY_LAYOUTS
    trial, density = fixes.brightest(tried)
    job = replace(tried.job, anodes=trial.layout.anodes, target=replace(tried.job.target, density=density))
    after = run_to_end(studies.run(part(SHEET), job, trace, only=only))
    spoilt = {Code.DULL, Code.BURNT, Code.ALMOST_BARE, Code.ANODE_OVERLOADED, Code.NEAR_LIMITING, Code.DRAW_TOO_LARGE}
    assert not spoilt & set(codes(studies.findings.of_study(after)))
    burning = tuple(replace(one, peak=10 * one.peak) for one in tried.results.layouts.trials)
    none = replace(tried, results=replace(tried.results, layouts=replace(tried.results.layouts, trials=burning)))
    assert fixes.brightest(none) is None and fixes.fix(dull, none) is None, "no layout helps, and it is said no more"


def test_the_number_of_wires_is_the_one_that_is_needed(trace):
    study = walked(BELL, trace)
    one = fixes.fix(finding(Code.WIRES_TOO_FEW, WIRES=1, NEEDED_WIRES=3), study)
    assert (one.code, one.value) == (FixCode.SET_WIRES, 3)
    assert verdict_text.change(one) == "Use 3 Wires"


CUP = moved(cup(0.020, 0.050, 0.002, around=32, rows=3))  # it opens upwards, so it carries 63 mL out


def changed(job, study, fix):
    """The job with a fix, as data."""
    if fix.code == FixCode.USE_HANGING:
        up = study.results.hanging.suggestions[fix.number].up
        return replace(job, part=replace(job.part, up=tuple(float(x) for x in up)))
    if fix.code == FixCode.SET_COAT:
        ohms = float(tables.coat(fix.name)["sheet_resistance_ohm_sq"])
        return replace(job, coat=replace(job.coat, name=fix.name, sheet_resistance=ohms))
    if fix.code == FixCode.SET_INFILL:
        return replace(job, part=replace(job.part, infill=fix.value))
    if fix.code == FixCode.SET_PLASTIC:
        return replace(job, part=replace(job.part, material=fix.name))
    if fix.code == FixCode.SET_TEMPERATURE:
        return replace(job, bath=replace(job.bath, temperature=fix.value))
    assert fix.code == FixCode.SET_DENSITY
    return replace(job, target=replace(job.target, density=fix.value))


def held(study) -> float:
    return study.results.drainage.held_volume


NICKEL, METAL = {"name": "nickel, Watts"}, {"name": "none (metal part)"}
CHEAP, SOLVED = ("deposit", "hanging"), ("deposit", "field")
SMALL_ANODE = {"plate_mm": [90, 90], "centre_mm": [0, -60, 60], "normal": [0, 1, 0]}


@pytest.mark.parametrize(
    ("code", "only", "table"),
    [
        (Code.SUPPLY_TOO_SMALL, CHEAP, {"supply": {"max_A": 1.5}, "part": {"infill": 1.0}}),
        (Code.BELOW_WINDOW, CHEAP, {"target": {"density_A_dm2": 0.5}}),
        (Code.ABOVE_WINDOW, CHEAP, {"target": {"density_A_dm2": 8.0}, "supply": {"max_A": 20}}),
        (Code.FLOATS, CHEAP, {"part": {"infill": 0.1}}),
        (Code.PLASTIC_SOFT, CHEAP, {"bath": NICKEL, "part": {"infill": 1.0}}),
        (Code.BATH_TEMPERATURE, CHEAP, {"bath": {"temperature_C": 5.0}, "part": {"infill": 1.0}}),
        (Code.BURNT, SOLVED, {"coat": METAL, "target": {"density_A_dm2": 4.5}, "supply": {"max_A": 20}}),
        (Code.ANODE_OVERLOADED, SOLVED, {"coat": METAL, "anode": [SMALL_ANODE]}),
    ],
)
def test_a_fix_takes_its_finding_away_and_brings_no_other(trace, code, only, table):
    """A cube of 40 mm, in the job as it is and with what the button would set, checked as before."""
    whole = {name: {**QUICK.get(name, {}), **own} if isinstance(own, dict) else own for name, own in table.items()}
    cube, job = part(box((0.04, 0.04, 0.04), (4, 4, 4))), read_job({**QUICK, **whole})
    before = run_to_end(studies.run(cube, job, trace, only=only))
    asked = judge.to_change(studies.findings.of_study(before))
    one = fixes.fix(next(found for found in asked if found.code == code), before)
    assert one is not None
    after = run_to_end(studies.run(cube, changed(job, before, one), trace, only=only))
    left = set(codes(judge.to_change(studies.findings.of_study(after))))
    assert code not in left
    assert left <= set(codes(asked)), "it brings another finding"


@pytest.mark.slow
def test_the_fix_of_drag_out_lessens_it_and_burns_nothing(trace, both_levels):
    """On its side the cup's rim comes nearer to an anode and burns; the density that follows takes that away again."""
    made = part(CUP)
    how = {"only": ("gas", "drainage", "deposit", "field", "hanging"), "cache": studies.Cache()}
    job = read_job({**QUICK, "effort": {"rays": 16, "directions": 60, "panels": 1200}})
    before = run_to_end(studies.run(made, job, trace, **how))
    found = judge.to_change(studies.findings.of_study(before))
    assert Code.BURNT not in codes(found)
    one = fixes.fix(next(f for f in found if f.code == Code.LIQUID_HELD), before)
    assert one is not None and one.code == FixCode.USE_HANGING
    job = changed(job, before, one)
    hung = run_to_end(studies.run(made, job, trace, **how))
    assert held(hung) < 0.05 * held(before)
    also = fixes.follow_up(one, before, hung)
    if Code.BURNT in codes(studies.findings.of_study(hung)):
        assert also is not None and also.code == FixCode.SET_DENSITY
        hung = run_to_end(studies.run(made, changed(job, hung, also), trace, **how))
    came = set(codes(judge.to_change(studies.findings.of_study(hung)))) - set(codes(found))
    assert not came, came
    assert fixes.follow_up(one, hung, hung) is None, "what was there before is no matter of this change"


def test_what_burns_only_in_the_new_position_gets_a_lower_density_with_it(monkeypatch):
    """By hand: 2 A/dm2 with 6 at the rim, where the bath bears 4: 0.95 x 2 x 4 / 6. Not where it burnt before."""
    bath = SimpleNamespace(window=(100.0, 400.0), limiting=500.0)
    job = SimpleNamespace(bath=bath, target=SimpleNamespace(density=200.0), supply=SimpleNamespace(hold=None))
    field = SimpleNamespace(density_spread=SimpleNamespace(max=600.0))
    upright, hung = (SimpleNamespace(job=job, results=SimpleNamespace(field=field)) for _ in range(2))
    burns = [finding(Code.BURNT, SHARE=0.01)]
    found = {id(upright): [], id(hung): burns}
    monkeypatch.setattr(fixes.findings, "of_study", lambda study: found[id(study)])
    also = fixes.follow_up(fixes.Fix(FixCode.USE_HANGING), upright, hung)
    assert also is not None and also.code == FixCode.SET_DENSITY
    assert also.value == pytest.approx(0.95 * 200.0 * 400.0 / 600.0)
    assert fixes.follow_up(fixes.Fix(FixCode.SET_COAT), upright, hung) is None
    found[id(upright)] = burns
    assert fixes.follow_up(fixes.Fix(FixCode.USE_HANGING), upright, hung) is None


@pytest.mark.slow
@pytest.mark.parametrize("name", ["copper paint", "graphite lacquer"])
def test_the_coat_of_the_fix_asks_for_no_better_one(trace, name):
    """The cup of 165 cm2 loses too much on both paints; the fix takes the least conductive coat that is enough."""
    ohms = float(tables.coat(name)["sheet_resistance_ohm_sq"])
    table = {**QUICK, "coat": {"name": name, "sheet_resistance_ohm_sq": ohms}}
    study = walked(CUP, trace, table, only=("contacts", "coat"))
    poor = next(f for f in study.results.coat.findings if f.code == Code.COAT_TOO_POOR)
    one = fixes.fix(poor, study)
    assert one is not None and one.code == FixCode.SET_COAT
    better = changed(study.job, study, one)
    assert better.coat.sheet_resistance < ohms
    again = run_to_end(studies.run(part(CUP), better, trace, only=("contacts", "coat")))
    assert Code.COAT_TOO_POOR not in codes(again.results.coat.findings)
    before, after = (set(codes(judge.to_change(studies.findings.of_study(one)))) for one in (study, again))
    assert after < before, "it brings another finding"
    between = [float(tables.coat(other)["sheet_resistance_ohm_sq"]) for other in tables.names("coats")]
    assert not [x for x in between if better.coat.sheet_resistance < x < min(ohms, 0.1)], "a paint in between is enough"
    assert verdict_text.change(one) == f"Coat with {one.name}"
