"""The part with vents and drains cut: empty by an independent flood of cells, a solid, and the part itself untouched."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh

from addon.engine.units import MM
from addon.suite import command
from addon.suite.session import session

from grids import filled, trapped
from models import Model, box, cup, inside_out, joined, lathe, moved, sphere
from scans import coarse_bunny, coarse_mended_bunny

sys.path.append(str(Path(__file__).parents[2] / "docs" / "demo"))
from finial import finial  # noqa: E402

CELL = 0.4  # mm of the flood: six of them across the narrowest bore
DOWN = np.diag([1.0, -1.0, -1.0])
QUICK = '[effort]\nrays = 16\nskip = "field, coat, openness, narrow, contacts, hanging, fits, orientation"\n'
WITH_HANGING = QUICK.replace("hanging, ", "") + "directions = 50\n"
BELL = moved(cup(10, 20, 1.5, around=64), turn=DOWN)


def demo() -> Model:
    corners = finial(8000).astype(np.float64)
    points, place = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    return points, place.reshape(-1, 3).astype(np.int32)


def two_domes() -> Model:
    """A bell of 12 mm radius whose ceiling is a ridge lower in the middle: a ring-shaped dome, and a stem."""
    outer, inner = [(0, 0), (14, 0), (14, -30)], [(12, -30), (12, -2), (8, -2), (7, -8), (3, -8), (2.5, -2), (0, -2)]
    return lathe([*outer, *inner][::-1], 64)


def cut(
    folder: Path, model: Model, up=(0, 0, 1), name: str = "part", effort: str = QUICK
) -> tuple[dict, trimesh.Trimesh]:
    trimesh.Trimesh(*model, process=False).export(folder / f"{name}.stl")
    job = folder / f"{name}.toml"
    job.write_text(f'[part]\nfile = "{name}.stl"\nhang = "as set"\nup = {list(up)}\n{effort}')
    report, out = folder / f"{name}.json", folder / f"{name}-vented.stl"
    assert command.main(["plan", str(job), "--report", str(report), "--vented", str(out)]) == 0
    return json.loads(report.read_text()), trimesh.load(out)


def flood(mesh: trimesh.Trimesh, sign: float = 1.0) -> float:
    """mL that stay, up or upside down, by cells."""
    model = np.asarray(mesh.vertices) * [1, 1, sign], np.asarray(mesh.faces)[:, :: int(sign)]
    return float(trapped(filled(model, CELL)).sum()) * CELL**3 * 1e-3


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "model", "volume"),
    [
        ("bell", BELL, 6.27),  # 32 sin(2 pi / 64) * 100 mm2 * 20 mm
        ("finial", demo(), 12.6),
        ("domes", two_domes(), None),
    ],
)
def test_what_is_cut_is_empty_by_a_flood_of_cells(tmp_path, name, model, volume):
    before = flood(trimesh.Trimesh(*model, process=False))
    assert volume is None or before == pytest.approx(volume, rel=0.02)
    table, mesh = cut(tmp_path, model, name=name)
    assert mesh.is_watertight and mesh.is_winding_consistent
    assert flood(mesh) < 0.01 * before
    assert table["vented"]["trapped_mL"] < 0.05 < table["vented"]["trapped_before_mL"]
    assert all(one["kind"] == "vent" for one in table["vents"])


def test_a_cup_is_drained(tmp_path):
    table, mesh = cut(tmp_path, cup(10, 20, 1.5, around=64), name="cup")
    assert [one["kind"] for one in table["vents"]] == ["drain"]
    assert flood(mesh, -1.0) < 0.05
    assert table["vented"]["held_mL"] < 0.05 < table["vented"]["held_before_mL"]


def test_only_the_bores_are_taken_away(tmp_path):
    """Through a ceiling of 1.5 mm, a prism of 32 sides about a circle: 32 tan(pi / 32) r^2 (geometry)."""
    table, mesh = cut(tmp_path, BELL)
    (hole,) = table["vents"]
    area = 32 * np.tan(np.pi / 32) * (hole["diameter_mm"] / 2) ** 2
    assert abs(trimesh.Trimesh(*BELL, process=False).volume) - mesh.volume == pytest.approx(1.5 * area, rel=1e-3)
    assert hole["through_mm"] == pytest.approx(1.5, abs=1e-3)
    assert hole["from_mm"][2] == pytest.approx(0, abs=1e-3) and hole["to_mm"][2] == pytest.approx(1.5, abs=1e-3)
    assert table["vented"]["removed_cm3"] == pytest.approx(1.5 * area * 1e-3, rel=1e-3)


def test_a_part_that_needs_no_hole_is_written_as_it_is_and_that_is_said(tmp_path, capfd):
    table, mesh = cut(tmp_path, box((20, 20, 20)), name="cube")
    assert "no hole is needed this way up" in capfd.readouterr().err
    assert table["vents"] == [] and "vented" not in table
    assert mesh.volume == pytest.approx(8000, rel=1e-6)


@pytest.mark.slow
def test_without_a_hole_comes_first(tmp_path, capfd):
    cut(tmp_path, BELL, effort=WITH_HANGING)
    lines = [one for one in capfd.readouterr().err.splitlines() if "vent is needed" in one or "cut:" in one]
    assert "turned under the bath" in lines[0] and "1 hole cut" in lines[1]


@pytest.mark.parametrize(
    ("model", "words"),
    [
        ((BELL[0], BELL[1][2:]), "close it first"),
        (joined(BELL, moved(sphere(3, 2), (0, 0, 0.5))), "join them first"),
    ],
)
def test_what_is_no_clean_solid_is_one_line_and_nothing_is_written(tmp_path, capfd, model, words):
    trimesh.Trimesh(*model, process=False).export(tmp_path / "part.stl")
    (tmp_path / "job.toml").write_text(f'[part]\nfile = "part.stl"\nhang = "as set"\n{QUICK}')
    there = {one.name for one in tmp_path.iterdir()}
    outputs = ["--report", str(tmp_path / "r.json"), "--vented", str(tmp_path / "v.stl")]
    assert command.main(["plan", str(tmp_path / "job.toml"), *outputs]) == 2
    error = [one for one in capfd.readouterr().err.splitlines() if words in one]
    assert len(error) == 1
    assert {one.name for one in tmp_path.iterdir()} == there


def test_a_bore_keeps_clear_of_what_is_inside_the_wall(tmp_path):
    """A bell whose ceiling, 6 mm thick, has a sealed void of 5 mm over its middle: the bore goes beside it, with a wall."""
    thick = moved(cup(12, 20, 6, around=64), turn=DOWN)
    void = moved(inside_out(sphere(2, 3)), (0, 0, 3))
    table, mesh = cut(tmp_path, joined(thick, void), name="void")
    (hole,) = table["vents"]
    start, end, middle = (np.array(x) for x in (hole["from_mm"], hole["to_mm"], (0, 0, 3)))
    t = np.clip((middle - start) @ (end - start) / ((end - start) @ (end - start)), 0, 1)
    apart = np.linalg.norm(start + t * (end - start) - middle)
    assert apart > 2 + hole["diameter_mm"] / 2 + 0.7
    assert mesh.body_count == 2


def remeshed(model: Model, voxel: float) -> Model:
    """As the host's voxel remesh mends it: closed."""
    data = bpy.data.meshes.new("scan")
    data.from_pydata(model[0].tolist(), [], model[1].tolist())
    scan = bpy.data.objects.new("scan", data)
    bpy.context.scene.collection.objects.link(scan)
    remesh = scan.modifiers.new("remesh", "REMESH")
    remesh.mode, remesh.voxel_size = "VOXEL", voxel
    mesh = bpy.data.meshes.new_from_object(scan.evaluated_get(bpy.context.evaluated_depsgraph_get()))
    mesh.calc_loop_triangles()
    points = np.array([v.co[:] for v in mesh.vertices])
    faces = np.array([t.vertices[:] for t in mesh.loop_triangles], dtype=np.int32)
    bpy.data.objects.remove(scan)
    return points, faces


