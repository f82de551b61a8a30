"""One button, what to change, and what a fix does: the same as the engine tells, undone in one step, few words."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import bpy
import numpy as np
import pytest

import panels
from addon.engine.study import USUAL
from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.reporting import language as dictionary
from addon.engine.reporting import report, verdict_text
from addon.engine.units import A_PER_DM2, CM2
from addon.engine.verdict.fixes import FixCode
from addon.engine.verdict.judge import Section
from addon.suite import judged, language
from addon.suite.draw import maps, overlay
from addon.suite.operators import check, fix, show, work
from addon.suite.scene import roles, settings, viewing
from addon.suite.session import session

from models import box, cup, moved
from scene import kept

pytestmark = pytest.mark.usefixtures("platewright")
ROOT = Path(__file__).resolve().parents[2]
BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))  # meters; it opens downwards
STEPS = ("part", "print", "hang", "coat", "bath", "plan")
MAX_NUMBERS, MAX_BUTTONS, MAX_WORDS = 15, 8, 80  # of the default tab after a check
MAX_STEP_NUMBERS = 10


@pytest.fixture(autouse=True)
def quick(platewright) -> None:
    effort = settings.of(bpy.context.scene).effort
    effort.rays, effort.directions, effort.panels = 8, 60, 500


def changes() -> list[Code]:
    return [one.code for one in judged.judgment(kept().study).verdict.changes]


def fix_of(code: Code) -> int:
    return changes().index(code)


@pytest.mark.slow
def test_one_press_computes_all_and_shows_the_worst_map(add):
    add(BELL)
    assert bpy.ops.platewright.check() == {"FINISHED"}
    assert set(USUAL) <= set(kept().study.results.names)
    assert judged.missing(kept().study) == []
    assert changes()[0] == Code.GAS_TRAPPED
    assert viewing.of(bpy.context).shown == "gas"


def test_the_steps_of_the_check_are_all_that_is_usual_and_their_shares_the_whole():
    steps = (*check.STEPS, *check.AFTER_VERDICT)
    assert sorted(name for _, names, _ in steps for name in names) == sorted(USUAL)
    assert sum(share for *_, share in steps) == pytest.approx(1.0)


@pytest.mark.slow
def test_the_verdict_stands_before_what_it_does_not_need(add):
    """Everything that the tab tells of the verdict is drawn before the print direction is looked for, and stays."""
    add(BELL)
    work = check.Checking()
    steps = work.start(bpy.context)
    for step in steps:
        if step.sentence.startswith("the verdict stands"):
            break
    assert not set(judged.AFTER_VERDICT) & set(kept().study.results.names)
    assert judged.owed(kept().study) == [] and judged.missing(kept().study) == list(judged.AFTER_VERDICT)
    assert viewing.of(bpy.context).shown == "gas"
    assert session.state(judged.Checks).last is not None
    early = judged.judgment(kept().study)
    drawn = panels.draw(panels.classes()[0])
    for _ in steps:
        pass
    late = judged.judgment(kept().study)
    assert early is not late, "the print direction was looked for"
    assert [one.code for one in early.verdict.changes] == [one.code for one in late.verdict.changes]
    assert early.fixes == late.fixes and early.worst == late.worst
    after = panels.draw(panels.classes()[0])
    assert (drawn.facts, drawn.buttons) == (after.facts, after.buttons) and len(drawn.facts) == 4


def test_a_fix_that_brings_another_fault_is_made_with_what_takes_it_away(add, monkeypatch):
    """The other change is made once, in the same press, and said; the check before it is compared with nothing."""
    add(BELL)
    bpy.ops.platewright.measure()
    chosen, asked = settings.of(bpy.context.scene), []

    def follow_up(made, before, study):
        asked.append((made.code, before))
        return fix.Fix(FixCode.SET_DENSITY, 1.5 * A_PER_DM2)

    monkeypatch.setattr(fix.fixes, "follow_up", follow_up)
    monkeypatch.setattr(check, "STEPS", check.STEPS[:1])
    monkeypatch.setattr(check, "USUAL", check.QUICK)
    before = kept().study
    assert bpy.ops.platewright.fix(number=fix_of(Code.GAS_TRAPPED)) == {"FINISHED"}
    assert asked == [(FixCode.MARK_HOLES, before)]
    assert chosen.target.density == pytest.approx(1.5)


@pytest.mark.slow
def test_layouts_are_tried_and_applied_only_where_one_helps(add, monkeypatch):
    """No anodes reach into a bell. Where a layout is told to help, its plates stand in the scene and its density is set;
    where none does, nothing is changed."""
    add(BELL)
    monkeypatch.setattr(fix.fixes, "fix", lambda _finding, _study: fix.Fix(FixCode.TRY_LAYOUTS))
    bpy.ops.platewright.measure()
    chosen = settings.of(bpy.context.scene)
    monkeypatch.setattr(check, "STEPS", check.STEPS[:1])
    monkeypatch.setattr(check, "USUAL", check.QUICK)
    before, density = set(bpy.data.objects), chosen.target.density
    with pytest.raises(RuntimeError, match="no layout that was tried"):
        bpy.ops.platewright.fix(number=0)
    assert kept().study.results.layouts is not None
    assert set(bpy.data.objects) == before and chosen.target.density == density
    two = next(one for one in kept().study.results.layouts.trials if one.layout.kind.value == "two-sides")
    monkeypatch.setattr(fix.fixes, "brightest", lambda _study: (two, 1.5 * A_PER_DM2))
    assert bpy.ops.platewright.fix(number=0) == {"FINISHED"}
    assert len(roles.every(bpy.context.scene, roles.ANODE)) == 2
    assert chosen.target.density == pytest.approx(1.5)


def test_the_verdict_looks_out_of_date_while_a_fix_is_checked(add):
    """From the change of a setting until its results are there, what is told is marked and gray."""
    add(BELL)
    bpy.ops.platewright.measure()
    verdict, running = panels.classes()[0], work.running()
    running.label = "Fix"
    try:
        drawn = panels.draw(verdict)
        assert not drawn.dimmed and "Out of date" not in " ".join(drawn.texts), "a first check"
        settings.of(bpy.context.scene).target.density = 1.0
        drawn = panels.draw(verdict)
        assert "Out of date until this is done" in " ".join(drawn.texts) and drawn.facts
        assert all(text in drawn.dimmed for fact in drawn.facts for text in fact)
    finally:
        running.label = ""
    assert "Out of date: the part" in " ".join(panels.draw(verdict).texts)


def test_the_map_that_is_shown_follows_while_the_rest_is_calculated(add):
    """The gas of another position is drawn as soon as it is known, not at the end of the check."""
    add(BELL)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.show(map_name="gas")
    overlays = session.state(overlay.Overlays)
    before = overlays.shown[0].drawing
    settings.of(bpy.context.scene).part.up = (0.0, 1.0, 0.0)
    steps = check.Checking().start(bpy.context)
    for step in steps:
        if step.sentence.startswith("step 2"):
            break
    steps.close()
    assert overlays.shown[0].drawing is not before
    assert viewing.of(bpy.context).shown == "gas"


def test_something_true_is_kept_after_the_first_step(add):
    """Gas and current are there to be read before the wires are looked for."""
    add(BELL)
    work = check.Checking()
    steps, said = work.start(bpy.context), []
    for step in steps:
        said.append(step)
        if step.sentence.startswith("step 2"):
            break
    assert {"gas", "deposit"} <= set(kept().study.results.names) and "field" not in kept().study.results.names
    assert changes() == [Code.GAS_TRAPPED]
    assert said[-1].sentence == f"step 2 of {len(check.STEPS)}: {check.STEPS[1][0]}"
    assert [step.fraction for step in said] == sorted(step.fraction for step in said)
    steps.close()
    assert "thickness" in " ".join(panels.draw(panels.classes()[0]).texts), "what is not calculated yet is named"


@pytest.mark.slow
def test_the_verdict_on_the_screen_is_that_of_the_report(add):
    add(BELL)
    bpy.ops.platewright.check()
    table = report.build(kept().study, {})
    assert table["verdict"]["changes"] == [code.value for code in changes()]
    shown = " ".join(panels.draw(panels.classes()[0]).texts)
    for name, value in verdict_text.figures(judged.judgment(kept().study).verdict):
        assert name in shown and value.split()[0] in shown
    assert judged.judgment(kept().study).verdict.bare_area / CM2 == pytest.approx(
        table["verdict"]["bare_visible_cm2"], rel=1e-5
    )


@pytest.mark.slow
def test_no_panel_has_a_decimal_point_in_german(add):
    """Every panel of the tab after a check, in German: 2,5 mm throughout; what is typed into fields is Blender's."""
    add(BELL)
    bpy.ops.platewright.check()
    words = dictionary.words("de")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(language, "locale_in_use", lambda: "de_DE")
        patched.setattr(language, "looked_up", lambda text, _context: words.get(text, text))
        told = [text for cls in panels.classes() for text in panels.draw(cls).texts]
    assert not [text for text in told if re.search(r"\d\.(?!\d{3}\b)\d", text)]
    assert sum(bool(re.search(r"\d,\d", text)) for text in told) > 10


