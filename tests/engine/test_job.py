"""The job: what a file may say, what it becomes, and what is said of bad input."""

from __future__ import annotations

import json
import math
import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from addon.engine.settings import schema, tables
from addon.engine.errors import InputError
from addon.engine.settings.job import Job, SECTIONS, read_job, write_job
from addon.engine.settings.job_file import load_job
from addon.engine.units import MM, UM, ZERO_CELSIUS

MODEL = b"solid x\nendsolid x\n"


def test_defaults_are_those_of_the_interface():
    job = read_job({})
    assert job.target.thickness == pytest.approx(30 * UM)
    assert job.target.density == pytest.approx(200)
    assert job.bath.name == "acid copper, decorative" and job.bath.temperature == pytest.approx(25 + ZERO_CELSIUS)
    assert job.tank.size == pytest.approx((0.3, 0.2, 0.25)) and job.tank.level == pytest.approx(0.22)
    assert job.print.layer == pytest.approx(0.05 * MM)
    assert (job.supply.current, job.supply.voltage) == (5, 15)


def test_trade_units_become_si_and_come_back():
    table = {"target": {"thickness_um": 12.5, "density_A_dm2": 3}, "bath": {"temperature_C": 21.5}}
    job = read_job(table)
    assert (job.target.thickness, job.target.density) == pytest.approx((12.5e-6, 300))
    assert job.bath.temperature == pytest.approx(294.65)
    written = write_job(job)
    assert table["target"].items() <= written["target"].items() and written["bath"]["temperature_C"] == 21.5


def test_the_job_overrides_the_bath_table():
    job = read_job({"bath": {"name": "nickel, Watts", "conductivity_S_m": 11, "kinetics": {"transfer": 0.4}}})
    assert job.bath.metal == "nickel" and job.bath.conductivity == 11
    assert job.bath.kinetics.transfer == 0.4
    assert job.bath.kinetics.exchange == read_job({"bath": {"name": "nickel, Watts"}}).bath.kinetics.exchange


def test_a_cylinder_may_leave_its_second_diameter_out():
    job = read_job({"tank": {"shape": "cylinder", "size_mm": [90, 120], "level_mm": 100}})
    assert job.tank.size == pytest.approx((0.09, 0.09, 0.12))


# Any table that keeps to the limits of the settings.
def cells(spec: schema.Spec, default: object) -> st.SearchStrategy:
    low, high = max(spec.low, -1e6), min(spec.high, 1e6)
    number = st.floats(low, high).map(lambda x: min(max(float(f"{x:.6g}"), low), high))
    number = number.map(lambda x: x if abs(x) > 1e-290 else 0.0)  # in SI units it would be subnormal, and lose digits
    if spec.least:  # the only value below it is none at all
        number = number.map(lambda x: x if x >= spec.least else 0.0)
    if spec.offset:  # adding 273.15 takes digits beyond the ninth decimal away
        number = number.map(lambda x: round(x, 6))
    if spec.size == schema.POINTS:
        return st.lists(st.lists(number, min_size=3, max_size=3), max_size=3)
    if spec.size == schema.NUMBERS:
        return st.just([])
    if spec.size:
        return st.lists(number, min_size=spec.size, max_size=spec.size)
    if isinstance(default, str):
        return st.sampled_from(spec.choices) if spec.choices else st.text(max_size=8)
    if isinstance(default, bool):
        return st.booleans()
    return st.integers(int(low), int(high)) if isinstance(default, int) else number


def section(kind: type, leave: tuple[str, ...]) -> st.SearchStrategy:
    defaults = kind()
    optional = {
        spec.key: cells(spec, getattr(defaults, name))
        for name, spec in schema.specs(kind).items()
        if spec.key not in leave
    }
    return st.fixed_dictionaries({}, optional=optional)


# Left to their defaults: names that must be in a table or on the disk, and what two keys decide together.
LEAVE = ("name", "file", "unit", "material", "up", "normal", "window_A_dm2", "size_mm", "level_mm", "shape")
BODY = st.fixed_dictionaries({"file": st.sampled_from(["a.stl", "b.obj"])})
TABLES = st.fixed_dictionaries(
    {},
    optional={
        name: st.lists(BODY, max_size=2)
        if name in ("anode", "shield", "thief")
        else st.lists(section(kind, LEAVE), max_size=2)
        if repeated
        else section(kind, LEAVE)
        for name, (_, kind, repeated) in SECTIONS.items()
    },
)