def hollowed(model: Model) -> Model:
    """With a ball of 8 mm taken out of its middle, open straight below by a hole of 6 mm (manifold)."""
    solid = trimesh.Trimesh(*model, process=False)
    middle, low = solid.center_mass, solid.bounds[0, 2]
    ball = trimesh.creation.icosphere(3, 8.0)
    drill = trimesh.creation.cylinder(3, middle[2] - low + 2, sections=48)
    ball.apply_translation(middle)
    drill.apply_translation([*middle[:2], 0.5 * (middle[2] + low) - 1])
    shell = trimesh.boolean.difference([solid, ball, drill], engine="manifold")
    return np.asarray(shell.vertices), np.asarray(shell.faces, dtype=np.int32)


@pytest.mark.slow
def test_real_scans_mended_and_hollowed(tmp_path):
    """The coarse bunny, mended by pymeshfix and remeshed in voxels, and that one hollowed out: what is
    cut is a solid, and empty by the flood."""
    closed = remeshed((coarse_mended_bunny()[0] / MM, coarse_mended_bunny()[1]), 1.8)
    for name, model in (("remeshed", closed), ("hollowed", hollowed(closed))):
        before = flood(trimesh.Trimesh(*model, process=False))
        table, mesh = cut(tmp_path, model, name=name)
        assert before > 0.15 and table["vented"]["trapped_mL"] < 0.05 < table["vented"]["trapped_before_mL"], name
        assert mesh.is_watertight and flood(mesh) < 0.15 * before, name
        assert all(one["frees_mL"] > 0.05 for one in table["vents"]), name


