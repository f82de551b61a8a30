"""The report keeps to its keys, its units and its bytes."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator, SchemaError

from addon.engine.mesh.skipped import Skipped, Why
from addon.engine.reporting import report
from addon.engine.reporting.finding_text import text
from addon.engine.settings.job import read_job
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import run_to_end
from addon.engine.study import Results, Study
from addon.engine.study import run
from addon.engine.units import MM

import models

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("coarse_coat", "coarse_field")]

KEYS = {
    "part": "name triangles closed shells enclosed_shells bounds_mm volume_cm3 area_dm2 plated_area_dm2",
    "deposit": "metal current_A time_h charge_Ah metal_g mean_thickness_um density_A_dm2",
    "gas": "up trapped_mL trapped_area_cm2 level_underside_cm2 pockets narrow_openings",
    "drainage": "held_mL pools",
    "openness": "min p5 median hidden_area_cm2",
    "field": "panels cell_voltage_V ohmic_V polarisation_V coat_V cell_resistance_ohm current_A anode_current_A wagner"
    " density_A_dm2 thickness_um dull_area_cm2 burnt_area_cm2 residual",
    "coat": "wires worst_drop_V drop_at_mm wires_needed safe_start_A steps",
    "hanging": "mass_g deposit_g displaced_mL net_g floats ballast_g balance_mm settles_up suggestions",
    "prepare": "growth_um staircase_um sanding_area_cm2",
}
INSIDE = {
    ("gas", "pockets"): "volume_mL area_cm2 top_mm spill_mm vent_mm vent_diameter_mm",
    ("drainage", "pools"): "volume_mL area_cm2 bottom_mm spill_mm drain_mm drain_diameter_mm",
    ("hanging", "suggestions"): "up euler_deg trapped_mL level_underside_cm2 held_mL fits contact_mm reasons",
    ("coat", "steps"): "current_A minutes",
    ("contacts",): "point_mm normal drop_V hidden reasons",
}
TOP = [
    "schema",
    "part",
    "deposit",
    "gas",
    "drainage",
    "vents",
    "openness",
    "field",
    "coat",
    "contacts",
    "hanging",
    "prepare",
    "fits",
    "gas_hung",
    "drainage_hung",
    "schedule",
    "tank",
    "bath",
    "mix",
    "verdict",
    "handling",
    "ranges",
    "ranges_from",
    "findings",
    "warnings",
    "assumed",
    "timings_s",
    "versions",
]
SETTINGS = {
    "part": {"file": "cup.stl", "infill": 1.0},
    "effort": {"directions": 50, "rays": 16, "panels": 600},
    "target": {"thickness_um": 30},
}


@pytest.fixture(scope="module")
def study(trace) -> Study:
    """A cup with its mouth up and a small one upside down beside it, all analyses."""
    cup = models.moved(models.cup(10, 20, 1, 16), scale=MM)
    hood = models.moved(models.cup(5, 8, 1, 16), shift=(0.03, 0, 0.01), turn=np.diag([1, -1, -1]), scale=MM)
    part = models.part(cup, hood, name="two")
    return run_to_end(run(part, read_job(SETTINGS), trace))


@pytest.fixture(scope="module")
def table(study) -> dict:
    return report.build(study, {"platewright": "0.0.0"})


def test_keys_are_those_of_the_interface(table):
    assert list(table) == TOP
    for name, keys in KEYS.items():
        assert table[name] is not None and set(keys.split()) <= set(table[name]), name
    assert table["schema"] == "platewright-report/1"


def undescribed(value, schema: dict, root: dict, path: str = "$") -> list[str]:
    """Keys of objects that the schema does not describe, where it describes any."""
    if "$ref" in schema:
        return undescribed(value, root["$defs"][schema["$ref"].rsplit("/", 1)[1]], root, path)
    if "anyOf" in schema:
        return undescribed(value, schema["anyOf"][0], root, path)
    if isinstance(value, list) and "items" in schema:
        return [key for item in value for key in undescribed(item, schema["items"], root, f"{path}[]")]
    if not isinstance(value, dict) or "properties" not in schema:
        return []
    found = [f"{path}.{key}" for key in value.keys() - schema["properties"].keys()]
    for key in value.keys() & schema["properties"].keys():
        found += undescribed(value[key], schema["properties"][key], root, f"{path}.{key}")
    return found


def test_every_key_of_the_schema_says_what_it_means(report_schema):
    """The site's reference is made from the schema: a key without a description would be a row without a meaning."""

    def silent(entry, path):
        for key, one in entry.get("properties", {}).items():
            yield from [] if one.get("description") else [f"{path}.{key}"]
            yield from silent(one, f"{path}.{key}")
        for inner in (entry.get("items"), *entry.get("anyOf", [])):
            yield from silent(inner, path) if inner else ()

    named = {"": report_schema} | report_schema["$defs"]
    assert [key for name, entry in named.items() for key in silent(entry, name)] == []


