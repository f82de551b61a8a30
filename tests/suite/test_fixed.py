"""A fixed time or current, and the conductivity from two plates: nothing is written until it is taken over."""

from __future__ import annotations

import json

import bpy
import pytest
import trimesh

from addon.engine.chemistry import deposit
from addon.engine.settings import conductivity
from addon.engine.units import A_PER_DM2, HOUR, UM
from addon.suite import command
from addon.suite.session import session
from addon.suite.scene import settings

from models import box

BAR = box((0.1, 0.1, 0.05))  # 4 dm2
SKIP = '[effort]\nskip = "narrow, openness, contacts, field, coat, hanging"\n'


def planned(folder, text: str) -> dict:
    points, faces = BAR
    trimesh.Trimesh(points * 1000, faces, process=False).export(folder / "bar.stl")
    (folder / "job.toml").write_text(f'[part]\nfile = "bar.stl"\n{SKIP}{text}')
    assert (
        command.main(["plan", str(folder / "job.toml"), "--report", f"{folder}/r.json", "--plan", f"{folder}/p.txt"])
        == 0
    )
    return json.loads((folder / "r.json").read_text())


@pytest.mark.parametrize(
    ("text", "thickness", "density"),
    [
        ("time_h = 1", 26.462, 2.0),  # 13.231 um/h at 1 A/dm2 (handbook), at the usual density
        ("time_h = 1\ndensity_A_dm2 = 1", 13.231, 1.0),
        ("time_h = 2\nthickness_um = 26.462", 26.462, 1.0),
        ("current_A = 4", 30.0, 1.0),  # on 4 dm2
        ("current_A = 4\ntime_h = 3", 39.693, 1.0),
        ("current_A = 8\ndensity_A_dm2 = 2", 30.0, 2.0),
    ],
)
def test_the_job_settles_what_is_fixed(tmp_path, text, thickness, density):
    found = planned(tmp_path, f"[target]\n{text}\n")
    assert found["deposit"]["mean_thickness_um"] == pytest.approx(thickness, rel=1e-4)
    assert found["deposit"]["density_A_dm2"] == pytest.approx(density, rel=1e-6)
    used = found["assumed"]["target"]
    assert (used["thickness_um"], used["density_A_dm2"]) == pytest.approx((thickness, density), rel=1e-4)
    again = json.dumps(used)
    assert ("time_h = 1" not in text) or '"time_h": 1.0' in again


def test_the_current_is_that_of_all_copies(tmp_path):
    found = planned(tmp_path, "[target]\ncurrent_A = 8\n[rack]\npositions_mm = [[-60, 0, 110], [60, 0, 110]]\n")
    assert found["deposit"]["density_A_dm2"] == pytest.approx(1.0)
    assert found["deposit"]["total_current_A"] == pytest.approx(8.0)


