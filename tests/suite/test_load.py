"""Model files in: the same model by every door, and one line for every file that is not whole.

Good files are written by trimesh, an independent library, or by Blender itself; bad ones are made by hand.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh

from addon.engine.settings import job as jobs
from addon.engine.settings import job_file
from addon.engine.errors import InputError
from addon.engine.settings.part import PartSection
from addon.engine.mesh.skipped import Skipped, Why
from addon.suite.scene import load

import models

RING = models.torus(20.0, 5.0, 48, 24)  # mm, about z; lopsided by the shift, so that axes cannot be mixed up
MODEL = models.moved(models.joined(RING, models.moved(models.box((9, 3, 2)), (40, 0, 10))), (1, 2, 3))


def measures(part) -> tuple[float, float]:
    """Area in mm2 and volume in mm3 (divergence theorem)."""
    a, b, c = (1e3 * part.points[part.triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    return 0.5 * np.linalg.norm(cross, axis=1).sum(), np.einsum("ij,ij->", a, cross) / 6


def export(folder: Path, ending: str, **options) -> Path:
    path = folder / f"ring{ending}"
    trimesh.Trimesh(*MODEL, process=False).export(path, **options)
    return path


def as_text(path: Path) -> Path:
    path.write_bytes(trimesh.Trimesh(*MODEL, process=False).export(file_type="stl_ascii").encode())
    return path


@pytest.mark.parametrize("kind", ["binary", "text", "obj", "ply", "ply text"])
def test_every_format_gives_the_same_model(tmp_path, kind):
    """Area, volume and bounds by trimesh on the same points; OBJ keeps the axes of its file."""
    path = {
        "binary": lambda: export(tmp_path, ".stl"),
        "text": lambda: as_text(tmp_path / "ring.stl"),
        "obj": lambda: export(tmp_path, ".obj"),
        "ply": lambda: export(tmp_path, ".ply"),
        "ply text": lambda: export(tmp_path, ".ply", encoding="ascii"),
    }[kind]()
    part = load.part(PartSection(file=str(path)))
    wanted = trimesh.Trimesh(*MODEL, process=False)
    assert part.name == "ring" and len(part.triangles) == len(MODEL[1])
    assert measures(part) == pytest.approx((wanted.area, wanted.volume), rel=1e-5)
    np.testing.assert_allclose(part.points.min(axis=0) * 1e3, wanted.bounds[0], atol=1e-4)


def test_glb_has_y_up(tmp_path):
    """The glTF standard (2.0, section 3.4) has Y up: what points along the file's Y points along our Z."""
    part = load.part(PartSection(file=str(export(tmp_path, ".glb"))))
    low, high = trimesh.Trimesh(*MODEL, process=False).bounds
    assert measures(part)[1] == pytest.approx(trimesh.Trimesh(*MODEL).volume, rel=1e-5)
    x, y, z = np.stack([low, high]).T
    wanted = [[x[0], -z[1], y[0]], [x[1], -z[0], y[1]]]
    found = [part.points.min(axis=0) * 1e3, part.points.max(axis=0) * 1e3]
    np.testing.assert_allclose(found, wanted, atol=1e-4)


def test_points_of_stl_are_shared_again(tmp_path):
    """The format repeats points; a ring of 48 x 24 quads has as many points, not three a triangle."""
    trimesh.Trimesh(*RING, process=False).export(tmp_path / "ring.stl")
    part = load.part(PartSection(file=str(tmp_path / "ring.stl")))
    assert len(part.points) == 48 * 24 and len(part.triangles) == 2 * 48 * 24


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("inch", 25.4)])
def test_unit_of_the_file(tmp_path, unit, factor):
    part = load.part(PartSection(file=str(export(tmp_path, ".stl")), unit=unit))
    assert np.ptp(part.points[:, 0]) * 1e3 == pytest.approx(np.ptp(MODEL[0][:, 0]) * factor, rel=1e-6)