def test_the_headless_page_names_every_key(report_schema):
    """docs/headless.md tells of a report in prose: each key of the schema is a word of it."""
    page = (Path(__file__).resolve().parents[2] / "docs" / "headless.md").read_text(encoding="utf-8")
    words = set(re.findall(r"\w+", page))

    def keys(entry):
        yield from entry.get("properties", {})
        for inner in (*entry.get("properties", {}).values(), entry.get("items"), *entry.get("anyOf", [])):
            yield from keys(inner) if inner else ()

    found = {key for entry in (report_schema, *report_schema["$defs"].values()) for key in keys(entry)}
    assert found - words == set()


def test_the_schema_describes_every_key(table, report_schema):
    """A key that is added to the report is added to docs/report.schema.json."""
    assert undescribed(table, report_schema, report_schema) == []


@pytest.mark.parametrize(
    ("place", "wrong"),
    [
        (("schema",), "platewright-report/2"),
        (("part", "plated_area_dm2"), -1.0),
        (("gas", "up"), [0.0, 0.0]),
        (("deposit", "current_A"), "1.2 A"),
        (("warnings",), [""]),
    ],
)
def test_the_schema_refuses_what_is_no_report(table, report_schema, place, wrong):
    broken = json.loads(json.dumps(table))
    inside = broken
    for key in place[:-1]:
        inside = inside[key]
    inside[place[-1]] = wrong
    validator = Draft202012Validator(report_schema)
    faults = [tuple(fault.absolute_path) for fault in validator.iter_errors(broken)]
    assert len(faults) == 1 and faults[0][0] == place[0]
    del inside[place[-1]]
    assert not validator.is_valid(broken)


@pytest.mark.parametrize("path", list(INSIDE))
def test_entries_of_lists(table, path):
    found = table
    for key in path:
        found = found[key]
    assert found, path
    for entry in found:
        assert set(INSIDE[path].split()) <= set(entry)


def test_it_is_json_and_the_same_bytes_for_the_same_study(study, table):
    def text(one):
        return json.dumps({key: value for key, value in one.items() if key != "timings_s"}, allow_nan=False)

    again = report.build(study, {"platewright": "0.0.0"})
    assert text(again) == text(table)


@pytest.mark.slow
def test_a_second_run_gives_the_same_bytes(study, trace, table):
    again = report.build(run_to_end(run(study.part, study.job, trace)), {"platewright": "0.0.0"})
    for key in TOP:
        if key != "timings_s":
            assert json.dumps(again[key]) == json.dumps(table[key]), key


def test_figures_are_in_the_units_of_their_keys(table):
    """Closed forms of a cup of 16 sides: inside 10 x 20 mm, walls 1 mm; the hood 5 x 8 mm."""
    disc, side = 8 * np.sin(2 * np.pi / 16), 32 * np.sin(np.pi / 16)

    def volume(r, d):
        return disc * ((r + 1) ** 2 * (d + 1) - r**2 * d)

    def area(r, d):
        return side * ((r + 1) * (d + 1) + r * d) + 2 * disc * (r + 1) ** 2

    part = table["part"]
    assert part["volume_cm3"] == pytest.approx((volume(10, 20) + volume(5, 8)) / 1e3, rel=1e-5)
    assert part["plated_area_dm2"] == pytest.approx((area(10, 20) + area(5, 8)) / 1e4, rel=1e-5)
    assert part["shells"] == 2 and part["enclosed_shells"] == 0 and part["closed"] is True
    assert part["bounds_mm"][0] == pytest.approx([-11, -11, -1], abs=1e-4)
    assert table["deposit"]["current_A"] == pytest.approx(2 * part["plated_area_dm2"], rel=1e-5)
    assert table["gas"]["trapped_mL"] == pytest.approx(disc * 25 * 8 / 1e3, rel=1e-5)
    assert table["drainage"]["held_mL"] == pytest.approx(disc * 100 * 20 / 1e3, rel=1e-5)
    for name in ("density_A_dm2", "thickness_um"):
        spread = table["field"][name]
        assert list(spread) == ["min", "p5", "median", "p95", "max"]
        assert list(spread.values()) == sorted(spread.values())
    assert table["field"]["current_A"] == pytest.approx(table["deposit"]["current_A"], rel=1e-3)
    (pocket,) = table["gas"]["pockets"]
    assert pocket["top_mm"][2] == pytest.approx(10, abs=1e-4)
    assert table["prepare"]["growth_um"] == pytest.approx(70)