@pytest.mark.slow
def test_the_fix_hangs_the_part_otherwise_and_says_what_became_better(add):
    """The same press checks again: the gas is gone, the report before and after say so."""
    add(BELL)
    bpy.ops.platewright.check()
    before = kept().study.results.gas.trapped_volume
    bpy.ops.ed.undo_push(message="checked")
    assert bpy.ops.platewright.fix(number=fix_of(Code.GAS_TRAPPED)) == {"FINISHED"}
    bpy.ops.ed.undo_push(message="fixed")
    assert kept().study.results.gas.trapped_volume < 0.5 * before
    assert Code.GAS_TRAPPED not in changes()
    told = {one.path: one.judgment.value for one in session.state(judged.Checks).changes if hasattr(one, "path")}
    assert told["gas.trapped_mL"] == "better"
    assert settings.of(bpy.context.scene).part.up[2] < 0.9
    (panel,) = (cls for cls in panels.classes() if cls.__name__ == "PLATEWRIGHT_PT_hang")
    rows = panels.draw(panel).texts
    (at,) = (number for number, text in enumerate(rows) if text.endswith(" (in use)"))
    once = [rows[at].removesuffix(" (in use)"), *rows[at + 1 : at + 4]]
    assert all(rows[number : number + 4] != once for number in range(at, len(rows))), (
        "the position in use is listed twice"
    )
    bpy.ops.ed.undo()
    assert tuple(settings.of(bpy.context.scene).part.up) == (0.0, 0.0, 1.0)


