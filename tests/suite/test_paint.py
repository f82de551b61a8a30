"""Colors and values on the user's meshes, and everything as it was when they are taken off."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine import color
from addon.engine import study as studies
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end
from addon.suite.scene import capture
from addon.suite.draw import maps, paint
from addon.suite import writers
from addon.suite.session import session
from addon.suite.scene.tracers import HostTracer

from models import box, cup, moved

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))


def values(mesh: bpy.types.Mesh, name: str) -> np.ndarray:
    out = np.empty(len(mesh.polygons), dtype=np.float32)
    mesh.attributes[name].data.foreach_get("value", out)
    return out


def colors(mesh: bpy.types.Mesh) -> np.ndarray:
    """(corners, 3)"""
    out = np.empty(4 * len(mesh.loops), dtype=np.float32)
    mesh.color_attributes["platewright_colour"].data.foreach_get("color", out)
    return out.reshape(-1, 4)[:, :3]


def ours(mesh: bpy.types.Mesh) -> list[str]:
    return [a.name for a in mesh.attributes if a.name.startswith("platewright")]


def stand_ins() -> list[bpy.types.Object]:
    return [o for o in bpy.context.scene.objects if o.get(paint.STAND_IN)]


def measured() -> studies.Study:
    bpy.ops.platewright.measure()
    kept = session.find(bpy.context)
    assert kept is not None
    return kept.study


def test_values_and_colors_are_the_study_s(add):
    part = add(BELL)
    study = measured()
    bpy.ops.platewright.show(what="gas")
    share = study.results.gas.face
    assert values(part.data, "platewright_gas") == pytest.approx(100 * share, abs=1e-4)
    assert colors(part.data) == pytest.approx(np.repeat(color.ramp(1 - share), 3, axis=0), abs=1e-6)


def test_back_to_normal_gives_materials_and_active_color_back(add):
    part = add(BELL)
    own = part.data.color_attributes.new("brush", "BYTE_COLOR", "CORNER")
    part.data.color_attributes.active_color_name = own.name
    part.data.materials.append(bpy.data.materials.new("paint"))
    measured()
    bpy.ops.platewright.show(what="gas")
    bpy.ops.platewright.show(what="held")
    assert part.data.color_attributes.active_color_name == "platewright_colour"
    bpy.ops.platewright.normal()
    assert part.data.color_attributes.active_color_name == "brush"
    assert [m.name for m in part.data.materials] == ["paint"]
    assert sorted(ours(part.data)) == ["platewright_gas", "platewright_held"]
    bpy.ops.platewright.remove()
    assert ours(part.data) == []


def test_a_quad_shows_the_mean_of_its_triangles():
    """A box of six quads: every side's openness is that of its two triangles."""
    bpy.ops.mesh.primitive_cube_add(size=0.02)
    cube = bpy.context.active_object
    bpy.ops.platewright.study(only="openness")
    bpy.ops.platewright.show(what="openness")
    assert len(cube.data.polygons) == 6
    assert values(cube.data, "platewright_openness") == pytest.approx(np.full(6, 100.0), abs=1e-3)
    assert len(colors(cube.data)) == 24


def test_a_part_of_two_objects_has_each_its_own_rows(add):
    """The bell traps gas, the block beside it none."""
    bell = add(BELL, "Bell")
    block = add(moved(box((0.01, 0.01, 0.01)), (0.1, 0, 0)), "Block")
    measured()
    bpy.ops.platewright.show(what="gas")
    assert values(bell.data, "platewright_gas").max() == pytest.approx(100)
    assert values(block.data, "platewright_gas").max() == 0


def test_modifiers_that_make_faces_are_shown_on_a_copy(add):
    part = add(BELL)
    part.modifiers.new("fine", "SUBSURF").subdivision_type = "SIMPLE"
    before = [a.name for a in part.data.attributes]
    study = measured()
    bpy.ops.platewright.show(what="gas")
    (copy,) = stand_ins()
    assert len(copy.data.polygons) == len(study.part.triangles) > len(part.data.polygons)
    assert [a.name for a in part.data.attributes] == before
    assert part.display_type == "BOUNDS"
    bpy.ops.platewright.measure()
    assert len(stand_ins()) == 1  # measured again: the copy is no part of the part
    bpy.ops.platewright.normal()
    assert not stand_ins()
    assert part.display_type == "TEXTURED"
    assert not [mesh for mesh in bpy.data.meshes if "color" in mesh.name]


def test_a_mesh_that_others_use_is_left_alone(add):
    part = add(BELL)
    twin = part.copy()
    bpy.context.scene.collection.objects.link(twin)
    twin.select_set(False)
    measured()
    bpy.ops.platewright.show(what="gas")
    assert ours(part.data) == []
    assert len(stand_ins()) == 1


def test_curves_are_shown_on_a_copy():
    bpy.ops.curve.primitive_bezier_circle_add(radius=0.02)
    bpy.context.active_object.data.bevel_depth = 0.004
    measured()
    bpy.ops.platewright.show(what="gas")
    assert len(stand_ins()) == 1


def test_nothing_is_written_in_edit_mode(add):
    bpy.context.view_layer.objects.active = add(BELL)
    measured()
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(RuntimeError, match="Object Mode"):
        bpy.ops.platewright.show(what="gas")


def test_masked_faces_are_gray(add):
    part = add(BELL)
    mask = part.data.attributes.new("plating_mask", "BOOLEAN", "FACE")
    mask.data[7].value = True
    measured()
    bpy.ops.platewright.show(what="gas")
    assert colors(part.data)[21:24] == pytest.approx(np.full((3, 3), color.NEUTRAL[0]))
    assert np.isnan(values(part.data, "platewright_gas")[7])


def test_every_map_on_the_part_that_a_job_leaves(add):
    add(BELL)
    found = capture.selected(bpy.context)
    study = run_to_end(studies.run(found.part, read_job({}), HostTracer, only=["gas", "drainage", "openness"]))
    part = writers.scene_of(study)
    drawing = paint.paint(study, part, "openness")
    assert {f"platewright_{name}" for name in maps.available(study)} < set(ours(part.data))
    assert colors(part.data)[::3] == pytest.approx(drawing.colored(drawing.values))
