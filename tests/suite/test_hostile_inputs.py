"""Files and jobs that mean harm, or look like it: one line each, and what is good in the same call is done.

They are made by hand; the whole table goes through one call of the program of its own, which a file must not end.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh

from addon.engine import inputs
from addon.engine.errors import MAX_LINE_CHARS, InputError, nearest, one_line
from addon.engine.mesh.skipped import Skipped, Why
from addon.suite.scene import glb, load

import models

ROOT = Path(__file__).resolve().parents[2]
QUICK = '[effort]\nskip = "gas, drainage, narrow, openness, contacts, field, coat, hanging, preparation"\n'
BOX = models.box((10, 20, 30))  # mm: 22 cm2


def job(part: str = 'file = "box.stl"', text: str = "") -> Callable[[Path], None]:
    def write(path: Path) -> None:
        path.write_text(f"[part]\n{part}\n{QUICK}{text}", encoding="utf-8")

    return write


def contents(**changes: object) -> dict:
    """A GLB file's list of contents: one triangle whose points and corners are in a block of 42 bytes."""
    table = {
        "asset": {"version": "2.0"},
        "buffers": [{"byteLength": 42}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": 36},
            {"buffer": 0, "byteOffset": 36, "byteLength": 6},
        ],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": 3, "type": "SCALAR"},
        ],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "nodes": [{"mesh": 0}],
    }
    for path, value in changes.items():
        *way, last = (int(step) if step.isdigit() else step for step in path.split("__"))
        place = table
        for step in way:
            place = place[step]
        place[last] = value
    return table


def packed(table: dict | bytes, corners: tuple[int, int, int] = (0, 1, 2), block: bytes | None = None) -> bytes:
    text = table if isinstance(table, bytes) else json.dumps(table).encode()
    text += b" " * (-len(text) % 4)
    points = np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0]], dtype="<f4").tobytes()
    block = points + struct.pack("<HHH", *corners) + b"\0\0" if block is None else block
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(block), 0x004E4942) + block
    return b"glTF" + struct.pack("<II", 2, 12 + len(chunks)) + chunks


DEEP = b'{"asset":{"version":"2.0"},"meshes":[{"primitives":[]}],"extras":' + b"[" * 100_000 + b"]" * 100_000 + b"}"

# What a reader in C would take on trust -> words of the refusal
GLB = {
    "fewer points than the faces name": (packed(contents(accessors__0__count=2)), "does not exist"),
    "a face names a point beyond": (packed(contents(), (0, 1, 60000)), "does not exist"),
    "more entries than the view has": (packed(contents(accessors__0__count=4)), "shorter than"),
    "an offset beyond the view": (packed(contents(accessors__1__byteOffset=4)), "shorter than"),
    "a view beyond the block": (packed(contents(bufferViews__1__byteLength=1000, accessors__1__count=300)), "shorter"),
    "a stride of a thousand": (packed(contents(bufferViews__0__byteStride=1000)), "shorter than"),
    "a stride below an entry": (packed(contents(bufferViews__0__byteStride=4)), "a count or an offset"),
    "a count below zero": (packed(contents(accessors__1__count=-3)), "a count or an offset"),
    "a count of 1e300": (packed(contents(accessors__1__count=1e300)), "a count or an offset"),
    "an offset below zero": (packed(contents(bufferViews__1__byteOffset=-4)), "a count or an offset"),
    "a view that is not there": (packed(contents(accessors__0__bufferView=9)), "bufferViews[9]"),
    "an accessor that is not there": (packed(contents(meshes__0__primitives__0__indices=-1)), "accessors[-1]"),
    "a mesh that is not there": (packed(contents(nodes__0__mesh=7)), "meshes[7]"),
    "points of one number": (packed(contents(accessors__0__type="SCALAR")), "not made of VEC3"),
    "numbers of no known type": (packed(contents(accessors__0__componentType=1)), "not made of VEC3"),
    "corners that are floats": (
        packed(contents(accessors__1__componentType=5126, bufferViews__1={"buffer": 0, "byteLength": 36})),
        "does not exist",
    ),
    "two corners": (packed(contents(accessors__1__count=2)), "no whole number of triangles"),
    "a node that is its own child": (packed(contents(nodes__0__children=[0])), "hangs in itself"),
    "a node with two parents": (packed(contents(nodes=[{"children": [1, 1]}, {"mesh": 0}])), "two places"),
    "a list where a table stands": (packed(contents(accessors=[[], 3])), "accessors[0]"),
    "a text where a list stands": (packed(contents(nodes="nodes")), "nodes[0]"),
    "a matrix of two": (packed(contents(nodes__0__matrix=[1, 2])), "list of contents is damaged"),
    "scaled beyond all numbers": (packed(contents(nodes__0__scale=[1e308] * 3)), "not finite"),
    "brackets 100,000 deep": (packed(DEEP), "list of contents is damaged"),
    "numbers in another file": (packed(contents(buffers__0__uri="/dev/zero")), "another file"),
    "squeezed by an extension": (packed(contents(extensionsRequired=["KHR_draco_mesh_compression"])), "KHR_draco"),
    "a block that is cut off": (packed(contents())[:-8], "cut off"),
    "a sparse change beyond": (
        packed(
            contents(
                accessors__0__sparse={
                    "count": 1,
                    "indices": {"bufferView": 1, "byteOffset": 4, "componentType": 5123},
                    "values": {"bufferView": 0},
                }
            ),
            (0, 1, 9),
        ),
        "not there",
    ),
}


