"""The look at ranked ways up: a copy that stands as the engine says, and nothing else that changes."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.hang.pose import pose
from addon.suite import operators_preview, session, settings

from models import cup, moved

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=2), turn=np.diag([1, -1, -1]))  # metres; it opens downwards


def places(o):
    points = np.empty(3 * len(o.data.vertices), dtype=np.float32)
    o.data.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)


@pytest.fixture
def bell(add):
    part = add(BELL, "Bell")
    settings.of(bpy.context.scene).effort.directions = 60
    bpy.ops.platewright.study(only="hanging")
    return part


def found():
    return session.find(bpy.context).study


def copies():
    return [o for o in bpy.context.scene.objects if operators_preview.MARK in o]


def test_each_way_up_stands_beside_the_part_which_stays(bell):
    before, there = bell.matrix_world.copy(), places(bell)
    ways = found().results["hanging"].suggestions
    for number in range(len(ways)):
        bpy.ops.platewright.preview(number=-1)
        body = next(o for o in copies() if o.data.polygons)
        expected = pose(found().surface.points, ways[number], found().job)
        np.testing.assert_allclose(np.ptp(places(body), axis=0), expected.size, atol=1e-6)
        assert len(copies()) == 2
        assert operators_preview.shown(bpy.context.scene) == number + 1
        assert body.location.x - expected.size[0] / 2 > 0.011
    assert bell.matrix_world == before
    np.testing.assert_array_equal(places(bell), there)
    assert session.objects(bpy.context) == [bell]
    assert not session.find(bpy.context).moved


def test_the_level_is_drawn_where_the_tank_has_it(bell):
    """The part hangs at half the depth: the liquid's surface is 110 mm above its middle in a tank filled to 220."""
    bpy.ops.platewright.preview(number=0)
    lines = next(o for o in copies() if not o.data.polygons)
    np.testing.assert_allclose(places(lines)[:4, 2], 0.110, atol=1e-6)
    np.testing.assert_allclose(np.ptp(places(lines)[:4], axis=0), [0.3, 0.2, 0.0], atol=1e-6)


def test_ending_or_taking_leaves_nothing_behind(bell):
    meshes = len(bpy.data.meshes)
    bpy.ops.platewright.preview(number=0)
    bpy.ops.platewright.preview_end()
    assert not copies()
    assert len(bpy.data.meshes) == meshes
    bpy.ops.platewright.preview(number=1)
    bpy.ops.platewright.take_way_up(number=1)
    assert not copies()
    assert len(bpy.data.meshes) == meshes
    with pytest.raises(RuntimeError, match="No way up is looked at"):
        bpy.ops.platewright.preview_end()


def test_without_ways_up_it_says_so(add):
    add(BELL)
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="Look for ways up first"):
        bpy.ops.platewright.preview()