@pytest.mark.slow
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(TABLES)
def test_writing_and_reading_again_gives_the_same_job(table):
    """To the bit, and through JSON, which is how the report keeps it."""
    job = read_job(table)
    written = json.loads(json.dumps(write_job(job)))
    assert read_job(written) == job
    for name, content in table.items():
        if isinstance(content, dict):
            assert {key: written[name][key] for key in content} == content


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (
            {"target": {"thickness_um": 0}},
            ["target.thickness_um", "0 is not usable", "between 0.01 and 5000 um"],
        ),
        ({"target": {"density_A_dm2": -2}}, ["target.density_A_dm2", "-2 is not usable"]),
        ({"target": {"thickness_um": math.nan}}, ["target.thickness_um", "nan is not usable"]),
        ({"wire": [{"point_mm": [0, 0, math.inf]}]}, ["wire[0].point_mm", "inf is not usable"]),
        ({"target": {"thickness_um": 10**400}}, ["target.thickness_um", "not usable"]),
        ({"target": {"thickness_um": "30"}}, ["target.thickness_um", "number without quotes"]),
        ({"target": {"thickness_um": True}}, ["target.thickness_um", "expected a number"]),
        ({"target": {"thicknes_um": 30}}, ["target: unknown key 'thicknes_um'", "'thickness_um'"]),
        ({"targets": {}}, ["unknown section [targets]", "'target'"]),
        ({"thickness_um": 30}, ["stands outside a section", "[target]"]),
        ({"target": 30}, ["write it as [target]"]),
        ({"anode": {"file": "a.stl"}}, ["write it as [[anode]]"]),
        ({"bath": {"name": "acid copper, decoratif"}}, ["bath.name", "'acid copper, decorative'"]),
        ({"bath": {"metal": "coper"}}, ["bath.metal", "'copper'"]),
        ({"bath": {"kinetics": {"kind": "tafell"}}}, ["bath.kinetics.kind", "'tafel'"]),
        ({"bath": {"kinetics": 3}}, ["bath.kinetics", "tafel"]),
        ({"bath": {"window_A_dm2": [6, 1]}}, ["bath.window_A_dm2", "below"]),
        ({"bath": {"file": "nowhere.toml"}}, ["nowhere.toml", "check the name"]),
        ({"part": {"up": [0, 0, 0]}}, ["part.up", "points nowhere"]),
        ({"part": {"up": [0, 1]}}, ["part.up", "expected 3 numbers, found 2"]),
        ({"part": {"material": "PLAA"}}, ["part.material", "'PLA'"]),
        ({"part": {"infill": 15}}, ["part.infill", "between 0 and 1"]),
        ({"coat": {"name": "cooper paint"}}, ["coat.name", "'copper paint'"]),
        ({"tank": {"level_mm": 400}}, ["tank.level_mm", "400 mm", "250 mm deep"]),
        ({"tank": {"shape": "mesh"}}, ["tank.file is missing"]),
        ({"tank": {"shape": "cylinder", "size_mm": [90, 80, 300]}}, ["one diameter"]),
        ({"anode": [{"plate_mm": [20, 30]}]}, ["anode[0]", "centre_mm"]),
        ({"shield": [{}]}, ["shield[0].file is missing"]),
        ({"rack": {"positions_mm": [[0, 0, 0]], "turns_deg": [0, 90]}}, ["2 turns for 1 positions"]),
        ({"effort": {"rays": 64.5}}, ["effort.rays", "whole number"]),
    ],
)
def test_bad_settings_are_one_line_that_names_key_and_remedy(table, words):
    with pytest.raises(InputError) as caught:
        read_job(table, "job.toml")
    line = str(caught.value)
    assert "\n" not in line and len(line) < 250
    for word in words:
        assert word in line


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(list(SECTIONS)), inner),
        max_leaves=6,
    ),
    st.sampled_from(list(SECTIONS)),
    st.sampled_from(sorted({s.key for _, kind, _ in SECTIONS.values() for s in schema.specs(kind).values()})),
)
def test_no_value_whatever_gets_past_as_a_traceback(value, name, key):
    """Any value under any key is either a job or a InputError."""
    for table in ({name: value}, {name: {key: value}}, {name: [{key: value}]}):
        try:
            assert isinstance(read_job(table), Job)
        except InputError as fault:
            assert "\n" not in str(fault)


def test_a_job_file_is_read_from_its_own_folder(tmp_path):
    (tmp_path / "part.stl").write_bytes(MODEL)
    file = tmp_path / "job.toml"
    file.write_text('[part]\nfile = "part.stl"\n[[shield]]\nfile = "shield.stl"\n')
    job = load_job(file)
    assert job.part.file == str(tmp_path / "part.stl")
    assert job.shields[0].file == str(tmp_path / "shield.stl")


def test_a_model_file_alone_is_a_job(tmp_path):
    model = tmp_path / "part.STL"
    model.write_bytes(MODEL)
    job = load_job(model)
    assert job.part.file == str(model)
    assert job == read_job({"part": {"file": str(model)}})