HEAD = "ply\nformat binary_{}_endian 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n"
HEAD += "element face {}\nproperty list {} {} vertex_indices\nend_header\n"
CORNERS = np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]], dtype="<f4")


def ply(rows: bytes, faces: int = 1, lengths: str = "uchar", kind: str = "int", points: int = 4) -> bytes:
    return HEAD.format("little", points, faces, lengths, kind).encode() + CORNERS.tobytes() + rows


PLY = {
    "a corner beyond": (ply(struct.pack("<Biii", 3, 0, 1, 4)), "does not exist"),
    "a corner below zero": (ply(struct.pack("<Biii", 3, 0, 1, -1)), "does not exist"),
    "a corner beyond after a polygon": (ply(struct.pack("<BiiiiBiii", 4, 0, 1, 2, 3, 3, 0, 1, 9), 2), "does not exist"),
    "a corner that is no whole number": (ply(struct.pack("<Bfff", 3, 0, 1, 99), kind="float"), "does not exist"),
    "a list longer than the file": (ply(struct.pack("<Biii", 255, 0, 1, 2)), "not all of them follow"),
    "a list of less than nothing": (ply(struct.pack("<iiii", -3, 0, 1, 2), lengths="int"), "has -3 entries"),
    "a list of two billion": (ply(struct.pack("<Iiii", 1 << 31, 0, 1, 2), lengths="uint"), "has 2147483648 entries"),
    "fewer faces than promised": (ply(struct.pack("<Biii", 3, 0, 1, 2), 2), "not all of them follow"),
    "more points than there are": (ply(b"", 0, points=10**15), "not all of them follow"),
    "a type that there is not": (ply(b"", kind="quad"), "header has a line"),
    "a count below zero": (ply(b"", -1), "header has a line"),
    "text among the numbers": (
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nend_header\nx\n",
        "numbers",
    ),
}
POINTS = b"v 0 0 0\nv 10 0 0\nv 0 10 0\n"
OBJ = {
    "a point counted back too far": (b"v 0 0 0\nv 1 0 0\nf -1 -2 -3\nv 0 1 0\n", "does not exist"),
    "a corner that is no whole number": (POINTS + b"f 1 2.5 3\n", "not made of point numbers"),
    "a corner without end": (POINTS + b"f 1 2 inf\n", "does not exist"),
    "a corner of 400 digits": (POINTS + b"f 1 2 " + b"9" * 400 + b"\n", "does not exist"),
    "a point of two numbers": (b"v 0 0\nv 1 0 0\nv 0 1 0 1\nf 1 2 3\n", "not made of numbers"),
    "lines and points alone": (POINTS + b"l 1 2 3 9999\np 77\n", "no faces"),
}
LYING = {
    f"{name}.{kind}": row for kind, rows in (("glb", GLB), ("ply", PLY), ("obj", OBJ)) for name, row in rows.items()
}


