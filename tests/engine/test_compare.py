"""Comparing two reports: what is the same changes nothing, and what one way is worse is better the other way."""

from __future__ import annotations

import copy
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.engine import study as studies
from addon.engine.errors import InputError
from addon.engine.progress import run_to_end
from addon.engine.reporting import compare_text, report
from addon.engine.settings.job import read_job
from addon.engine.verdict import compare, reports
from addon.engine.verdict.changes import FigureChange, FindingChange, Judgment
from addon.engine.verdict.figures import FIGURES

from models import cup, moved, part

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")

BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))
QUICK = {"effort": {"rays": 16, "directions": 50, "panels": 600}}


@pytest.fixture(scope="module")
def bell(trace):
    """Reports of one bell: as it traps gas, and mouth up."""

    def told(up):
        table = {**QUICK, "part": {"up": up, "hang": "as set"}}
        only = ("gas", "drainage", "deposit", "hanging")
        study = run_to_end(studies.run(part(BELL), read_job(table), trace, only=only))
        return json.loads(json.dumps(report.build(study, {})))

    return told([0, 0, 1]), told([0, 0, -1])


def bare_report(**figures: object) -> dict[str, object]:
    """A report with these figures alone: path -> value."""
    table: dict[str, object] = {
        "schema": "platewright-report/1",
        "part": {"name": "A", "triangles": 12, "plated_area_dm2": 1.0},
        "findings": [],
        "assumed": {},
    }
    for path, value in figures.items():
        keys, at = path.split("."), table
        for key in keys[:-1]:
            at = at.setdefault(key, {})
        at[keys[-1]] = value
    return table


def flipped(changes) -> set[tuple[object, ...]]:
    other = {Judgment.WORSE: Judgment.BETTER, Judgment.BETTER: Judgment.WORSE}
    return {(other.get(one.judgment, one.judgment), *_identity(one)) for one in changes}


def plain(changes) -> set[tuple[object, ...]]:
    return {(one.judgment, *_identity(one)) for one in changes}


def _identity(one):
    return (one.code,) if isinstance(one, FindingChange) else (getattr(one, "path", "part"),)


@pytest.mark.slow
def test_a_report_and_itself_are_the_same(bell):
    for one in bell:
        assert compare.compare(one, copy.deepcopy(one)) == ()


@pytest.mark.slow
def test_gas_let_out_is_better_and_the_other_way_it_is_worse(bell):
    trapping, open_up = bell
    there, back = compare.compare(trapping, open_up), compare.compare(open_up, trapping)
    assert flipped(there) == plain(back)
    told = compare_text.lines(there)
    assert any(line.startswith("better: trapped gas 6.3 -> 0 mL") for line in told)
    assert any(line.startswith("worse: drag-out 0 -> 6.3 mL") for line in told), "mouth up it carries out what it held"
    assert compare.any_worse(there) and compare.any_worse(back)
    assert [line.split(":")[0] for line in told] == sorted(
        (line.split(":")[0] for line in told), key=["worse", "better", "unknown", "note"].index
    )


@pytest.mark.slow
def test_a_finding_that_a_figure_tells_of_is_not_told_beside_it(bell):
    trapping, open_up = bell
    changed = compare.compare(trapping, open_up)
    assert "gas-trapped" in [row["code"] for row in trapping["findings"]]
    assert "gas-trapped" not in [one.code for one in changed if isinstance(one, FindingChange)]


@pytest.mark.slow
def test_the_setting_that_made_the_change_is_named(bell):
    assert "note: part.up [0.0, 0.0, 1.0] -> [0.0, 0.0, -1.0]" in compare_text.lines(compare.compare(*bell))


numbers = st.none() | st.floats(min_value=0, max_value=1e6, allow_nan=False)
tables = st.fixed_dictionaries({}, optional={figure.path: numbers for figure in FIGURES})


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(one=tables, other=tables)
def test_worse_one_way_is_better_the_other_way(one, other):
    before, after = bare_report(**one), bare_report(**other)
    there, back = compare.compare(before, after), compare.compare(after, before)
    assert flipped(there) == plain(back)
    assert len(there) == len(back)
    assert compare.compare(before, copy.deepcopy(before)) == ()
    assert compare_text.lines(there) is not None


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(one=tables, other=tables)
def test_every_figure_of_both_that_differs_by_a_twentieth_is_told(one, other):
    """And none that does not differ."""
    changed = {c.path: c for c in compare.compare(bare_report(**one), bare_report(**other))}
    for figure in FIGURES:
        a, b = one.get(figure.path), other.get(figure.path)
        if a is None or b is None:
            assert (figure.path in changed) == (a is not b)
        elif abs(a - b) > max(0.05 * max(a, b), figure.absolute_tolerance):
            better = (b < a) == (figure.better.value < 0)
            assert changed[figure.path].judgment == (Judgment.BETTER if better else Judgment.WORSE)
        elif a == b:
            assert figure.path not in changed


@pytest.mark.slow
def test_every_figure_has_a_name_and_is_one_of_the_report_s(bell, report_schema):
    for figure in FIGURES:
        assert figure.path == "hanging.floats" or figure.path in compare_text.NAMES
        at = report_schema
        for key in figure.path.split("."):
            at = _properties(report_schema, at)[key]