def test_polygons_of_obj_are_cut_right(tmp_path):
    """A concave pentagon of area 2.5 (shoelace) beside a quad of area 1."""
    path = tmp_path / "sheet.obj"
    path.write_text(
        "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 1 0.5 0\nv 0 2 0\nv 5 0 0\nv 6 0 0\nv 6 1 0\nv 5 1 0\n"
        "f 1 2 3 4 5\nf -4/1 -3/2 -2/3 -1/4\n"
    )
    assert measures(load.part(PartSection(file=str(path))))[0] == pytest.approx(2.5 + 1.0)


def blend(folder: Path, scale: float = 1.0, **objects: models.Model) -> Path:
    bpy.context.scene.unit_settings.scale_length = scale
    for name, (points, triangles) in objects.items():
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata(points.tolist(), [], np.asarray(triangles).tolist())
        bpy.context.scene.collection.objects.link(bpy.data.objects.new(name, mesh))
    path = folder / "scene.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True)
    return path


@pytest.mark.parametrize("scale", [1.0, 0.01, 0.001])
def test_a_blend_takes_its_scene_s_unit_on_request(tmp_path, scale):
    """A cube of 10 mm whatever the scene's unit scale, if the job says "scene"; else one unit is what the job says, or a mm."""
    path = blend(tmp_path, scale, Cube=models.box(np.full(3, 0.01 / scale)))
    for unit, factor in (({"unit": "scene"}, 1.0), ({"unit": "m"}, scale**-3), ({}, (1000 * scale) ** -3)):
        section = jobs.read_job({"part": {"file": str(path), **unit}}).part
        assert measures(load.part(section))[1] == pytest.approx(1000.0 * factor, rel=1e-5)
    assert job_file.load_job(path).part.unit == "mm"


def test_an_object_of_a_blend_by_its_name(tmp_path):
    path = blend(tmp_path, Small=models.box(), Large=models.box((2, 2, 2)))
    part = load.part(PartSection(file=str(path), object="Large", unit="mm"))
    assert part.name == "Large" and measures(part)[1] == pytest.approx(8.0)
    with pytest.raises(InputError, match="scene.blend: several objects .* part.object: 'Large', 'Small'"):
        load.part(PartSection(file=str(path)))
    with pytest.raises(InputError, match="part.object: there is no object 'Huge'"):
        load.part(PartSection(file=str(path), object="Huge"))


def test_a_hidden_object_that_is_named_counts(tmp_path):
    """Hidden in every way at once, with a modifier that must still be evaluated."""
    path = blend(tmp_path, Part=models.box())
    part = bpy.data.objects["Part"]
    array = part.modifiers.new("Array", "ARRAY")
    array.relative_offset_displace = (2, 0, 0)
    part.hide_set(True)
    part.hide_viewport = True
    bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True)
    assert measures(load.part(PartSection(file=str(path))))[1] == pytest.approx(2.0, rel=1e-5)


def test_scripts_of_a_blend_stay_off(tmp_path):
    """Neither a registered text nor a driver's expression runs when the file is opened."""
    trace = tmp_path / "ran.txt"
    path = blend(tmp_path, Part=models.box())
    text = bpy.data.texts.new("run.py")
    text.write(f"open({str(trace)!r}, 'w').close()")
    text.use_module = True
    driver = bpy.data.objects["Part"].driver_add("location", 0).driver
    driver.expression = f"open({str(trace)!r}, 'w').close() or 5"
    bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True)
    trace.unlink(missing_ok=True)
    load.empty_scene()
    load.part(PartSection(file=str(path)))
    assert not trace.exists()


def stl(count: int, triangles: np.ndarray) -> bytes:
    record = np.zeros(len(triangles), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    record["c"] = triangles
    return b"x".ljust(80) + struct.pack("<I", count) + record.tobytes()


ONE = np.array([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]], dtype=np.float32)
FACET = "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"
PLY = "ply\nformat {}\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
PLY += "element face {}\nproperty list uchar int vertex_indices\nend_header\n"
ROWS = "0 0 0\n1 0 0\n0 1 0\n"
CONTENTS = json.dumps({"asset": {"version": "2.0"}}).encode()