@pytest.mark.parametrize("name", LYING)
def test_a_model_that_lies_is_one_line(tmp_path, name):
    data, words = LYING[name]
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        load.part(load.PartSection(file=str(path)))
    assert words in str(caught.value) and str(caught.value).startswith(str(path))


def test_the_glb_of_the_table_is_good_as_it_stands(tmp_path):
    """Each row above is one change away from a triangle of 50 mm2; a strip and a fan of it are the same triangle."""
    for mode in (4, 5, 6):
        path = tmp_path / "good.glb"
        path.write_bytes(packed(contents(meshes__0__primitives__0__mode=mode)))
        corners = glb.read(path, 10)
        assert corners.shape == (1, 3, 3)
        np.testing.assert_allclose(np.cross(*(corners[0, 1:] - corners[0, 0])), [0, -100, 0])


def test_polygons_of_several_sizes_are_whole(tmp_path):
    """A quad and a triangle, in either order of bytes, and in text: 100 and 50 mm2."""
    square = np.array([[0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0]])
    path = tmp_path / "good.ply"
    for order, name in (("<", "little"), (">", "big")):
        rows = struct.pack(f"{order}BiiiiBiii", 4, 0, 1, 2, 3, 3, 0, 1, 2)
        path.write_bytes(
            HEAD.format(name, 4, 2, "uchar", "int").encode() + square.astype(f"{order}f4").tobytes() + rows
        )
        assert len(load.part(load.PartSection(file=str(path))).triangles) == 3
    text = HEAD.format("", 4, 2, "uchar", "int").replace("binary__endian", "ascii")
    path.write_text(text + "".join("{} {} {}\n".format(*row) for row in square) + "4 0 1 2 3\n3 0 1 2\n")
    assert len(load.part(load.PartSection(file=str(path))).triangles) == 3


def test_an_obj_is_read_for_its_surface_alone(tmp_path):
    """Colors, weights, normals, lines that go on, numbers counted back, and a material in a pipe that nobody may open.
    The prism by hand: two triangles of 50 mm2, two sides of 10 x 10 mm and one of 10 x 14.142 mm."""
    os.mkfifo(tmp_path / "pipe.mtl")
    path = tmp_path / "prism.obj"
    path.write_text(
        "mtllib pipe.mtl\nusemtl gold\nv 0 0 0 1 0 0\nv 10 0 0 0 1 0\nv 0 10 0 0 0 1\nvn 0 0 1\nf -1//1 -2//1 -3//1\n"
        "v 0 0 10 1.0\nv 10 0 10\nv 0 10 10\nf 4 5/7 6\nf 1 2 5 \\\n 4\nf 2 3 6 5\nf 3 1 4 6\nf 1 1 2\nf 1 2\n"
    )
    part = load.part(load.PartSection(file=str(path)))
    a, b, c = (part.points[part.triangles[:, k]] * 1e3 for k in range(3))
    cross = np.cross(b - a, c - a)
    assert 0.5 * np.linalg.norm(cross, axis=1).sum() == pytest.approx(2 * 50 + 2 * 100 + 100 * 2**0.5)
    assert np.einsum("ij,ij->", a, cross) / 6 == pytest.approx(500.0)  # closed, and outward
    assert part.skipped == (Skipped(Why.DEGENERATE, "prism.obj", count=2, total=7),)


