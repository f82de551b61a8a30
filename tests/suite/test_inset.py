"""The copy to print: smaller by coat and deposit, beside a part that stays, from the button and from the command line."""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest

from addon.engine.units import MM, UM
from addon.suite import command
from addon.suite.session import session
from addon.suite.scene import settings
from addon.suite.scene import stl

from models import box, cylinder, moved, sphere

LAYER = 70 * UM  # 30 um of deposit on 40 um of coat, as the defaults have them


def world(o):
    matrix = np.array(o.matrix_world)
    return np.array([v.co[:] for v in o.data.vertices]) @ matrix[:3, :3].T + matrix[:3, 3]


def volume(corners):
    a, b, c = np.moveaxis(corners - corners[0, 0], 1, 0)
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6


def triangles(o):
    return world(o)[np.array([p.vertices[:] for p in o.data.polygons])]


@pytest.mark.usefixtures("platewright")
def test_a_cube_comes_out_smaller_by_the_layer_on_each_side(add):
    """20 mm less twice 70 um: 19.86 mm, in a scene in millimeters; the cube itself stays."""
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(box((20, 20, 20), (2, 2, 2)), "Cube")
    before = world(part)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.inset()
    made = bpy.context.active_object
    assert made.name == "Cube, print size"
    np.testing.assert_allclose(np.ptp(world(made), axis=0), 19.86, atol=1e-4)
    assert world(made)[:, 0].max() < before[:, 0].min()
    np.testing.assert_array_equal(world(part), before)
    assert session.objects(bpy.context) == [part]
    assert not session.find(bpy.context).stale(bpy.context.scene)


@pytest.mark.slow
@pytest.mark.usefixtures("platewright")
def test_with_a_thickness_map_each_face_gives_way_by_its_own(add):
    """To first order the volume that goes is the integral of the layer over the surface; the second is t / R = 1 %."""
    settings.of(bpy.context.scene).effort.panels = 400
    part = add(moved(sphere(0.010, 3), scale=1.0), "Ball")
    part.location = (0.0, 0.0, 0.0)
    bpy.ops.platewright.study(only="field")
    bpy.ops.platewright.measure()
    kept = session.find(bpy.context)
    surface, field = kept.study.surface, kept.study.results.field
    bpy.ops.platewright.inset()
    gone = volume(triangles(part)) - volume(triangles(bpy.context.active_object))
    expected = (surface.area * (field.thickness + 40 * UM)).sum()
    assert gone == pytest.approx(expected, rel=0.01)
    assert np.ptp(field.thickness) > 0.02 * field.thickness.mean()


@pytest.mark.usefixtures("platewright")
def test_what_is_too_thin_is_refused_in_one_line(add):
    add(box((0.020, 0.020, 0.0001)), "Leaf")
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="Leaf: walls, gaps or edges at 8 faces .* too thin .* 70 µm; thicken"):
        bpy.ops.platewright.inset()
    assert len(bpy.context.scene.objects) == 1


@pytest.mark.usefixtures("platewright")
def test_a_stale_part_is_measured_first(add):
    part = add(box((0.02, 0.02, 0.02)))
    bpy.ops.platewright.measure()
    settings.of(bpy.context.scene).target.thickness = 50
    with pytest.raises(RuntimeError, match="press Check Again first"):
        bpy.ops.platewright.inset()
    part.scale.x = 2.0
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="press Check Again first"):
        bpy.ops.platewright.inset()


@pytest.mark.usefixtures("platewright")
def test_the_better_print_direction_is_taken_over(add):
    """A box tilted by 30 degrees about y: one of its faces goes onto the bed, and then no other way is better."""
    tilt = np.array([[np.cos(np.pi / 6), 0, 0.5], [0, 1, 0], [-0.5, 0, np.cos(np.pi / 6)]])
    add(moved(box((0.02, 0.03, 0.01)), turn=tilt), "Box")
    bpy.ops.platewright.measure()
    bpy.ops.platewright.study(only="orientation")
    bpy.ops.platewright.use_print_direction()
    up = np.array(settings.of(bpy.context.scene).print.up[:])
    assert np.abs(tilt.T @ up).max() == pytest.approx(1, abs=1e-5)
    with pytest.raises(RuntimeError, match="press Check Again first"):
        bpy.ops.platewright.use_print_direction()
    bpy.ops.platewright.study(only="orientation")
    with pytest.raises(RuntimeError, match="as little to sand as any"):
        bpy.ops.platewright.use_print_direction()


