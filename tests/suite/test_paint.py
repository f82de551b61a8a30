"""Colors over the part, values on the user's meshes, and everything as it was when they are taken off."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Matrix, Vector

from addon.engine import color
from addon.engine import study as studies
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end
from addon.suite.scene import capture, viewing
from addon.suite.draw import coloring, maps, overlay, paint
from addon.suite.operators import show, view
from addon.suite import versions, writers
from addon.suite.session import session
from addon.suite.scene.tracers import HostTracer

from models import box, cup, moved
from scene import kept

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))


def values(mesh: bpy.types.Mesh, name: str) -> np.ndarray:
    out = np.empty(len(mesh.polygons), dtype=np.float32)
    mesh.attributes[name].data.foreach_get("value", out)
    return out


def colors(o: bpy.types.Object) -> np.ndarray:
    """(m, 3) the colors that the viewports draw on an object's triangles, as displayed and in full light."""
    (shown,) = session.state(overlay.Overlays).shown
    (found,) = (one for key, one in shown.colors if key == versions.session_id(o))
    return found.rgb


def ours(mesh: bpy.types.Mesh) -> list[str]:
    return [a.name for a in mesh.attributes if a.name.startswith("platewright")]


def in_shade(rgb: np.ndarray) -> np.ndarray:
    """The least that the faint shading leaves of colors."""
    return coloring.DARKEST * rgb - 1e-6


def measured() -> studies.Study:
    bpy.ops.platewright.measure()
    return kept().study


def test_the_colors_are_the_study_s_and_nothing_is_written(add):
    """To look is no edit: mesh, scene and what undo knows stay as they are."""
    part = add(BELL)
    study = measured()
    before = len(bpy.data.objects), part.display_type, sorted(a.name for a in part.data.attributes)
    bpy.ops.platewright.show(map_name="gas")
    share = study.results.gas.face
    whole = color.encoded(color.ramp(1 - share))
    assert (in_shade(whole) <= colors(part)).all() and (colors(part) <= whole + 1e-6).all()
    assert (len(bpy.data.objects), part.display_type, sorted(a.name for a in part.data.attributes)) == before
    assert not kept().stale(bpy.context.scene)
    for looking in (view.PLATEWRIGHT_OT_show, view.PLATEWRIGHT_OT_normal, show.PLATEWRIGHT_OT_show_finding):
        assert looking.bl_options == {"REGISTER"}, "it would be a step of undo"
    bpy.ops.platewright.normal()
    assert not session.state(overlay.Overlays).shown


def test_the_values_are_stored_on_request_and_deleted_again(add):
    part = add(BELL)
    own = part.data.color_attributes.new("brush", "BYTE_COLOR", "CORNER")
    part.data.color_attributes.active_color_name = own.name
    study = measured()
    bpy.ops.platewright.store()
    assert values(part.data, "platewright_gas") == pytest.approx(100 * study.results.gas.face, abs=1e-4)
    assert part.data.color_attributes.active_color_name == "brush"
    assert set(ours(part.data)) == {f"platewright_{name}" for name in maps.available(study)}
    assert not kept().stale(bpy.context.scene)
    bpy.ops.platewright.remove()
    assert ours(part.data) == []


def test_a_quad_stores_the_mean_of_its_triangles():
    """A box of six quads: every side's openness is that of its two triangles."""
    bpy.ops.mesh.primitive_cube_add(size=0.02)
    cube = bpy.context.active_object
    bpy.ops.platewright.study(only="openness")
    bpy.ops.platewright.store()
    assert len(cube.data.polygons) == 6
    assert values(cube.data, "platewright_openness") == pytest.approx(np.full(6, 100.0), abs=1e-3)


def test_a_part_of_two_objects_has_each_its_own_rows(add):
    """The bell traps gas, the block beside it none."""
    bell = add(BELL, "Bell")
    block = add(moved(box((0.01, 0.01, 0.01)), (0.1, 0, 0)), "Block")
    measured()
    bpy.ops.platewright.show(map_name="gas")
    dark = color.encoded(color.ramp([0.0]))[0]
    assert (colors(bell) <= dark + 1e-6).all(axis=1).any()
    assert (colors(block) >= in_shade(color.encoded(color.ramp([1.0]))[0])).all()
    bpy.ops.platewright.store()
    assert values(bell.data, "platewright_gas").max() == pytest.approx(100)
    assert values(block.data, "platewright_gas").max() == 0


def test_what_modifiers_make_is_colored_too_and_not_stored(add):
    part = add(BELL)
    part.modifiers.new("fine", "SUBSURF").subdivision_type = "SIMPLE"
    study = measured()
    bpy.ops.platewright.show(map_name="gas")
    assert len(colors(part)) == len(study.part.triangles) > len(part.data.polygons)
    with pytest.raises(RuntimeError, match="modifiers"):
        bpy.ops.platewright.store()
    assert ours(part.data) == []


