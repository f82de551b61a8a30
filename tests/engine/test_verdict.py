"""The verdict on a part whose gas, weight and wires are known by hand, and the rules of what is said first."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.findings import Code, Finding, Quantity, Severity
from addon.engine.progress import run_to_end
from addon.engine.reporting import finding_text, verdict_text
from addon.engine.settings.job import read_job
from addon.engine.units import A_PER_DM2, CM2, GRAM, ML, MM
from addon.engine.verdict import fixes, judge, places
from addon.engine.verdict.fixes import FixCode
from addon.engine.verdict.judge import Section

import every_text
from models import box, part
from quick_study import BELL, DEPTH, QUICK, RADIUS, codes, finding, walked

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")

MAX_HEADLINE_CHARS = 60  # a line of the panel


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