def test_an_editor_s_byte_order_mark_and_line_ends_do_no_harm(tmp_path):
    (tmp_path / "part.stl").write_bytes(MODEL)
    file = tmp_path / "job.toml"
    file.write_bytes(b'\xef\xbb\xbf[part]\r\nfile = "part.stl"\r\n[target]\r\nthickness_um = 12\r\n')
    assert load_job(file).target.thickness == pytest.approx(12e-6)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"[part]\nfile = part.stl\n", ["job.toml: line 2", "correct it"]),
        (b'[part]\nfile = "part.stl"\n[target]\nthickness_um = \n', ["line 4"]),
        (b'[part]\nfile = "a"\nfile = "b"\n', ["job.toml", "correct it"]),
        (b"[part", ["job.toml", "correct it"]),
        (b"\xff\xfe[part]", ["UTF-8"]),
        (b"a = " + b"[" * 5000, ["job.toml"]),
        (b"[target]\nthickness_um = " + b"9" * 6000, ["job.toml"]),
        (b"", ["part.file is missing"]),
        (b'[part]\nfile = "gone.stl"\n', ["part.file", "there is no file", "gone.stl"]),
        (b'[part]\nfile = "part.step"\n', ["part.file", "no model file", ".stl"]),
        (b'[part]\nfile = "a\\u0000b.stl"\n', ["part.file", "there is no file"]),
    ],
)
def test_a_bad_job_file_is_one_line_that_names_it(tmp_path, content, words):
    file = tmp_path / "job.toml"
    file.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_job(file)
    for word in words:
        assert word in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["gone.toml", "gone.stl", "notes.txt", "folder.toml"])
def test_a_file_that_is_no_job_is_named(tmp_path, name):
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "notes.txt").write_text("x")
    with pytest.raises(InputError, match=name):
        load_job(tmp_path / name)


def test_a_table_of_one_s_own_is_read_again_when_it_changes(tmp_path):
    file = tmp_path / "own.toml"
    text = '["mine"]\nmetal = "zinc"\nconductivity_S_m = %d\ndensity_g_mL = 1.2\nwindow_A_dm2 = [1, 3]\n'
    text += "efficiency = 0.9\nlimiting_A_dm2 = 8\n"
    for value in (20, 30):
        file.write_text(text % value)
        os.utime(file, (value, value))
        assert read_job({"bath": {"file": str(file)}}).bath.conductivity == value


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("x = 1\n", ["stands outside an entry"]),
        ("", ["empty"]),
        ('["mine"]\nmetal = "zinc"\n', ["'mine'", "conductivity_S_m"]),
        (
            '["mine"]\nmetal = "zinc"\nconductivity_S_m = -1\ndensity_g_mL = 1.2\nwindow_A_dm2 = [1, 3]\n'
            "efficiency = 0.9\nlimiting_A_dm2 = 8\n",
            ["own.toml", "'mine'", "conductivity_S_m", "-1"],
        ),
        (
            '["mine"]\nmetal = "zinc"\nconductivity_S_m = 9\ndensity_g_mL = 1.2\nwindow_A_dm2 = [1, 3]\n'
            "efficiency = 0.9\nlimiting_A_dm2 = 8\nviscosity = 3\n",
            ["own.toml", "'mine'", "unknown key 'viscosity'"],
        ),
    ],
)
def test_a_bad_table_of_one_s_own_is_named(tmp_path, entry, words):
    file = tmp_path / "own.toml"
    file.write_text(entry)
    with pytest.raises(InputError) as caught:
        read_job({"bath": {"file": str(file)}})
    for word in words:
        assert word in str(caught.value)


def test_every_shipped_bath_coat_and_plastic_makes_a_job():
    for name in tables.names("baths"):
        assert read_job({"bath": {"name": name}}).bath.name == name
    for name in tables.names("coats"):
        assert read_job({"coat": {"name": name}}).coat.name == name
    for name in tables.names("plastics"):
        assert read_job({"part": {"material": name}}).part.material == name


def test_every_setting_says_what_it_does():
    for _, kind, _ in SECTIONS.values():
        for name, spec in schema.specs(kind).items():
            assert spec.doc and spec.label and spec.label != spec.key, (kind, name)


def test_the_example_of_the_docs_is_a_job_and_names_every_key():
    """docs/headless.md: its job file can be read, and leaves no setting out."""
    page = (Path(__file__).resolve().parents[2] / "docs" / "headless.md").read_text(encoding="utf-8")
    example = page.split("```toml\n")[1].split("```")[0]
    table = tomllib.loads(example)
    assert isinstance(read_job(table), Job)
    for name, (_, kind, _) in SECTIONS.items():
        for spec in schema.specs(kind).values():
            assert spec.key in example and name in table, (name, spec.key)