def test_a_missing_result_is_null_with_its_reason(study):
    without = replace(study.results, gas=None, openness=None)
    table = report.build(replace(study, results=without, reasons={"gas": "left out"}), {})
    assert table["gas"] is None and table["openness"] is None
    assert "gas: not computed: left out" in table["warnings"]
    assert any(text.startswith("openness: not computed") for text in table["warnings"])
    assert len(table["warnings"]) == len(set(table["warnings"]))


def test_assumed_is_a_job_that_can_be_run_again(study, table):
    again = read_job(json.loads(json.dumps(table["assumed"])))
    assert (
        replace(again, tank=replace(again.tank, assumed=True)) == study.job_used
    )  # a tank that is written is a given one


def test_faults_of_the_mesh_and_what_was_skipped_are_warnings():
    points, triangles = models.box((0.02, 0.02, 0.02))
    part = models.part((points, triangles[:-1]), name="open", skipped=(Skipped(Why.NO_SURFACE, "Lamp", "light"),))
    surface = run_to_end(inspect(part))
    table = report.build(Study(part, read_job({}), surface), {})
    assert "Lamp: light objects have no surface; it was left out" in table["warnings"]
    assert text(surface.faults[0]) in table["warnings"]
    assert table["part"]["closed"] is False and table["part"]["volume_cm3"] is None


def test_arrays_have_one_row_a_triangle_and_nan_where_nothing_is_known(study):
    count = len(study.part.triangles)
    arrays = report.arrays(study)
    assert {name: array.shape for name, array in arrays.items()} == {
        **dict.fromkeys(("centroid_mm", "normal"), (count, 3)),
        **dict.fromkeys(
            (
                "area_mm2",
                "plated",
                "openness",
                "gas",
                "held",
                "gas_hung",
                "held_hung",
                "density_A_dm2",
                "thickness_um",
                "coat_drop_V",
                "staircase_um",
            ),
            (count,),
        ),
    }
    assert arrays["area_mm2"].sum() / 1e4 == pytest.approx(study.surface.area.sum() / 1e-2)
    assert np.linalg.norm(arrays["normal"], axis=1) == pytest.approx(1)
    # current and metal are those of the whole part
    current = np.nansum(arrays["density_A_dm2"] * arrays["area_mm2"] * study.surface.sides) / 1e4
    assert current == pytest.approx(study.results.deposit.current, rel=1e-3)
    without = report.arrays(replace(study, results=Results()))
    assert np.isnan(without["gas"]).all() and without["plated"].all()


def test_rounding_leaves_no_noise_and_no_numbers_that_are_none():
    assert report.rounded({"a": np.float64(1 / 3), "b": float("nan"), "c": np.array([1e-18, -1e-18, 2.0])}) == {
        "a": 0.333333,
        "b": None,
        "c": [0.0, 0.0, 2.0],
    }
    assert json.dumps(report.rounded([np.bool_(True), np.int32(3), ("x", None)])) == '[true, 3, ["x", null]]'
    assert str(report.rounded(-0.0)) == "0.0"


def test_the_schema_is_a_schema(report_schema):
    """By the meta-schema of JSON Schema, draft 2020-12, as the library has it."""
    Draft202012Validator.check_schema(report_schema)
    with pytest.raises(SchemaError):
        Draft202012Validator.check_schema({**report_schema, "type": "table"})
