"""Gas and liquid that follow the turning of the part: the same colors as a measurement, and nothing else that changes."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
import pytest
from mathutils import Euler, Matrix

from addon.suite.preview import live, orientation
from addon.suite.session import session
from addon.suite.scene import settings
from addon.suite.preview.live import LivePreview
from addon.suite.draw.overlay import Overlays

from models import cup, moved, rotation

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=2), turn=rotation(3))
TURN = Matrix(rotation(5).tolist())


def colors(o):
    """(m, 3) the colors of an object's triangles before the faint shading, which turns with the part."""
    (shown,) = session.state(Overlays).shown
    rows = next(slice(one.start, one.stop) for one in session.find(bpy.context).capture.pieces if one.object == o.name)
    return shown.drawing.colored(shown.drawing.values[rows])


def turn(o, matrix=TURN):
    o.rotation_euler = matrix.to_euler()
    bpy.context.view_layer.update()


def step():
    return live.step(bpy.context)


@pytest.fixture
def bell(add):
    part = add(BELL, "Bell")
    part.location = (0.3, -0.2, 0.1)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.follow()
    return part


@pytest.mark.parametrize("what", orientation.MAPS)
def test_the_look_has_the_colors_that_a_measurement_there_gives(bell, what):
    bpy.ops.platewright.show(map_name=what)
    kept = session.find(bpy.context)
    before = kept.study.results
    turn(bell)
    assert step()
    assert not step(), "nothing has turned since"
    looked, words = colors(bell), session.state(LivePreview).words
    assert session.find(bpy.context) is kept
    assert kept.study.results == before
    assert {"gas", "drainage"} <= kept.stale(bpy.context.scene)
    bpy.ops.platewright.follow()
    assert not session.state(LivePreview).on
    measured = session.find(bpy.context)
    assert not measured.stale(bpy.context.scene)
    np.testing.assert_array_equal(colors(bell), looked)
    assert words == orientation.sentence(measured.study)
    assert measured.study.results.gas.trapped_volume > 0 or measured.study.results.drainage.held_volume > 0


def test_a_way_up_that_is_typed_is_followed_too(bell):
    settings.of(bpy.context.scene).part.up = (0.2, -0.7, 0.4)
    assert step()
    looked = colors(bell)
    bpy.ops.platewright.measure()
    np.testing.assert_array_equal(colors(bell), looked)


def test_carrying_the_part_about_needs_no_look(bell):
    assert not step()
    bell.location.x += 1.0
    bpy.context.view_layer.update()
    assert not step()
    assert session.state(LivePreview).on


def test_esc_shows_again_what_is_kept(bell):
    before = colors(bell)
    turn(bell)
    step()
    assert not np.array_equal(colors(bell), before)
    bpy.ops.platewright.follow_end()
    np.testing.assert_array_equal(colors(bell), before)
    assert session.find(bpy.context).moved, "and says that it is stale"
    with pytest.raises(RuntimeError, match="poll"):
        bpy.ops.platewright.follow_end()


def scaled(o):
    o.scale = (2.0, 1.0, 1.0)


def mirrored(o):
    o.scale = (-1.0, 1.0, 1.0)


def edited(o):
    o.data.vertices[0].co.z += 0.001
    o.data.update()


def normal(_):
    bpy.ops.platewright.normal()


def other_map(_):
    bpy.ops.platewright.show(map_name="staircase")


def removed(o):
    bpy.data.objects.remove(o)


@pytest.mark.parametrize("change", [scaled, mirrored, edited, normal, other_map, removed])
def test_what_cannot_be_followed_ends_it(bell, change):
    change(bell)
    bpy.context.view_layer.update()
    assert not step()
    assert not session.state(LivePreview).on


def test_edit_mode_ends_it_once_colors_can_be_written_again(bell):
    before = colors(bell)
    turn(bell)
    step()
    bpy.context.view_layer.objects.active = bell
    bpy.ops.object.mode_set(mode="EDIT")
    assert not step()
    bpy.ops.object.mode_set(mode="OBJECT")
    assert not step()
    assert not session.state(LivePreview).on
    np.testing.assert_array_equal(colors(bell), before)


def test_undo_is_followed(bell):
    bpy.ops.ed.undo_push(message="as measured")
    turn(bell)
    step()
    turned = session.state(LivePreview).words
    bpy.ops.ed.undo_push(message="turned")
    bpy.ops.ed.undo()
    assert step()
    assert session.state(LivePreview).words == orientation.sentence(session.find(bpy.context).study) != turned


def test_another_file_ends_it(bell):
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert not session.state(LivePreview).on


def test_a_modifier_and_a_second_object_are_followed(add):
    """Mirrored by its scale, with a modifier that makes other faces, beside a second object on one parent."""
    pair = add(BELL, "Bell"), add(moved(BELL, shift=(0.05, 0, 0)), "Second bell")
    pair[0].scale = (1.0, -1.0, 1.0)
    pair[0].modifiers.new("Finer", "SUBSURF").subdivision_type = "SIMPLE"
    hook = bpy.data.objects.new("Hook", None)
    bpy.context.scene.collection.objects.link(hook)
    for o in pair:
        o.parent = hook
    bpy.ops.platewright.measure()
    bpy.ops.platewright.follow()
    turn(hook)
    assert step()
    looked = colors(pair[0]), colors(pair[1])
    bpy.ops.platewright.follow()
    for one, other in zip(looked, (colors(pair[0]), colors(pair[1])), strict=True):
        np.testing.assert_array_equal(one, other)
    pair[0].rotation_euler = Euler((0.0, 0.0, 0.5))
    bpy.ops.platewright.follow()
    bpy.context.view_layer.update()
    step()
    assert not session.state(LivePreview).on, "one of two objects was turned: that is another part"


def test_it_says_when_it_cannot_begin(add):
    part = add(BELL)
    with pytest.raises(RuntimeError, match="Check the part first"):
        bpy.ops.platewright.follow()
    bpy.ops.platewright.measure()
    edited(part)
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="press Check Again first"):
        bpy.ops.platewright.follow()


def test_a_part_that_lost_faces_meanwhile_ends_it_without_colors(bell):
    """Colors of the old faces would not fit the new ones."""
    turn(bell)
    step()
    mesh = bmesh.new()
    mesh.from_mesh(bell.data)
    bmesh.ops.delete(mesh, geom=list(mesh.faces)[:5], context="FACES")
    mesh.to_mesh(bell.data)
    mesh.free()
    bell.data.update()
    bpy.context.view_layer.update()
    assert not step()
    assert not session.state(LivePreview).on
    with pytest.raises(RuntimeError, match="changed since it was checked"):
        bpy.ops.platewright.show(map_name="gas")
