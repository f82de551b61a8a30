"""The verdict on a part whose gas, weight and wires are known by hand, and the rules of what is said first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.findings import Code, Finding, Quantity, RemedyCode, Severity
from addon.engine.progress import run_to_end
from addon.engine.reporting import finding_text, verdict_text
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.units import A_PER_DM2, CM2, GRAM, ML, MM
from addon.engine.verdict import fixes, judge, places
from addon.engine.verdict.fixes import FixCode
from addon.engine.verdict.judge import Section

import every_text
from models import box, cup, moved, part, torus

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")

QUICK = {"effort": {"rays": 16, "directions": 50, "panels": 600}, "part": {"hang": "as set"}}
MAX_HEADLINE_CHARS = 60  # a line of the panel
RADIUS, DEPTH = 0.010, 0.020  # m, of the bell's hollow
BELL = moved(cup(RADIUS, DEPTH, 0.001, rows=4), turn=np.diag([1, -1, -1]))  # it opens downwards


def walked(model, trace, table=QUICK, only=("gas", "drainage", "deposit"), **how):
    return run_to_end(studies.run(part(model), read_job(table), trace, only=only, **how))


def finding(code: Code, severity: Severity = Severity.SPOILS, share: float = 0.0, **quantities: float) -> Finding:
    return Finding(code, severity, {Quantity[key]: value for key, value in quantities.items()}, spoilt_share=share)


def codes(findings) -> list[Code]:
    return [one.code for one in findings]


def test_every_code_has_one_section_at_most():
    listed = [code for found in judge.SECTIONS.values() for code in found]
    assert len(listed) == len(set(listed))
    assert all(isinstance(judge.section(code), Section) for code in Code)


def test_the_worst_come_first_by_severity_then_by_what_they_spoil():
    given = [
        finding(Code.LIQUID_HELD, Severity.COSTS, 0.9, VOLUME=9 * ML),
        finding(Code.ALMOST_BARE, Severity.SPOILS, 0.03),
        finding(Code.GAS_TRAPPED, Severity.SPOILS, 0.28, VOLUME=13 * ML),
        finding(Code.PLASTIC_SOFT, Severity.STOPS, 0.0),
    ]
    assert codes(judge.to_change(given)) == [Code.PLASTIC_SOFT, Code.GAS_TRAPPED, Code.ALMOST_BARE, Code.LIQUID_HELD]


@pytest.mark.parametrize(
    ("volume", "share", "told"),
    [(0.04, 0.004, False), (0.06, 0.004, True), (0.04, 0.006, True), (0.06, 0.006, True)],
)
def test_a_pocket_is_trivial_below_a_twentieth_of_a_milliliter_and_half_a_percent(volume, share, told):
    one = finding(Code.GAS_TRAPPED, Severity.SPOILS, share, VOLUME=volume * ML)
    assert bool(judge.to_change([one])) == told


@pytest.mark.parametrize(("share", "told"), [(0.0004, False), (0.0049, False), (0.0051, True)])
def test_an_area_is_trivial_below_half_a_percent(share, told):
    """Rounding of single precision puts a face or two of a clean model inside another shell."""
    for code in judge.AREA_CODES:
        assert bool(judge.to_change([finding(code, SHARE=share)])) == told


def test_notes_and_what_the_hands_do_at_the_bench_are_no_changes():
    notes = [finding(code, Severity.NOTE) for code in Code]
    conduct = [finding(code) for code in judge.BENCH_CODES]
    assert judge.to_change([*notes, *conduct]) == []


def test_one_thing_is_said_once():
    """A bath whose density is too high burns: both say to lower the current."""
    given = [finding(Code.BURNT, share=0.2), finding(Code.ABOVE_WINDOW, share=1.0)]
    assert codes(judge.to_change(given)) == [Code.ABOVE_WINDOW]


def test_a_bell_s_hollow_is_bare_and_nothing_else_is(trace):
    """Its wall and crown by hand: 2 pi r h + pi r^2, less what a polygon of 64 sides lacks."""
    study = walked(BELL, trace)
    found = judge.verdict(study)
    hollow = 2 * np.pi * RADIUS * DEPTH + np.pi * RADIUS**2
    assert found.bare_area == pytest.approx(hollow, rel=2e-3)
    assert codes(found.changes)[0] == Code.GAS_TRAPPED
    assert found.current == pytest.approx(2.0 * A_PER_DM2 * study.surface.plated_area.sum())
    assert found.weight_gain == study.results.deposit.mass
    assert found.gate is None and found.more == 0


def test_only_the_show_faces_count_as_visible(trace):
    """With the outside of the crown for show, which the gas does not reach, nothing visible is bare."""
    whole = part(BELL)
    corners = whole.points[whole.triangles]
    top = (corners[:, :, 2] > whole.points[:, 2].max() - 1e-9).all(axis=1)
    assert top.any()
    marked = part(BELL, show=top)
    study = run_to_end(studies.run(marked, read_job(QUICK), trace, only=["gas"]))
    assert judge.bare_area(study) == pytest.approx(0.0, abs=1e-12)


def test_nothing_is_said_to_be_bare_before_gas_or_current_are_computed(trace):
    found = judge.verdict(walked(BELL, trace, only=("deposit",)))
    assert found.bare_area is None
    assert found.changes == ()
    assert verdict_text.figures(found)[3] == ("Bare Visible Area", "-")


def test_what_nobody_asked_for_is_no_change_but_what_failed_is(trace):
    """A tank of 20 mm has no room for the bell: the thickness has no result, and a larger tank is the change."""
    small = {**QUICK, "tank": {"size_mm": [20, 20, 20], "level_mm": 15}}
    study = walked(BELL, trace, small, only=("deposit", "field"))
    (one,) = judge.verdict(study).changes
    assert one.code == Code.NOT_COMPUTED and one.names["result"] == "field"
    assert fixes.fix(one, study).code == FixCode.ENLARGE_TANK


@pytest.mark.parametrize(("longest", "factor"), [(1.0e-3, 25.4), (5.0, 0.001)])
def test_a_wrong_scale_is_all_that_is_said(trace, longest, factor):
    """1 mm is 25.4 mm if its millimeters are inches; 5 m is 5 mm, or 127 mm in inches."""
    study = walked(box((longest, longest, longest)), trace)
    found = judge.verdict(study)
    assert found.gate is not None and found.changes == () and found.more == 0
    one = fixes.fix(found.gate, study)
    assert one.code == FixCode.SCALE_IMPORT
    assert longest * one.value == pytest.approx(found.gate.quantities[Quantity.LIKELY_LENGTH])


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


@pytest.mark.parametrize(("walls", "sinks"), [(1.2, True), (0.1, False)])
def test_an_open_mesh_says_what_is_known_of_floating(trace, walls, sinks):
    """A plate of 40 x 40 x 2 mm without one face: 3.2 mL of bath at 1.172 g/mL weigh less than as much PLA, but more than
    walls of 0.1 mm."""
    points, triangles = box((0.04, 0.04, 0.002))
    table = {**QUICK, "part": {"hang": "as set", "walls_mm": walls}}
    study = walked((points, triangles[2:]), trace, table, only=("hanging",))
    (said,) = [one for one in studies.findings.of_study(study) if one.code == Code.MESH_OPEN]
    assert (said.quantities[Quantity.MASS] == 0.0) == sinks
    text = finding_text.text(said)
    assert ("It sinks all the same" in text) == sinks and ("It may float" in text) != sinks
    assert "unknown" not in text and "Fill Holes" in text
    alone = studies.findings.faults(walked((points, triangles[2:]), trace, table, only=("deposit",)))
    assert "Weight and floating are unknown" in finding_text.text(alone[0])


def test_a_scan_says_once_that_it_has_no_volume(trace):
    """Open edges and edges of three faces: both told how much it may float, in one plan."""
    points, triangles = box((0.04, 0.04, 0.002))
    wing = np.array([[*triangles[-1][:2], len(points)]], dtype=triangles.dtype)
    mesh = np.vstack([points, points.mean(axis=0) + (0, 0, 0.02)]), np.vstack([triangles[2:], wing])
    study = walked(mesh, trace, {**QUICK, "part": {"hang": "as set"}}, only=("hanging",))
    told = [finding_text.text(one) for one in studies.findings.faults(study)]
    assert len(told) > 1 and sum("float" in one or "sinks" in one for one in told) == 1


def test_the_lines_tell_the_figures():
    assert (
        verdict_text.headline(finding(Code.GAS_TRAPPED, VOLUME=12.6 * ML, AREA=25.97 * CM2))
        == "13 mL of trapped gas leave 26 cm2 bare"
    )
    assert verdict_text.headline(finding(Code.FLOATS, MASS=5.72 * GRAM)) == "The print floats: 5.7 g too light"
    assert verdict_text.headline(finding(Code.WRONG_SCALE, LENGTH=80_000 * MM)) == "The part is 80 m long: wrong unit?"


def test_every_finding_has_a_headline_of_its_own_on_one_line_of_a_panel():
    for one in every_text.findings():
        line = verdict_text.headline(one)
        assert 0 < len(line) <= MAX_HEADLINE_CHARS and not line.endswith("."), (one.code, line)


def test_a_headline_says_what_is_wrong_and_not_what_to_do():
    one = Finding(Code.FACES_TURNED, Severity.COSTS, {Quantity.COUNT: 3, Quantity.SHELLS: 0})
    assert verdict_text.headline(one) == "3 faces look the wrong way (normals)"


def test_every_fix_has_a_label():
    assert all(verdict_text.change(fixes.Fix(code, 1.0, up=(0.0, 0.0, 1.0), name="PETG")) for code in FixCode)


def test_the_report_tells_the_verdict_and_the_documentation_its_keys(trace):
    from addon.engine.reporting import report

    study = walked(BELL, trace)
    table = report.build(study, {})
    assert table["verdict"]["changes"] == ["gas-trapped"]
    assert table["verdict"]["bare_visible_cm2"] == pytest.approx(judge.bare_area(study) / CM2, rel=1e-5)
    docs = (Path(__file__).resolve().parents[2] / "docs" / "headless.md").read_text(encoding="utf-8")
    assert all(key in docs for key in table["verdict"])


def test_a_finding_is_shown_where_it_is(trace):
    """Gas: inside the bell, whose wall and roof are within the hollow's radius; a bare spot: about its own place."""
    found = walked(BELL, trace)
    gas = next(one for one in studies.findings.of_study(found) if one.code == Code.GAS_TRAPPED)
    middles = found.surface.centroid[places.faces(gas, found)]
    assert len(middles) and np.hypot(middles[:, 0], middles[:, 1]).max() <= RADIUS
    spot = tuple(found.surface.centroid[7])
    near = found.surface.centroid[places.faces(Finding(Code.COAT_STAYS_BARE, Severity.SPOILS, places=(spot,)), found)]
    off = np.linalg.norm(near - spot, axis=1)
    assert off.min() == 0 and off.max() <= places.MAX_DISTANCE_OVER_SIZE * found.surface.size
    assert not len(places.faces(Finding(Code.FLOATS, Severity.SPOILS), found))