@pytest.mark.slow
def test_a_wrong_scale_is_all_that_the_tab_says_and_one_press_mends_it(add):
    """A bell of 20 m: as if a file in millimeters had been read in meters."""
    o = add(moved(BELL, scale=1000.0))
    drawn = panels.draw(panels.classes()[0])
    assert drawn.buttons == ["platewright.check", "platewright.fix", "platewright.size_is_right"]
    assert not any(name in drawn.texts for name in ("Current", "Weight Gain"))
    assert bpy.ops.platewright.fix(number=fix.GATE) == {"FINISHED"}
    assert np.allclose(o.scale, 0.001)
    assert judged.gate(bpy.context) is None
    assert kept().study.surface.size == pytest.approx(np.linalg.norm(np.ptp(BELL[0], axis=0)), rel=1e-5)
    assert "Current" in panels.draw(panels.classes()[0]).texts


@pytest.mark.slow
def test_an_unusual_size_can_be_kept(add):
    add(moved(BELL, scale=40.0))  # 0.8 m
    work, said = check.Checking(), []
    work.report = lambda kind, text: said.append((kind, text))
    work.execute(bpy.context)
    assert judged.gate(bpy.context) is not None
    assert "field" not in kept().study.results.names, "nothing else is computed for a part of the wrong size"
    assert said == [({"INFO"}, "Part: check its size first")]
    bpy.ops.platewright.size_is_right()
    assert judged.gate(bpy.context) is None


