"""The hanger from the command line and from its button: a file that is whole or none, an object that undo takes away."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh
from jsonschema import Draft202012Validator

from addon.suite import command
from addon.engine.units import MM
from addon.suite.scene import settings
from addon.suite.session import session

from models import cup, cylinder, lathe

QUICK = '[effort]\ndirections = 50\nrays = 16\npanels = 500\nskip = "{}"\n'
SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "report.schema.json").read_text(encoding="utf-8"))
CUP = cup(10, 20, 1.5, around=32)


def planned(folder: Path, more: str = "", skip: str = "field, coat, narrow, fits") -> tuple[int, Path, Path, Path]:
    trimesh.Trimesh(*CUP, process=False).export(folder / "cup.stl")
    (folder / "cup.toml").write_text(f'[part]\nfile = "cup.stl"\n{more}{QUICK.format(skip)}')
    report, out, plan = folder / "cup.json", folder / "cup-hanger.stl", folder / "cup.txt"
    call = ["plan", str(folder / "cup.toml"), "--report", str(report), "--hanger", str(out), "--plan", str(plan)]
    return command.main(call), report, out, plan


@pytest.mark.slow
def test_the_file_is_the_hanger_of_the_report(tmp_path):
    status, report, out, plan = planned(tmp_path)
    assert status == 0
    table = json.loads(report.read_text())
    Draft202012Validator(SCHEMA).validate(table)
    (one,) = table["helpers"]
    assert one["kind"] == "hanger" and one["file"] == str(out)
    mesh = trimesh.load(out)
    assert mesh.is_watertight and mesh.body_count == 1
    np.testing.assert_allclose(mesh.bounds, one["bounds_mm"], atol=1e-3)
    assert mesh.volume * 1e-3 == pytest.approx(one["volume_cm3"], rel=1e-4)
    part = trimesh.load(tmp_path / "cup.stl")
    away = trimesh.proximity.closest_point_naive(part, np.array(one["pads_mm"]))[1]
    np.testing.assert_allclose(away, 0.0, atol=2e-3)
    assert one["thinnest_um"] is None
    told = " ".join(plan.read_text().split())
    order = ["Print the hanger solid", "Or set it in the printed hanger", "In the printed hanger: hook it"]
    places = [told.index(one) for one in order]
    assert places == sorted(places)
    assert one["own_wire"] == ("For the printed hanger fix one more" in told)


@pytest.mark.slow
def test_the_deposit_beside_it_is_told(tmp_path):
    status, report, _, _ = planned(tmp_path, skip="coat, narrow, fits, ranges, orientation")
    (one,) = json.loads(report.read_text())["helpers"]
    assert status == 0
    assert 0 < one["thinnest_um"] < 1.2 * one["thinnest_before_um"]
    assert 0 <= one["shaded_area_cm2"] < 10


def test_plugs_are_in_their_holes_and_where_none_is_needed_that_is_one_line(tmp_path, capfd):
    post = lathe([(0, 0), (10, 0), (10, 20), (3, 20), (3, 6), (0, 6)], 48)
    for name, model in (("post", post), ("solid", cylinder(10, 20))):
        trimesh.Trimesh(*model, process=False).export(tmp_path / f"{name}.stl")
        skip = QUICK.format("field, coat, narrow, fits, hanging, contacts, openness")
        (tmp_path / f"{name}.toml").write_text(f'[part]\nfile = "{name}.stl"\n{skip}')
    files = [tmp_path / "{name}.json", tmp_path / "{name}-plugs.stl"]
    jobs = [str(tmp_path / f"{name}.toml") for name in ("post", "solid")]
    assert command.main(["plan", *jobs, "--report", str(files[0]), "--plugs", str(files[1])]) == 2
    assert len([one for one in capfd.readouterr().err.splitlines() if "no plug is needed" in one]) == 1
    assert not (tmp_path / "solid.json").exists() and not (tmp_path / "solid-plugs.stl").exists()
    table = json.loads((tmp_path / "post.json").read_text())
    Draft202012Validator(SCHEMA).validate(table)
    (one,) = table["helpers"]
    mesh = trimesh.load(tmp_path / "post-plugs.stl")
    assert one["kind"] == "plug" and mesh.is_watertight
    np.testing.assert_allclose(mesh.bounds, one["bounds_mm"], atol=1e-3)


def masked_blend(folder: Path, name: str, profile: list, masked: Callable[[np.ndarray], np.ndarray]) -> Path:
    """A job on a .blend file of a turned part, masked where a test on the corners (m, 3, 3) in mm says so."""
    points, triangles = lathe(profile, 48)
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(points.tolist(), [], triangles.tolist())
    marked = mesh.attributes.new("plating_mask", "BOOLEAN", "FACE")
    marked.data.foreach_set("value", masked(points[triangles]).all(axis=1))
    scene = bpy.data.scenes.new(name)
    scene.unit_settings.scale_length = MM
    scene.collection.objects.link(bpy.data.objects.new(name, mesh))
    bpy.data.libraries.write(str(folder / f"{name}.blend"), {scene})
    skip = QUICK.format("coat, narrow, fits, hanging, openness, ranges, orientation, vents")
    (folder / f"{name}.toml").write_text(f'[part]\nfile = "{name}.blend"\nhang = "as set"\n{skip}')
    return folder / f"{name}.toml"


@pytest.mark.slow
def test_masks_are_on_the_masked_stub_and_a_ring_is_one_line(tmp_path, capfd):
    """The file is the mask of the report; the field with it in place is told; the plan says when it goes on and off."""
    stub = [(0, 0), (8, 0), (8, 6), (4, 6), (4, 14), (0, 14)]
    jobs = [
        masked_blend(tmp_path, "stub", stub, lambda at: (at[:, :, 2] > 5.9) & (np.hypot(*at.T[:2]).T < 4.1)),
        masked_blend(tmp_path, "ring", stub, lambda at: np.hypot(*at.T[:2]).T > 7.9),
    ]
    files = {one: tmp_path / f"{{name}}-{one}" for one in ("report.json", "masks.stl", "plan.txt")}
    outputs = [word for one, path in files.items() for word in (f"--{one.split('.')[0]}", str(path))]
    assert command.main(["plan", *map(str, jobs), *outputs]) == 2
    said = capfd.readouterr().err.splitlines()
    assert len([one for one in said if "ring around a shaft" in one and "stop-off lacquer" in one]) == 1
    assert not list(tmp_path.glob("ring-*"))
    table = json.loads((tmp_path / "stub-report.json").read_text())
    Draft202012Validator(SCHEMA).validate(table)
    (one,) = table["helpers"]
    mesh = trimesh.load(tmp_path / "stub-masks.stl")
    assert one["kind"] == "mask" and one["form"] == "cap" and one["file"] == str(tmp_path / "stub-masks.stl")
    assert mesh.is_watertight and mesh.body_count == 1
    np.testing.assert_allclose(mesh.bounds, one["bounds_mm"], atol=1e-3)
    assert 0 < one["thinnest_um"] < 2 * one["thinnest_before_um"] and table["masked_by_hand"] == []
    told = " ".join((tmp_path / "stub-plan.txt").read_text().split())
    order = ["Print 1 printed mask solid", "Push a printed cap of", "cut the coat along", "push clean printed masks on"]
    places = [told.index(one) for one in order]
    assert places == sorted(places)


@pytest.mark.usefixtures("platewright")
def test_the_button_adds_the_masks_in_their_places_and_says_what_it_refuses(add):
    """The object has the bounds of the result; without a masked face it is one line, and nothing is added."""
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(lathe([(0, 0), (8, 0), (8, 6), (4, 6), (4, 14), (0, 14)], 48), "Stub")
    with pytest.raises(RuntimeError, match="no face is masked"):
        bpy.ops.platewright.make_masks()
    at = np.array([[part.data.vertices[k].co for k in face.vertices] for face in part.data.polygons])
    marked = part.data.attributes.new("plating_mask", "BOOLEAN", "FACE")
    stub = (at[:, :, 2] > 5.9) & (np.linalg.norm(at[:, :, :2], axis=2) < 4.1)
    marked.data.foreach_set("value", stub.all(axis=1))
    part.data.update()
    for _ in range(2):  # the next ones replace them
        assert bpy.ops.platewright.make_masks() == {"FINISHED"}
    assert {o.name for o in bpy.data.objects} == {"Stub", "Stub, masks"}
    bpy.context.view_layer.update()
    made, masks = bpy.data.objects["Stub, masks"], session.find(bpy.context).study.results.masks
    points = np.array([made.matrix_world @ vertex.co for vertex in made.data.vertices])
    assert np.ptp(points, axis=0) == pytest.approx(np.ptp(masks.corners.reshape(-1, 3), axis=0) / MM, abs=1e-3)


@pytest.mark.slow
def test_no_hanger_is_one_line_and_nothing_is_written(tmp_path, capfd):
    status, *files = planned(tmp_path, more="[bath]\ntemperature_C = 48\n")
    assert status == 2
    lines = [one for one in capfd.readouterr().err.splitlines() if "softens" in one and "hanger" in one]
    assert len(lines) == 1
    assert not any(file.exists() for file in files)


@pytest.mark.slow
@pytest.mark.usefixtures("platewright")
def test_the_button_adds_an_object_on_the_part_that_stays_and_undo_takes_it_away(add):
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(cup(15, 20, 1.5, around=32), "Cup")
    settings.of(bpy.context.scene).effort.directions = 50
    settings.of(bpy.context.scene).effort.rays = 16
    count = len(part.data.vertices)
    bpy.ops.ed.undo_push(message="before")
    for _ in range(2):  # the next one replaces it
        assert bpy.ops.platewright.make_hanger() == {"FINISHED"}
    assert {o.name for o in bpy.data.objects} == {"Cup", "Cup, hanger"}
    assert len(part.data.vertices) == count and session.objects(bpy.context) == [part]
    made, one = bpy.data.objects["Cup, hanger"], session.find(bpy.context).study.results.hanger
    bpy.context.view_layer.update()
    points = np.array([made.matrix_world @ vertex.co for vertex in made.data.vertices])
    np.testing.assert_allclose(
        [points.min(axis=0), points.max(axis=0)],
        np.array([one.points.min(axis=0), one.points.max(axis=0)]) / MM,
        atol=1e-3,
    )
    bpy.ops.ed.undo_push(message="made")
    bpy.ops.ed.undo()
    assert {o.name for o in bpy.data.objects} == {"Cup"}
    bpy.ops.ed.redo()
    assert {o.name for o in bpy.data.objects} == {"Cup", "Cup, hanger"}