def test_a_glb_is_read_as_blender_reads_it(tmp_path, add):
    """Against Blender's own exporter and importer: a turned, scaled, mirrored child below a moved parent, and a copy that
    shares its mesh. Areas and bounds agree; the winding is outward in both."""
    parent = add(models.cup(10.0, 20.0, 1.0, around=12, rows=2), "Cup")
    parent.location, parent.rotation_euler = (3, 4, 5), (0.3, 0.5, 0.7)
    child = add(models.box((1, 2, 3)), "Box")
    child.parent, child.location, child.scale = parent, (30, 0, 0), (-2.0, 3.0, 1.0)
    child.rotation_mode, child.rotation_quaternion = "QUATERNION", (0.5, 0.5, -0.5, 0.5)
    copy = bpy.data.objects.new("Copy", child.data)
    copy.location = (0, 70, 0)
    bpy.context.scene.collection.objects.link(copy)
    path = tmp_path / "scene.glb"
    bpy.ops.export_scene.gltf(filepath=str(path))
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.import_scene.gltf(filepath=str(path))
    wanted = []
    for o in bpy.context.scene.objects:
        o.data.calc_loop_triangles()
        place, flip = np.array(o.matrix_world), o.matrix_world.is_negative
        for triangle in o.data.loop_triangles:
            corners = np.array([o.data.vertices[k].co for k in triangle.vertices]) @ place[:3, :3].T + place[:3, 3]
            wanted.append(corners[::-1] if flip else corners)
    found, wanted = glb.read(path, 1000), np.array(wanted)
    assert len(found) == len(wanted)
    for corners in (found, wanted):  # rows in an order of their own
        corners[:] = corners[np.lexsort(np.round(corners.mean(axis=1), 3).T)]
    cross = [np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]) for c in (found, wanted)]
    np.testing.assert_allclose(found.mean(axis=1), wanted.mean(axis=1), atol=1e-4)
    np.testing.assert_allclose(*cross, atol=1e-3)


def linked(path: Path) -> None:
    path.symlink_to(path.parent / "loop 2.stl")
    (path.parent / "loop 2.stl").symlink_to(path)


def own_bath(text: str) -> Callable[[Path], None]:
    entry = (
        '["mine"]\nmetal = "copper"\nconductivity_S_m = 18\ndensity_g_mL = 1.1\nwindow_A_dm2 = [1, 5]\n'
        "efficiency = 1\nlimiting_A_dm2 = 9\n"
    )

    def write(path: Path) -> None:
        table = path.with_suffix(".bath.toml")
        table.write_text(entry + text)
        job(text=f'[bath]\nfile = "{table.name}"\n')(path)

    return write


def endless_bath(path: Path) -> None:
    path.with_suffix(".bath.toml").symlink_to("/dev/zero")
    job(text=f'[bath]\nfile = "{path.with_suffix(".bath.toml").name}"\n')(path)


def piped_anode(path: Path) -> None:
    os.mkfifo(path.with_suffix(".stl"))
    job(text=f'[[anode]]\nfile = "{path.stem}.stl"\n')(path)


def huge(kind: str) -> Callable[[Path], None]:
    """A box of 3e38 mm, which single precision just holds."""
    points, triangles = BOX
    return lambda path: path.write_bytes(
        trimesh.Trimesh(points / 30 * 3e38, triangles, process=False, validate=False).export(file_type=kind)
        if kind != "obj"
        else b"".join(b"v %g %g %g\n" % tuple(row) for row in points / 30 * 3e38)
        + b"".join(b"f %d %d %d\n" % tuple(row) for row in triangles + 1)
    )