def _properties(schema, at):
    """The properties of a schema's node, through its references."""
    for one in (at, *at.get("anyOf", ())):
        if "$ref" in one:
            one = schema["$defs"][one["$ref"].rsplit("/", 1)[1]]
        if "properties" in one:
            return one["properties"]
    raise AssertionError(at)


def test_a_figure_that_only_one_report_has_is_judged_neither_way():
    missing, null, there = bare_report(), bare_report(gas=None), bare_report(**{"gas.trapped_mL": 13.0})
    assert compare.compare(missing, null) == ()
    for none in (missing, null):
        (one,) = compare.compare(none, there)
        assert one == FigureChange(Judgment.UNKNOWN, "gas.trapped_mL", None, 13.0)
        assert compare_text.lines([one]) == ["unknown: trapped gas not calculated -> 13 mL"]
        assert not compare.any_worse((one,))


def test_a_part_that_hangs_otherwise_is_compared_as_it_hangs():
    """As modeled it traps 13 mL; as it hangs, what it traps in each report."""
    modeled = {"gas.trapped_mL": 13.0}
    before = bare_report(**modeled, **{"gas_hung.trapped_mL": 5.0})
    after = bare_report(**modeled, **{"gas_hung.trapped_mL": 0.0})
    assert compare_text.lines(compare.compare(before, after)) == ["better: trapped gas 5.0 -> 0 mL"]
    assert compare_text.lines(compare.compare(bare_report(**modeled), after)) == ["better: trapped gas 13 -> 0 mL"]


def test_floats_and_sinks():
    floats, sinks = bare_report(**{"hanging.floats": True}), bare_report(**{"hanging.floats": False})
    assert compare_text.lines(compare.compare(floats, sinks)) == ["better: floats -> sinks"]
    assert compare_text.lines(compare.compare(sinks, floats)) == ["worse: sinks -> floats"]


def test_different_parts_are_said_and_are_neither_better_nor_worse():
    one, other = bare_report(), bare_report()
    other["part"] = {"name": "B", "triangles": 1200, "plated_area_dm2": 0.93}
    changed = compare.compare(one, other)
    assert compare_text.lines(changed) == [
        "note: these are different parts: A (12 triangles, 1.00 dm2), and B (1,200 triangles, 0.930 dm2)"
    ]
    assert not compare.any_worse(changed)


def finding(code: str, severity: str, text: str = "It is so.", **more: object) -> dict[str, object]:
    return {"code": code, "severity": severity, "text": text, **more}


def test_a_finding_that_came_is_worse_and_one_more_severe_too():
    none, costs, spoils = bare_report(), bare_report(), bare_report()
    costs["findings"] = [finding("bath-saturated", "costs", "It is near.")]
    spoils["findings"] = [finding("bath-saturated", "spoils", "Crystals fall out.")]
    assert compare_text.lines(compare.compare(none, costs)) == ["worse: It is near."]
    assert compare_text.lines(compare.compare(costs, spoils)) == ["worse: Crystals fall out."]
    assert compare_text.lines(compare.compare(spoils, none)) == ["better: no longer: Crystals fall out."]
    noted = bare_report(findings=[finding("acid-restricted", "note")])
    assert compare.compare(none, noted) == ()


def test_of_an_analysis_that_one_report_lacks_nobody_knows_which_findings_came():
    before, after = bare_report(), bare_report(**{"field.panels": 100})
    after["findings"] = [finding("burnt", "spoils", "Burnt.")]
    (one,) = compare.compare(before, after)
    assert one.judgment == Judgment.UNKNOWN


def test_each_result_that_is_missing_is_told_by_itself():
    before, after = bare_report(), bare_report()
    after["findings"] = [
        finding("not-computed", "costs", f"{name}: not computed.", names={"result": name}) for name in ("field", "coat")
    ]
    assert compare_text.lines(compare.compare(before, after)) == [
        "worse: coat: not computed.",
        "worse: field: not computed.",
    ]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no JSON"),
        (b"\xff\xfe", "no JSON"),
        (b"[1, 2]", "no report"),
        (b"{}", "no report"),
        (b'{"schema": "other/1", "part": {}}', "no report"),
        (b'{"schema": "platewright-report/1"}', "part"),
        (b'{"schema": "platewright-report/1", "part": {}, "gas": {"trapped_mL": "13"}}', "gas.trapped_mL"),
        (b'{"schema": "platewright-report/1", "part": {}, "gas": {"trapped_mL": NaN}}', "no JSON"),
        (b'{"schema": "platewright-report/1", "part": {}, "gas": {"trapped_mL": 1' + b"0" * 400 + b"}}", "a number"),
        (b'{"schema": "platewright-report/1", "part": {}, "gas": [1]}', "table"),
        (b'{"schema": "platewright-report/1", "part": {"triangles": "x"}}', "triangles"),
        (b'{"schema": "platewright-report/1", "part": {}, "findings": 3}', "findings"),
        (b'{"schema": "platewright-report/1", "part": {}, "findings": [{"code": 3}]}', "findings"),
        (b"[" * 100_000, "nested too deep"),
    ],
)
def test_what_is_no_report_is_one_line_that_names_the_file(tmp_path, content, said):
    path = tmp_path / "r.json"
    path.write_bytes(content)
    with pytest.raises(InputError) as fault:
        reports.load(path)
    assert str(path) in str(fault.value) and said in str(fault.value)
    assert "\n" not in str(fault.value)


def test_a_missing_file_and_a_folder(tmp_path):
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(InputError, match=str(path)):
            reports.load(path)