BAD = {
    "empty.stl": (b"", "is empty"),
    "short.stl": (b"abc", "too few"),
    "cut.stl": (stl(2, ONE), "promises 2 triangles"),
    "huge.stl": (stl(4_000_000_000, ONE), "promises 4000000000 triangles"),
    "long.stl": (stl(1, np.repeat(ONE, 3, axis=0)), "promises 1 triangles"),
    "none.stl": (stl(0, ONE[:0]), "no faces"),
    "nan.stl": (stl(1, ONE * np.nan), "not finite"),
    "inf.stl": (stl(2, np.concatenate([ONE, ONE + np.inf])), "3 points .* not finite"),
    "text cut.stl": (f"solid a\n{FACET}{FACET[:60]}".encode(), "cut off"),
    "text word.stl": (f"solid a\n{FACET.replace('1 0 0', '1 zero 0')}endsolid".encode(), "three numbers"),
    "text end.stl": (f"solid a\n{FACET}".encode(), "'endsolid' is missing"),
    "text none.stl": (b"solid nothing\n" + b" " * 80 + b"\nendsolid nothing", "no faces"),
    "text nan.stl": (f"solid a\n{FACET.replace('1 0 0', 'nan 0 0')}endsolid".encode(), "not finite"),
    "garbage.obj": (bytes(range(256)) * 4, "no line"),
    "missing point.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "does not exist"),
    "zero.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "does not exist"),
    "word.obj": (b"v 0 zero 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "not made of numbers"),
    "nan.obj": (b"v 0 nan 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "not finite"),
    "no faces.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no faces"),
    "garbage.ply": (b"hello", "header is missing"),
    "cut text.ply": ((PLY.format("ascii 1.0", 2) + ROWS + "3 0 1 2").encode(), "cut off"),
    "cut.ply": (PLY.format("binary_little_endian 1.0", 1).encode() + bytes(30), "cut off"),
    "huge.ply": (PLY.format("binary_little_endian 1.0", 10**12).encode() + bytes(50), "cut off"),
    "missing point.ply": ((PLY.format("ascii 1.0", 1) + ROWS + "3 0 1 7\n").encode(), "does not exist"),
    "no faces.ply": ((PLY.format("ascii 1.0", 0) + ROWS).encode(), "no faces"),
    "garbage.glb": (b"garbage of some length here", "does not begin as a GLB"),
    "cut.glb": (b"glTF" + struct.pack("<IIII", 2, 4000, 200, 0x4E4F534A) + b"{}", "cut off"),
    "no mesh.glb": (
        b"glTF" + struct.pack("<IIII", 2, 20 + len(CONTENTS), len(CONTENTS), 0x4E4F534A) + CONTENTS,
        "no mesh",
    ),
    "garbage.blend": (b"garbage", "does not begin as a .blend"),
    "cut.blend": (b"BLENDER-v405 and no more", "cannot open"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_one_line(tmp_path, name, capfd):
    """The file, what is wrong and the remedy in one line; nothing else is printed."""
    content, words = BAD[name]
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError, match=words) as caught:
        load.part(PartSection(file=str(path)))
    sentence = str(caught.value)
    assert sentence.startswith(str(path)) and "\n" not in sentence
    assert any(remedy in sentence for remedy in ("again", "choose", "is it an OBJ"))
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("ending", [".stl", ".obj", ".ply", ".glb", ".blend"])
def test_a_missing_file_is_one_line(tmp_path, ending):
    with pytest.raises(InputError, match="No such file"):
        load.part(PartSection(file=str(tmp_path / f"no{ending}")))


@pytest.mark.parametrize("ending", [".stl", ".ply", ".glb", ".blend"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.99])
def test_a_file_cut_anywhere_is_refused(tmp_path, ending, share):
    """No prefix of a real file passes for the whole."""
    path = export(tmp_path, ending) if ending != ".blend" else blend(tmp_path, Part=MODEL)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(InputError, match="cut off|damaged|cannot open|too few"):
        load.part(PartSection(file=str(path)))


def test_faces_without_area_in_obj_are_told(tmp_path):
    """Blender drops a face that names one point twice: said, not silently."""
    path = tmp_path / "some.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 1 2\n")
    part = load.part(PartSection(file=str(path)))
    assert len(part.triangles) == 1
    assert part.skipped == (Skipped(Why.DEGENERATE, "some.obj", count=1, total=2),)


def test_bodies_are_read_in_the_unit_of_the_part(tmp_path):
    """Anode, shield and thief by the names that the job gives them; a box of 9 x 3 x 2 cm."""
    trimesh.Trimesh(*models.box((9, 3, 2)), process=False).export(tmp_path / "anode.stl")
    table = {"part": {"file": "part.stl", "unit": "cm"}, "anode": [{"file": "anode.stl"}]}
    job = jobs.read_job(table, folder=str(tmp_path))
    found = load.bodies(job)
    (body,) = found.values()
    assert list(found) == [job.anodes[0].file]
    assert measures(body)[1] == pytest.approx(9 * 3 * 2 * 1e3, rel=1e-6)


def test_a_bad_body_is_one_line(tmp_path):
    text = {"part": {"file": "part.blend", "unit": "scene"}, "shield": [{"file": "shield.stl"}]}
    with pytest.raises(InputError, match="shield.stl: its unit is not known beside a .blend; give part.unit"):
        load.bodies(jobs.read_job(text))
    text["part"]["unit"] = "mm"
    with pytest.raises(InputError, match="shield.stl: No such file"):
        load.bodies(jobs.read_job(text))
    text["shield"] = [{"file": "shield.step"}]
    with pytest.raises(InputError, match="shield.step: no model file"):
        load.bodies(jobs.read_job(text))


def driven(folder: Path, path: str) -> Path:
    """A cube whose driver needs what a file's scripts alone may do."""
    load.empty_scene()
    file = blend(folder, Part=models.box())
    driver = bpy.data.objects["Part"].driver_add(path, 0).driver
    driver.expression = "len(bpy.data.objects) + 1"
    bpy.ops.wm.save_as_mainfile(filepath=str(file), copy=True)
    load.empty_scene()
    return file


def test_a_driver_that_does_not_run_is_told(tmp_path):
    """Blender takes its value for zero: with the scale that is the reason, with the place a part that stands elsewhere."""
    with pytest.raises(InputError, match="scaled to nothing .* the driver of 'scale' of Part does not run"):
        load.part(PartSection(file=str(driven(tmp_path, "scale"))))
    part = load.part(PartSection(file=str(driven(tmp_path, "location"))))
    assert part.points[:, 0].mean() == pytest.approx(0.5e-3)  # a box from 0 to 1 mm
    assert (part.skipped[0].why, part.skipped[0].detail, part.skipped[0].owner) == (Why.DRIVER, "location", "Part")


@pytest.mark.slow
def test_a_driver_that_does_not_run_lets_the_program_end(tmp_path):
    """Blender's module never ended with such a file in memory."""
    call = [sys.executable, "-m", "addon", "area", str(driven(tmp_path, "location"))]
    root = Path(__file__).resolve().parents[2]
    run = subprocess.run(call, cwd=root, capture_output=True, text=True, timeout=60)
    assert run.returncode == 0 and run.stdout.endswith(" dm2\n")


def test_a_face_that_a_ply_lists_twice_is_called_doubled(tmp_path):
    """Blender's importer drops the second of two equal faces: it has an area, and is not said to have none."""
    corners = "0 0 0\n10 0 0\n0 10 0\n0 0 10\n"
    faces = "3 0 2 1\n3 0 1 3\n3 1 2 3\n3 0 3 2\n3 0 2 1\n"
    head = (
        "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
        "element face 5\nproperty list uchar int vertex_indices\nend_header\n"
    )
    (tmp_path / "twice.ply").write_text(head + corners + faces)
    found = load.part(PartSection(file=str(tmp_path / "twice.ply")))
    assert len(found.triangles) == 4
    assert found.skipped == (Skipped(Why.DOUBLED, "twice.ply", count=1, total=5),)