def test_the_command_line_writes_it_in_the_models_unit(tmp_path, capsys):
    """A pin of 2 cm height and 1 cm diameter: 1.986 cm and 0.986 cm (its corners by 70 um / cos(pi / 64) more)."""
    points, faces = cylinder(0.5, 2.0)
    stl.write(tmp_path / "pin.stl", points[faces])
    np.testing.assert_allclose(stl.read(tmp_path / "pin.stl"), points[faces], atol=1e-6)
    job = tmp_path / "pin.toml"
    job.write_text(
        '[part]\nfile = "pin.stl"\nunit = "cm"\n[effort]\nskip = "field, coat, contacts, hanging, openness, narrow"\n'
    )
    assert command.main(["plan", str(job), "--inset", str(tmp_path / "print.stl")]) == 0
    found = stl.read(tmp_path / "print.stl")
    assert np.ptp(found[..., 2]) == pytest.approx(2.0 - 0.014, abs=1e-5)
    assert np.ptp(found[..., 0]) == pytest.approx(1.0 - 0.014 / np.cos(np.pi / 64), abs=1e-5)
    assert found.shape == points[faces].shape
    job.write_text(job.read_text().replace('unit = "cm"', 'unit = "mm"') + "[coat]\nthickness_um = 900\n")
    (tmp_path / "print.stl").unlink()
    assert command.main(["plan", str(job), "--inset", str(tmp_path / "print.stl")]) == 2
    said = capsys.readouterr().err.strip().splitlines()[-1]
    assert "too thin to give way to a layer of 930 um" in said
    assert not (tmp_path / "print.stl").exists()


@pytest.mark.slow
def test_the_local_thickness_and_its_range_are_told(tmp_path, capfd):
    """The copy is smaller by the map; the report says by how much, and how far the plated size may be off."""
    points, faces = sphere(10, 2)
    stl.write(tmp_path / "ball.stl", points[faces])
    job = tmp_path / "ball.toml"
    job.write_text('[part]\nfile = "ball.stl"\n[effort]\npanels = 500\nskip = "hanging, openness, narrow, vents"\n')
    out = ["--inset", str(tmp_path / "print.stl"), "--report", str(tmp_path / "r.json")]
    assert command.main(["plan", str(job), *out]) == 0
    told = json.loads((tmp_path / "r.json").read_text())
    low, high = told["inset"]["layer_um"]
    assert told["inset"]["layer_from"] == "field" and 40 < low < 70 < high
    size = np.ptp(stl.read(tmp_path / "print.stl").reshape(-1, 3), axis=0)
    assert told["inset"]["size_mm"] == pytest.approx(size, abs=1e-4)
    assert told["inset"]["off_um"][0] < 0 < told["inset"]["off_um"][1]
    assert "by the thickness map" in capfd.readouterr().err


def test_an_open_mesh_is_refused_in_one_line(tmp_path, capsys):
    points, faces = box((10, 10, 10))
    stl.write(tmp_path / "lid.stl", points[faces[2:]])
    (tmp_path / "lid.toml").write_text('[part]\nfile = "lid.stl"\n[effort]\nskip = "field, coat, contacts, hanging"\n')
    assert command.main(["plan", str(tmp_path / "lid.toml"), "--inset", str(tmp_path / "print.stl")]) == 2
    lines = [
        one for one in capsys.readouterr().err.splitlines() if "print-size copy can only be made of a solid" in one
    ]
    assert len(lines) == 1 and "close it first" in lines[0]
    assert not (tmp_path / "print.stl").exists()


def test_its_name_must_end_as_it_is(tmp_path, capsys):
    stl.write(tmp_path / "pin.stl", np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]]))
    assert command.main(["plan", str(tmp_path / "pin.stl"), "--inset", str(tmp_path / "x.obj")]) == 2
    assert "must end in .stl" in capsys.readouterr().err