def test_a_mesh_that_others_use_is_left_alone(add):
    part = add(BELL)
    twin = part.copy()
    bpy.context.scene.collection.objects.link(twin)
    twin.select_set(False)
    measured()
    bpy.ops.platewright.show(map_name="gas")
    assert len(colors(part)) == len(part.data.polygons)
    with pytest.raises(RuntimeError, match="others use"):
        bpy.ops.platewright.store()


def test_curves_are_colored_too():
    bpy.ops.curve.primitive_bezier_circle_add(radius=0.02)
    bpy.context.active_object.data.bevel_depth = 0.004
    study = measured()
    bpy.ops.platewright.show(map_name="gas")
    assert len(colors(bpy.context.active_object)) == len(study.part.triangles)


def test_nothing_is_stored_in_edit_mode(add):
    bpy.context.view_layer.objects.active = add(BELL)
    measured()
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(RuntimeError, match="Object Mode"):
        bpy.ops.platewright.store()


def test_masked_faces_are_gray(add):
    part = add(BELL)
    mask = part.data.attributes.new("plating_mask", "BOOLEAN", "FACE")
    mask.data[7].value = True
    measured()
    bpy.ops.platewright.show(map_name="gas")
    gray = color.encoded(color.NEUTRAL)
    assert (in_shade(gray) <= colors(part)[7]).all() and (colors(part)[7] <= gray + 1e-6).all()
    bpy.ops.platewright.store()
    assert np.isnan(values(part.data, "platewright_gas")[7])


def test_the_place_inside_stays_solid_while_the_walls_turn_translucent(add):
    """Gas in a bell that hangs mouth down: the faces of the pocket are the place."""
    part = add(BELL)
    study = measured()
    bpy.ops.platewright.show(map_name="gas")
    (shown,) = session.state(overlay.Overlays).shown
    ((_, found),) = shown.colors
    np.testing.assert_array_equal(found.place, study.results.gas.face > 0)
    assert not overlay.translucent(bpy.context)
    viewing.of(bpy.context).bodies = True
    assert overlay.translucent(bpy.context)
    assert part.display_type == "TEXTURED"


def test_every_map_on_the_part_that_a_job_leaves(add):
    add(BELL)
    found = capture.selected(bpy.context)
    study = run_to_end(studies.run(found.part, read_job({}), HostTracer, only=["gas", "drainage", "openness"]))
    part = writers.scene_of(study)
    drawing = paint.paint(study, part, "openness")
    assert {f"platewright_{name}" for name in maps.available(study)} < set(ours(part.data))
    out = np.empty(4 * len(part.data.loops), dtype=np.float32)
    part.data.color_attributes["platewright_colour"].data.foreach_get("color", out)
    assert out.reshape(-1, 4)[::3, :3] == pytest.approx(drawing.colored(drawing.values))


def test_what_faces_away_is_drawn_before_what_faces_the_viewer(monkeypatch):
    """Colors lie a little nearer than their faces: along a silhouette the far side's would show as dark pixels."""
    order: list[str] = []
    monkeypatch.setattr(coloring.gpu.state, "face_culling_set", order.append)
    coloring.front_last(lambda: order.append("drawn"))
    assert order == ["FRONT", "drawn", "BACK", "drawn", "NONE"]


@pytest.mark.parametrize("perspective", [True, False])
def test_colors_lie_nearer_at_the_same_pixels(perspective):
    """A copy drawn bigger leaves pixels along a silhouette to what is behind: only the depth may change. By the formulas
    of the two projections (OpenGL 2.1 reference, glFrustum and glOrtho, from memory)."""
    near, far, distance = 0.01, 100.0, 0.3
    seen = Matrix.Diagonal((2.0, 2.5, 1.0, 1.0))
    if perspective:
        seen[2], seen[3] = (0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)), (0, 0, -1, 0)
    else:
        seen[2], seen[3] = (0, 0, -2 / (far - near), -(far + near) / (far - near)), (0, 0, 0, 1)
    pulled = overlay.pulled(seen, distance)
    point = Vector((0.04, -0.07, -distance, 1.0))
    closer = Vector((0.0, 0.0, -(1 - overlay.NEARER) * distance, 1.0))
    there, now, wanted = seen @ point, pulled @ point, seen @ closer
    assert now.xy == there.xy and now.w == there.w
    assert now.z / now.w == pytest.approx(wanted.z / wanted.w, abs=3e-7)  # of single precision
    assert there.z / there.w - now.z / now.w > 1e-6