def test_a_size_that_is_kept_hides_no_finding_and_the_message_counts_them(add):
    """The tab and the message say the same: the gas of a bell of 2 m."""
    add(moved(BELL, scale=100.0))
    bpy.ops.platewright.measure()
    assert changes() == [] and "size" in check.Checking().outcome(kept().study)
    bpy.ops.platewright.size_is_right()
    assert Code.GAS_TRAPPED in changes() and Code.WRONG_SCALE not in changes()
    assert "see the verdict" in check.Checking().outcome(kept().study)
    drawn = panels.draw(panels.classes()[0])
    assert "platewright.show_finding" in drawn.buttons and verdict_text.NOTHING not in drawn.texts


def test_the_gate_of_a_part_that_is_held_fast_leaves_it_and_says_so(add):
    o = add(moved(BELL, scale=1000.0))
    o.constraints.new("LIMIT_SCALE").use_min_x = True
    o.constraints[0].min_x = 1.0
    with pytest.raises(RuntimeError, match="holds it"):
        bpy.ops.platewright.fix(number=fix.GATE)
    assert np.allclose(o.scale, 1.0)


def test_a_fix_that_is_gone_says_so(add):
    add(BELL)
    with pytest.raises(RuntimeError, match="nothing to change"):
        bpy.ops.platewright.fix(number=0)
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="not in doubt"):
        bpy.ops.platewright.fix(number=fix.GATE)


def test_every_fix_has_what_it_does_and_a_tooltip():
    assert set(fix.CHANGES) == set(fix.TOOLTIPS) == set(FixCode)


@pytest.mark.slow
def test_a_supply_that_is_too_small_is_met_by_a_lower_density(add):
    """A cube of 40 mm takes 1.92 A at 2 A/dm2; with 1.5 A it takes 1.56 A/dm2, within the bath's range."""
    add(box((0.04, 0.04, 0.04)))
    chosen = settings.of(bpy.context.scene)
    chosen.supply.current, chosen.part.infill = 1.5, 1.0
    bpy.ops.platewright.measure()
    bpy.ops.platewright.fix(number=fix_of(Code.SUPPLY_TOO_SMALL))
    assert chosen.target.density == pytest.approx(1.5625, rel=2e-3)
    assert Code.SUPPLY_TOO_SMALL not in changes()


@pytest.mark.slow
def test_a_tank_without_room_is_enlarged_object_and_all(add):
    """The tank that stands in the scene grows about its floor until the part has room; then there is a thickness."""
    add(BELL)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.tank()
    tank = roles.tank(bpy.context.scene)
    floor = roles.inside(tank, bpy.context.scene).origin
    tank.scale = (0.02, 0.02, 1.0)
    bpy.context.view_layer.update()
    bpy.ops.platewright.check()
    assert "field" not in kept().study.results.names
    bpy.ops.platewright.fix(number=fix_of(Code.NOT_COMPUTED))
    inside = roles.inside(tank, bpy.context.scene)
    assert (inside.size[:2] >= 0.1).all()
    assert np.allclose(inside.origin, floor, atol=1e-6)
    assert "field" in kept().study.results.names, kept().study.reasons


@pytest.mark.slow
def test_named_states_stand_side_by_side_and_outlive_a_file(add, tmp_path):
    add(BELL)
    with pytest.raises(RuntimeError, match="Check the part first"):
        bpy.ops.platewright.keep_state(name="A")
    bpy.ops.platewright.check()
    bpy.ops.platewright.keep_state(name="upright")
    bpy.ops.platewright.fix(number=fix_of(Code.GAS_TRAPPED))
    rows = dict(judged.beside(bpy.context))
    assert rows["Trapped gas"] == ["6.3 mL", "0 mL"]
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "a.blend"))
    assert dict(judged.beside(bpy.context))["Trapped gas"] == ["6.3 mL"]
    bpy.ops.platewright.drop_state(number=0)
    assert judged.beside(bpy.context) == []