def test_an_open_scan_is_refused_with_the_number_of_its_open_edges(tmp_path, capfd):
    points, faces = coarse_bunny()
    trimesh.Trimesh(points / MM, faces, process=False).export(tmp_path / "scan.stl")
    (tmp_path / "job.toml").write_text(f'[part]\nfile = "scan.stl"\nhang = "as set"\n{QUICK}')
    assert command.main(["plan", str(tmp_path / "job.toml"), "--vented", str(tmp_path / "v.stl")]) == 2
    (line,) = [one for one in capfd.readouterr().err.splitlines() if "holes can only be cut into a solid" in one]
    assert re.search(r"the mesh is open at [\d,]+ edges", line)


def test_a_hole_keeps_off_the_wire(tmp_path):
    """The bell's vent goes through the middle of its ceiling, unless a wire of 6 mm stands there."""
    trimesh.Trimesh(*BELL, process=False).export(tmp_path / "bell.stl")
    wire = "[[wire]]\npoint_mm = [0, 0, 1.5]\npad_mm = 6\n"
    (tmp_path / "job.toml").write_text(f'[part]\nfile = "bell.stl"\nhang = "as set"\n{wire}{QUICK}')
    report = tmp_path / "r.json"
    assert command.main(["plan", str(tmp_path / "job.toml"), "--report", str(report)]) == 0
    (hole,) = json.loads(report.read_text())["vents"]
    away = np.linalg.norm(np.array(hole["to_mm"]) - [0, 0, 1.5])
    assert away >= 3 + hole["diameter_mm"] / 2 + 0.8


@pytest.mark.usefixtures("platewright")
def test_a_hole_keeps_off_a_face_that_shows(add):
    """The bell's top shows: the hole goes through the side, though that is no shorter; the part stays as it was."""
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(BELL, "Bell")
    shown = part.data.attributes.new("show_face", "BOOLEAN", "FACE")
    z = np.array([[part.data.vertices[v].co.z for v in p.vertices] for p in part.data.polygons])
    shown.data.foreach_set("value", np.isclose(z, 1.5).all(axis=1))
    bpy.ops.platewright.measure()
    count = len(part.data.vertices)
    bpy.ops.platewright.cut_holes()
    made = bpy.context.active_object
    assert made.name == "Bell, vented" and len(part.data.vertices) == count
    assert session.objects(bpy.context) == [part] and not session.find(bpy.context).stale(bpy.context.scene)
    points = np.array([v.co[:] for v in made.data.vertices])
    top = points[np.isclose(points[:, 2], points[:, 2].max(), atol=1e-4)]
    assert len(top) <= 65  # as before: no rim of a hole in it
    assert {o.name for o in bpy.data.objects} == {"Bell", "Bell, vented"}