def test_settled_figures_can_be_run_again_and_contradictions_cannot(tmp_path, capfd):
    used = planned(tmp_path, "[target]\ncurrent_A = 4\ntime_h = 3\n")["assumed"]["target"]
    text = "".join(f"{key} = {json.dumps(value)}\n" for key, value in used.items())
    assert planned(tmp_path, f"[target]\n{text}")["assumed"]["target"] == used
    (tmp_path / "job.toml").write_text(f'[part]\nfile = "bar.stl"\n{SKIP}[target]\ncurrent_A = 3\ndensity_A_dm2 = 2\n')
    capfd.readouterr()
    assert command.main(["plan", str(tmp_path / "job.toml"), "--report", str(tmp_path / "x.json")]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert "job.toml: target: current_A = 3 and density_A_dm2 = 2 contradict" in line and "0.75 A/dm2" in line
    assert not (tmp_path / "x.json").exists()


def test_the_plan_lists_as_assumed_what_nobody_wrote(tmp_path):
    """A setting that is written is no assumption, also where it has its usual value."""
    planned(tmp_path, "[target]\nthickness_um = 30\n[bath]\nefficiency = 1.0\n[supply]\nmax_A = 5\n")
    last = " ".join((tmp_path / "p.txt").read_text().split("ASSUMED")[1].split())
    assert "current density 2 A/dm²" in last and "voltage limit 15 V" in last and "conductivity" in last
    for said in ("thickness 30 µm;", "efficiency", "current limit"):
        assert said not in last, said
    planned(tmp_path, "[target]\ncurrent_A = 4\n")
    last = " ".join((tmp_path / "p.txt").read_text().split("ASSUMED")[1].split())
    assert "thickness 30 µm" in last and "current density 1 A" not in last


READ = "[bath]\nmeasured = { area_cm2 = 25, gap_mm = 30, current_A = [0.2, 0.5, 1], voltage_V = [0.31, 0.46, 0.71] }\n"


def test_readings_give_the_conductivity_and_how_sure_it_is(tmp_path):
    """U = 0.21 V + 0.5 ohm I; 0.03 m / (25 cm2 0.5 ohm) = 24 S/m."""
    found = planned(tmp_path, READ)
    assert found["assumed"]["bath"]["conductivity_S_m"] == pytest.approx(24)
    sure = conductivity.measured(25e-4, 0.03, [0.2, 0.5, 1], [0.31, 0.46, 0.71])
    text = " ".join((tmp_path / "p.txt").read_text().split())
    assert f"Conductivity 24.0 S/m, sure to {100 * sure.uncertainty / sure.value:.1f} %, from your 3 readings" in text
    planned(tmp_path, "")
    text = " ".join((tmp_path / "p.txt").read_text().split())
    assert "Measure the conductivity (18 S/m is assumed)" in text


@pytest.fixture
def part(platewright, add):
    made = add(BAR, "Bar")
    bpy.ops.platewright.measure()
    return made


def test_the_popup_writes_the_setting_and_the_job_keeps_the_readings(part):
    scene = bpy.context.scene
    assert bpy.ops.platewright.conductivity(
        area=25, gap=30, currents=(0.2, 0.5, 1, 0), voltages=(0.31, 0.46, 0.71, 0)
    ) == {"FINISHED"}
    assert settings.of(scene).bath.conductivity == pytest.approx(24)
    job = settings.job_of(scene)
    assert job.bath.measured.currents == (0.2, 0.5, 1.0) and job.bath.conductivity == pytest.approx(24, rel=1e-12)
    settings.of(scene).bath.conductivity = 20
    assert settings.job_of(scene).bath.measured is None
    with pytest.raises(RuntimeError, match="two settings"):
        bpy.ops.platewright.conductivity(currents=(0.2, 0, 0, 0), voltages=(0.31, 0, 0, 0))
    assert settings.of(scene).bath.conductivity == 20


def test_a_choice_is_taken_over_as_target(part):
    """2 h at the density that is set, or at the thickness that is set."""
    job = settings.job_of(bpy.context.scene)
    area = session.find(bpy.context).study.results.deposit.area
    dense, thick = (target for _, target in deposit.choices(job.target, job.bath, area, 2 * HOUR, None))
    assert dense.thickness / UM == pytest.approx(2 * 26.462, rel=1e-4) and dense.density == job.target.density
    assert thick.thickness == job.target.thickness
    assert thick.density / A_PER_DM2 == pytest.approx(30 / 13.231 / 2, rel=1e-4)
    ((name, both),) = deposit.choices(job.target, job.bath, area, 2 * HOUR, 4.0)
    assert (
        name == "both"
        and both.density == pytest.approx(A_PER_DM2)
        and both.thickness / UM == pytest.approx(26.462, rel=1e-4)
    )
    bpy.ops.platewright.take_target(thickness=both.thickness / UM, density=both.density / A_PER_DM2)
    assert settings.job_of(bpy.context.scene).target.density == pytest.approx(A_PER_DM2)
    bpy.ops.platewright.measure()
    assert session.find(bpy.context).study.results.deposit.current == pytest.approx(4, rel=1e-3)