# Name of a job or model file -> what makes it, and words of its one line
CASES: dict[str, tuple[Callable[[Path], object], str]] = {
    "pipe.toml": (os.mkfifo, "this is a pipe"),
    "model pipe.stl": (os.mkfifo, "this is a pipe"),
    "zero.toml": (lambda path: path.symlink_to("/dev/zero"), "this is a device"),
    "model zero.obj": (lambda path: path.symlink_to("/dev/zero"), "this is a device"),
    "folder.toml": (Path.mkdir, "this is a folder"),
    "loop.stl": (linked, "Too many levels of symbolic links"),
    "long.toml": (job(f'file = "{"a/" * 3000}box.stl"'), "there is no file"),
    "large.toml": (lambda path: path.write_bytes(b"# much\n" * 600_000), "4 MB are more than"),
    "kinetics.toml": (own_bath('kinetics = "x"\n'), "kinetics: expected { kind"),
    "kinetics anode.toml": (own_bath("anode_kinetics = 3\n"), "anode_kinetics: expected { kind"),
    "bath.toml": (endless_bath, "this is a device"),
    "anode.toml": (piped_anode, "this is a pipe"),
    "escape.toml": (job(text='[target]\n"\\u001b[2J\\u202ekey" = 1\n'), r"unknown key '\x1b[2J\u202ekey'"),
    "key.toml": (job(text=f'["{"k" * 9000}"]\n'), "unknown section [kkkk"),
    "name.toml": (job(f'file = "{"n" * 9000}.stl"'), "there is no file"),
    "nested.toml": (lambda path: path.write_text("a = " + "[" * 5000 + "]" * 5000), "nested too deeply"),
    "line\nbreak.stl": (lambda path: path.write_bytes(b"x"), r"line\nbreak.stl"),
    os.fsdecode(b"latin \xe9.stl"): (lambda path: path.write_bytes(b"x"), "is not UTF-8 text"),
    "huge.obj": (huge("obj"), "huge"),
    "huge binary.ply": (huge("ply"), "huge"),
    "huge binary.glb": (huge("glb"), "huge"),
    **{
        f"{number} {name}": ((lambda path, d=data: path.write_bytes(d)), words)
        for number, (name, (data, words)) in enumerate(LYING.items())
    },
}


@pytest.mark.slow
def test_one_call_takes_them_all(tmp_path):
    """One line for each, standard output empty, no traceback; the good jobs round them are done, and nothing else is
    left in the folder."""
    trimesh.Trimesh(*BOX, process=False).export(tmp_path / "box.stl")
    job()(tmp_path / "first.toml")
    for name, (make, _) in CASES.items():
        make(tmp_path / name)
    job()(tmp_path / "last.toml")
    before = set(os.listdir(tmp_path))
    names = [os.fsencode(tmp_path / name) for name in ("first.toml", *CASES, "last.toml")]
    call = [sys.executable, "-m", "addon", "plan", *names, "--report", f"{tmp_path}/{{name}}.json"]
    run = subprocess.run(call, cwd=ROOT, capture_output=True, timeout=300)
    lines = [line for line in run.stderr.decode().splitlines() if "warning:" not in line]
    assert (run.returncode, run.stdout) == (2, b""), lines
    assert set(os.listdir(tmp_path)) - before == {"first.json", "last.json"}
    errors = [line for line in lines if "error:" in line]
    assert len(errors) == len(CASES) and len(lines) <= len(CASES) + 10, "\n".join(lines)
    for line, (name, (_, words)) in zip(errors, CASES.items(), strict=True):
        assert words in line, f"{name}: {line}"
        assert len(line) <= MAX_LINE_CHARS + 30 and line.isprintable()
    for name in ("first", "last"):
        assert json.loads((tmp_path / f"{name}.json").read_text())["part"]["plated_area_dm2"] == pytest.approx(0.22)


def test_a_sentence_is_one_printable_line():
    """Control characters and marks that turn the line round are escaped; a long name loses its middle, not its end."""
    assert one_line("a\x1b[1mb\u202ec\nd\udce9 ü × 10²") == r"a\x1b[1mb\u202ec\nd\udce9 ü × 10²"
    line = one_line(f"/x/{'y' * 6000}/part.stl: there is no such file")
    assert len(line) < 300 and line.endswith("/part.stl: there is no such file")
    assert one_line(line) == line
    assert nearest("k" * 100_000, ["key"]) == "known: key"


def test_a_file_that_grows_past_the_limit_is_not_read(tmp_path):
    (tmp_path / "a.stl").write_bytes(b"12345")
    assert inputs.size(tmp_path / "a.stl", 5, "thin it out") == 5
    with pytest.raises(InputError, match="thin it out"):
        inputs.size(tmp_path / "a.stl", 4, "thin it out")