def test_a_state_that_is_no_report_counts_for_nothing():
    one = settings.of(bpy.context.scene).states.add()
    for text in ("", "[", "{}", '{"schema": "platewright-report/1", "part": 3}', "[" * 100_000):
        one.figures = text
        assert judged.beside(bpy.context) == []


@pytest.mark.slow
def test_the_default_tab_says_little(add):
    """The demo part, checked as a whole: its figures, words and buttons as they stand in the tab; and each step opened."""
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    bpy.context.scene.unit_settings.scale_length = 0.001
    points, faces = _welded(demo["finial"](2500))
    add((points, faces), "finial")
    bpy.ops.platewright.check()
    assert len(changes()) == 3
    tab = panels.default_tab()
    assert tab.numbers <= MAX_NUMBERS and len(tab.buttons) <= MAX_BUTTONS and tab.words <= MAX_WORDS, tab.texts
    bpy.ops.platewright.fix(number=0)
    after = panels.default_tab()
    assert after.numbers <= MAX_NUMBERS and len(after.buttons) <= MAX_BUTTONS and after.words <= MAX_WORDS, after.texts
    found = {cls.__name__: cls for cls in panels.classes()}
    for name in STEPS:
        drawn = panels.draw(found[f"PLATEWRIGHT_PT_{name}"])
        assert drawn.numbers <= MAX_STEP_NUMBERS, (name, drawn.texts)
    for cls in found.values():
        panels.draw(cls)


def _welded(corners) -> tuple[np.ndarray, np.ndarray]:
    """Triangles (m, 3, 3) as points and faces."""
    corners = np.asarray(corners, dtype=float)
    points, index = np.unique(corners.reshape(-1, 3).round(6), axis=0, return_inverse=True)
    return points, index.reshape(-1, 3)


@pytest.mark.slow
def test_every_operator_is_in_the_tab_or_in_a_menu(add):
    """What the tab had before is still in it, in some step."""
    add(BELL)
    bpy.ops.platewright.check()
    reached = {name for cls in panels.classes() for name in panels.draw(cls).buttons}
    wanted = {
        *("check", "plan", "choose", "measure", "study", "inset", "up_from_view", "take_way_up", "follow", "turn_part"),
        *("preview", "preview_end", "mark_holes", "sheet_resistance", "suggest_wires", "place_wire", "from_table"),
        *("tank", "rack", "cut", "conductivity", "quality", "picture", "remove", "probe", "keep_state"),
    }
    assert {f"platewright.{name}" for name in wanted} <= reached


@pytest.mark.slow
def test_each_step_says_how_it_stands(add):
    from addon.suite.panels.sidebar import status

    add(BELL)
    assert {status(bpy.context, where) for where in Section} == {"RADIOBUT_OFF"}
    bpy.ops.platewright.check()
    assert status(bpy.context, Section.HANG) == "ERROR"
    assert status(bpy.context, Section.PART) == "CHECKMARK"
    settings.of(bpy.context.scene).target.thickness *= 2
    assert status(bpy.context, Section.TANK) == "FILE_REFRESH"
    assert status(bpy.context, Section.PART) == "CHECKMARK"


def test_show_hatches_and_names_the_place_that_its_map_does_not(add):
    """A place on the coat: the map of the voltage drop hatches nothing of its own; that of gas does."""
    add(BELL)
    bpy.ops.platewright.measure()
    study = kept().study
    trapped = next(one for one in study.results.gas.findings if one.code == Code.GAS_TRAPPED)
    gas = maps.draw("gas", study)
    assert show.marked(gas, study, trapped) is gas
    top = study.surface.centroid[:, 2].argmax()
    at = (tuple(study.surface.centroid[top]),)
    bare = Finding(Code.ALMOST_BARE, Severity.SPOILS, {Quantity.SHARE: 0.05}, places=at)
    steps = maps.draw("staircase", study)
    drawn = show.marked(steps, study, bare)
    assert len(drawn.hatching) > 0 and drawn.marks[0].text == "5.0 % of the area gets hardly any metal"
    assert np.ptp(drawn.hatching.reshape(-1, 3), axis=0).max() < 0.5 * study.surface.size
