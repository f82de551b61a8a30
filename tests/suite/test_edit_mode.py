"""Edit mode: what is measured there is what stands there, and leaving it unchanged makes nothing stale."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
import pytest

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
