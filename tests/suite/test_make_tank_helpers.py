"""What is printed for the tank, from the command line and from its button: a whole file in tank axes, or one line."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator

from addon.engine.units import MM
from addon.suite import command
from addon.suite.scene import settings
from addon.suite.session import session

from models import box

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "report.schema.json").read_text(encoding="utf-8"))
RACK = "[rack]\npositions_mm = [[-40, 0, 120], [40, 0, 120]]\nturns_deg = [0, 0]\n"


def planned(folder: Path, more: str, *options: str) -> tuple[int, Path]:
    trimesh.Trimesh(*box((40, 3, 30), (4, 1, 3)), process=False).export(folder / "plate.stl")
    effort = '[effort]\ndirections = 50\nrays = 16\npanels = 500\nskip = "field, coat, narrow, fits, orientation"\n'
    (folder / "plate.toml").write_text(f'[part]\nfile = "plate.stl"\n{more}{effort}')
    files = [part for one in options for part in (f"--{one}", str(folder / f"{one}.stl"))]
    report, plan = folder / "plate.json", folder / "plate.txt"
    call = ["plan", str(folder / "plate.toml"), "--report", str(report), "--plan", str(plan), *files]
    return command.main(call), report


@pytest.mark.slow
def test_the_files_are_those_of_the_report_and_the_plan_tells_of_them(tmp_path):
    status, report = planned(tmp_path, RACK, "rack", "anode-holder")
    assert status == 0
    table = json.loads(report.read_text())
    Draft202012Validator(SCHEMA).validate(table)
    assert [one["kind"] for one in table["helpers"]] == ["rack", "anode-holder"]
    for one in table["helpers"]:
        mesh = trimesh.load(tmp_path / f"{one['kind']}.stl")
        assert one["file"] == str(tmp_path / f"{one['kind']}.stl") and one["thinnest_um"] is None
        assert mesh.is_watertight and mesh.body_count == one["bodies"]
        np.testing.assert_allclose(mesh.bounds, one["bounds_mm"], atol=1e-3)
        assert mesh.volume * 1e-3 == pytest.approx(one["volume_cm3"], rel=1e-4)
    told = " ".join((tmp_path / "plate.txt").read_text().split())
    order = ["Print the rack solid", "In the printed holders", "Lay two rods of 8 mm", "In the printed rack"]
    assert sorted(order, key=told.index) == order


@pytest.mark.parametrize(
    ("option", "more", "words"),
    [
        ("rack", "", "no copies are asked for"),
        ("shield", "[bath]\ntemperature_C = 48\n", "softens"),
        ("hanger", "[bath]\ntemperature_C = 48\n", "softens"),
        ("thief", '[tank]\nshape = "open"\n', "no rim"),
    ],
)
def test_what_the_job_rules_out_is_one_line_before_the_study_runs(tmp_path, capfd, monkeypatch, option, more, words):
    monkeypatch.setattr(command.load, "staged", lambda _job: pytest.fail("the model was read"))
    status, report = planned(tmp_path, more, option)
    lines = [line for line in capfd.readouterr().err.splitlines() if words in line]
    assert status == 2 and len(lines) == 1 and option in lines[0]
    assert not report.exists() and not (tmp_path / f"{option}.stl").exists()


@pytest.mark.usefixtures("platewright")
def test_the_button_adds_an_object_that_stands_in_the_tank_and_leaves_the_part(add):
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(box((40, 3, 30), (4, 1, 3)), "Plate")
    settings.of(bpy.context.scene).effort.rays = 16
    count = len(part.data.vertices)
    for _ in range(2):  # the next one replaces it
        assert bpy.ops.platewright.make_anode_holders() == {"FINISHED"}
    assert {o.name for o in bpy.data.objects} == {"Plate", "Plate, anode holders"}
    assert len(part.data.vertices) == count and session.objects(bpy.context) == [part]
    made, one = bpy.data.objects["Plate, anode holders"], session.find(bpy.context).study.results.anode_holder
    bpy.context.view_layer.update()
    points = np.array([made.matrix_world @ vertex.co for vertex in made.data.vertices])
    np.testing.assert_allclose(
        np.sort(np.ptp(points, axis=0)), np.sort(np.ptp(one.printed.points, axis=0)) / MM, atol=1e-3
    )
    settings.of(bpy.context.scene).bath.temperature = 48.0
    with pytest.raises(RuntimeError, match="softens"):
        bpy.ops.platewright.make_shields()
