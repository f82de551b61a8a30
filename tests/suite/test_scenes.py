"""A .blend read without a window: its objects serve as they do in the tab."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon.suite import command
from addon.suite.scene import settings

from models import box, moved

ROOT = Path(__file__).resolve().parents[2]
BAR = moved(box((0.030, 0.020, 0.040)), (0.5, 0.2, 0.1))
SKIP = "narrow, openness, contacts, coat, hanging"
HEAD = f'[part]\nfile = "bar.blend"\nunit = "scene"\n[effort]\npanels = 500\nskip = "{SKIP}"\n'


@pytest.fixture
def folder(platewright, add, tmp_path) -> Path:
    """A bar in its tank, off its middle and turned, with one anode left and a thief; and the field that the tab gives."""
    part = add(BAR, "Bar")
    settings.of(bpy.context.scene).effort.panels = 500
    settings.of(bpy.context.scene).tank.level = 200
    bpy.ops.platewright.measure()
    bpy.ops.platewright.tank()
    bpy.data.objects.remove(bpy.context.scene.objects["Anode 2"])
    part.location.x += 0.02
    rod = add(moved(box((0.004, 0.004, 0.04)), (0.56, 0.2, 0.1)), "Robber", select=False)
    rod.platewright.role = "THIEF"
    bpy.context.view_layer.update()
    bpy.ops.platewright.study(only="field")
    from addon.suite.session import session

    field = session.find(bpy.context).study.results.field
    (tmp_path / "tab.json").write_text(
        json.dumps([field.voltage, field.thief_current, [one.name for one in field.anodes]])
    )
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "bar.blend"))
    return tmp_path


def planned(folder: Path, text: str, name: str = "job.toml") -> dict:
    (folder / name).write_text(text)
    assert command.main(["plan", str(folder / name), "--report", str(folder / "r.json")]) == 0
    return json.loads((folder / "r.json").read_text())


@pytest.mark.slow
def test_the_objects_serve_as_in_the_tab(folder, capfd):
    """The same anode, thief and place, so the same field; the tank's level is the scene's setting."""
    voltage, thief, anodes = json.loads((folder / "tab.json").read_text())
    found = planned(folder, HEAD)
    assert [one["name"] for one in found["field"]["anodes"]] == anodes == ["Anode 1"]
    assert found["field"]["cell_voltage_V"] == pytest.approx(voltage, rel=1e-5)
    assert found["field"]["thief_current_A"] == pytest.approx(thief, rel=1e-5)
    assert found["assumed"]["tank"]["level_mm"] == 200
    assert found["assumed"]["place"]["centre_mm"] == pytest.approx([20, 0, 100], abs=1e-3)


@pytest.mark.slow
def test_what_was_used_can_be_run_again(folder):
    """`assumed` names the objects, and the same file answers the same."""
    found = planned(folder, HEAD)
    from addon.engine import study as studies
    from addon.engine.progress import run_to_end
    from addon.engine.settings.job import read_job
    from addon.suite.scene import load
    from addon.suite.scene.tracers import HostTracer

    part, job, bodies = load.staged(read_job(found["assumed"]))
    field = run_to_end(studies.run(part, job, HostTracer, only=["field"], bodies=bodies)).results.field
    assert field.voltage == pytest.approx(found["field"]["cell_voltage_V"], rel=1e-4)


@pytest.mark.slow
def test_a_job_that_says_something_of_the_tank_has_its_own(folder):
    found = planned(folder, HEAD + "[tank]\nsize_mm = [300, 200, 250]\nlevel_mm = 220\n")
    assert len(found["field"]["anodes"]) == 2 and found["field"]["thief_current_A"] == 0
    assert found["assumed"]["anode"] is None


def test_a_tank_without_an_anode_is_one_line(folder, capfd):
    bpy.ops.wm.open_mainfile(filepath=str(folder / "bar.blend"))
    bpy.data.objects.remove(bpy.context.scene.objects["Anode 1"])
    bpy.ops.wm.save_as_mainfile(filepath=str(folder / "bar.blend"))
    (folder / "job.toml").write_text(HEAD)
    assert command.main(["plan", str(folder / "job.toml"), "--report", str(folder / "r.json")]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert "no anode in the tank" in line and "job.toml" in line
    assert not (folder / "r.json").exists()


def test_the_wrong_unit_is_noticed_by_the_tank(folder, capfd):
    (folder / "job.toml").write_text(HEAD.replace('unit = "scene"\n', ""))
    assert command.main(["plan", str(folder / "job.toml"), "--report", str(folder / "r.json")]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert "Tank" in line and "0.3 x 0.2 x 0.25 mm" in line and "part.unit" in line


@pytest.mark.slow
def test_without_the_extension_too(folder):
    """`python -m addon` knows the roles although nothing is enabled, and ends well."""
    (folder / "job.toml").write_text(HEAD)
    done = subprocess.run(
        [sys.executable, "-m", "addon", "plan", str(folder / "job.toml"), "--report", str(folder / "r.json")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ},
    )
    assert done.returncode == 0, done.stderr
    found = json.loads((folder / "r.json").read_text())["field"]
    assert [one["name"] for one in found["anodes"]] == ["Anode 1"] and np.isfinite(found["cell_voltage_V"])
