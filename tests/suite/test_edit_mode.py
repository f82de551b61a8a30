"""Edit mode: what is measured there is what stands there, and leaving it unchanged makes nothing stale."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
import pytest

from addon.engine.errors import InputError
from addon.engine.progress import run_to_end
from addon.suite.operators import helpers
from addon.suite.session import session

from models import cup

pytestmark = pytest.mark.usefixtures("platewright")


@pytest.fixture
def part(add):
    made = add(cup(0.010, 0.020, 0.001, rows=2), "Cup")
    bpy.context.view_layer.objects.active = made
    return made


def mode(name):
    bpy.ops.object.mode_set(mode=name)
    bpy.context.view_layer.update()


def stretch(o, factor):
    mesh = bmesh.from_edit_mesh(o.data)
    for vertex in mesh.verts:
        vertex.co.z *= factor
    bmesh.update_edit_mesh(o.data)
    bpy.context.view_layer.update()


def stale():
    return session.find(bpy.context).stale(bpy.context.scene)


def height():
    return np.ptp(session.find(bpy.context).study.part.points[:, 2])


def test_going_in_and_out_makes_nothing_stale(part):
    bpy.ops.platewright.measure()
    mode("EDIT")
    assert not stale()
    bpy.ops.platewright.measure()
    assert not stale()
    mode("OBJECT")
    assert not stale(), "measured in Edit mode, left without a change"


def test_each_edit_is_measured_as_it_stands(part):
    mode("EDIT")
    bpy.ops.platewright.measure()
    before = height()
    for times, factor in enumerate((2.0, 1.5), start=1):
        stretch(part, factor)
        assert stale(), f"after edit {times}"
        bpy.ops.platewright.measure()
        assert not stale()
    assert height() == pytest.approx(3.0 * before, rel=1e-6)
    mode("OBJECT")
    assert not stale()
    stretched = height()
    bpy.ops.platewright.measure()
    assert height() == stretched


def test_an_edit_that_is_taken_back_is_not_stale(part):
    mode("EDIT")
    bpy.ops.platewright.measure()
    stretch(part, 2.0)
    assert stale()
    stretch(part, 0.5)
    assert not stale()


ADDING = (  # what adds, changes or selects objects
    *(
        "make_hanger",
        "make_plugs",
        "make_masks",
        "make_rack_holder",
        "make_anode_holders",
        "make_shields",
        "make_thief",
        "anode",
    ),
    *("tank", "rack", "take_layout", "mark_holes", "cut_holes", "place_wire", "suggest_wires", "inset", "turn_part"),
    *("preview", "scrub", "store", "remove", "jump", "fix"),
)


@pytest.mark.parametrize("left", ["EDIT", "SCULPT", "WEIGHT_PAINT", "POSE"])
def test_what_adds_or_changes_objects_is_grayed_outside_object_mode(part, left):
    """None ends in a traceback, or adds an object where Undo of the mode would leave it."""
    bpy.ops.platewright.measure()
    if left == "POSE":
        session.choose(bpy.context, [part])
        bones = bpy.data.objects.new("Bones", bpy.data.armatures.new("Bones"))
        bpy.context.scene.collection.objects.link(bones)
        bpy.context.view_layer.objects.active = bones
    mode(left)
    for name in ADDING:
        with pytest.raises(RuntimeError, match="Go to Object Mode first"):
            getattr(bpy.ops.platewright, name)()


def test_a_helper_whose_calculation_ends_in_edit_mode_adds_nothing_and_says_why(part):
    """Its button was pressed in Object Mode, and Edit Mode entered during the calculation."""

    class Pressed(helpers.PLATEWRIGHT_OT_make_hanger.__mro__[1]):  # without Blender's own base
        analysis, mark, option = "hanger", helpers.HANGER, "hanger"
        made = helpers.PLATEWRIGHT_OT_make_hanger.made

        def report(self, _kind, _text):
            """Blender's own; what it would say is not asked here."""

    pressed, before = Pressed(), set(bpy.data.objects)
    result = run_to_end(pressed.start(bpy.context))
    mode("EDIT")
    with pytest.raises(InputError, match="Go to Object Mode first"):
        pressed.finished(bpy.context, result)
    assert set(bpy.data.objects) == before
    assert "hanger" in session.find(bpy.context).study.results.names, "to press it again costs nothing"
