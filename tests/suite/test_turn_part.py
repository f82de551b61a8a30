"""The user's own object turns when they ask: rigidly, about its middle, to where it hung already."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.geometry import attitude
from addon.suite.scene import settings
from addon.suite.scene import stage

from models import cup, moved, rotation
from scene import kept

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=2), turn=rotation(4))
UP = (0.3, -0.5, -0.6)


def updated():
    bpy.context.view_layer.update()


def world(o):
    points = np.array([v.co[:] for v in o.data.vertices])
    matrix = np.array(o.matrix_world)
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def hangs():
    """Where the part's points are in an upright tank at the scene's origin, and its gas."""
    job = settings.job_of(bpy.context.scene)
    turn = stage.upright(job)
    where = stage.place(job, kept().study.part, np.zeros(3), stage.Inside(np.eye(3), np.zeros(3), np.ones(3)))
    part = kept().study.part
    points = (part.points @ turn.T - stage.middle(part, turn)) @ attitude.about(where.turn).T + where.centre
    gas, pool = kept().study.results.gas, kept().study.results.drainage
    return points, gas.trapped_volume, pool.held_volume


@pytest.mark.parametrize(("parented", "about"), [(False, 0.0), (True, 0.0), (False, 40.0)])
def test_it_turns_about_its_middle_to_hang_where_it_hung_and_holds_the_same_gas(add, parented, about):
    part = add(BELL, "Bell")
    part.location, part.rotation_euler = (0.2, 0.1, -0.3), (0.4, 0.0, 1.0)
    if parented:
        hook = bpy.data.objects.new("Hook", None)
        bpy.context.scene.collection.objects.link(hook)
        hook.rotation_euler = (0.0, 0.7, 0.0)
        part.parent = hook
    settings.of(bpy.context.scene).part.up, settings.of(bpy.context.scene).place.turn = UP, about
    bpy.ops.platewright.measure()
    before, points = hangs(), world(part)
    bpy.ops.platewright.turn_part()
    assert tuple(settings.of(bpy.context.scene).part.up) == (0.0, 0.0, 1.0)
    assert not kept().stale(bpy.context.scene)
    after = hangs()
    np.testing.assert_allclose(after[0], before[0], atol=2e-7)
    assert after[1:] == pytest.approx(before[1:], rel=1e-4, abs=1e-12)
    there = world(part)
    pairs = np.arange(len(points) - 1)
    np.testing.assert_allclose(
        np.linalg.norm(there[pairs] - there[pairs + 1], axis=1),
        np.linalg.norm(points[pairs] - points[pairs + 1], axis=1),
        atol=1e-7,
    )
    with pytest.raises(RuntimeError, match="as it will hang already"):
        bpy.ops.platewright.turn_part()


def test_two_objects_turn_as_one_and_undo_brings_them_back(add):
    pair = add(BELL, "Bell"), add(moved(BELL, shift=(0.06, 0.0, 0.0)), "Second bell")
    settings.of(bpy.context.scene).part.up = UP
    bpy.ops.platewright.measure()
    size = kept().study.surface.size
    before = [world(o) for o in pair]
    bpy.ops.ed.undo_push(message="as measured")
    bpy.ops.platewright.turn_part()
    assert kept().study.surface.size != size  # of the box along the scene's axes
    apart = world(pair[1])[0] - world(pair[0])[0]
    assert np.linalg.norm(apart) == pytest.approx(0.06, abs=1e-7)
    bpy.ops.ed.undo_push(message="turned")
    bpy.ops.ed.undo()
    scene = bpy.context.scene
    for name, points in zip(("Bell", "Second bell"), before, strict=True):
        np.testing.assert_allclose(world(scene.objects[name]), points, atol=1e-7)
    np.testing.assert_allclose(settings.of(scene).part.up, UP, atol=1e-6)


def test_what_is_held_fast_stays_and_is_named(add):
    part = add(BELL, "Bell")
    held = part.constraints.new("LIMIT_ROTATION")
    held.use_limit_x = held.use_limit_y = held.use_limit_z = True
    updated()
    settings.of(bpy.context.scene).part.up = UP
    bpy.ops.platewright.measure()
    before = part.matrix_world.copy(), part.matrix_basis.copy()
    with pytest.raises(RuntimeError, match="Bell: a constraint, driver, animation or uneven scale"):
        bpy.ops.platewright.turn_part()
    np.testing.assert_allclose(np.array(part.matrix_world), np.array(before[0]), atol=1e-6)
    np.testing.assert_allclose(np.array(part.matrix_basis), np.array(before[1]), atol=1e-6)
    np.testing.assert_allclose(settings.of(bpy.context.scene).part.up, UP, atol=1e-6)


def test_what_is_animated_stays_and_is_named(add):
    part = add(BELL, "Bell")
    part.keyframe_insert("rotation_euler", frame=1)
    settings.of(bpy.context.scene).part.up = UP
    bpy.ops.platewright.measure()
    before = part.matrix_basis.copy()
    with pytest.raises(RuntimeError, match="Bell: a constraint, driver, animation"):
        bpy.ops.platewright.turn_part()
    np.testing.assert_allclose(np.array(part.matrix_basis), np.array(before), atol=1e-6)


def test_what_measuring_would_refuse_turns_nothing(add):
    """An object that serves as an anode, and no tank that it could stand in."""
    part = add(BELL, "Bell")
    settings.of(bpy.context.scene).part.up = UP
    bpy.ops.platewright.measure()
    add(moved(BELL, shift=(0.1, 0.0, 0.0)), "Lone plate", select=False).platewright.role = "ANODE"
    updated()
    before = part.matrix_world.copy()
    with pytest.raises(RuntimeError, match="Lone plate"):
        bpy.ops.platewright.turn_part()
    np.testing.assert_allclose(np.array(part.matrix_world), np.array(before), atol=1e-7)
