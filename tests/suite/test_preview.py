"""The look at ranked ways up: a copy that stands as the engine says, and nothing else that changes."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.hanging.pose import pose
from addon.suite.scene import roles
from addon.suite.preview import orientation, preview_copy
from addon.suite.session import session
from addon.suite.scene import settings

from models import cup, moved

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(0.010, 0.020, 0.001, rows=2), turn=np.diag([1, -1, -1]))  # meters; it opens downwards


def places(o, axes=((1, 0, 0), (0, 1, 0), (0, 0, 1))):
    """Of its vertices, along its own axes or, with its turn, along the scene's, from where it stands."""
    points = np.empty(3 * len(o.data.vertices), dtype=np.float32)
    o.data.vertices.foreach_get("co", points)
    return points.reshape(-1, 3) @ np.asarray(axes).T


def turned(o):
    return places(o, np.array(o.matrix_world)[:3, :3])


@pytest.fixture
def bell(add):
    part = add(BELL, "Bell")
    settings.of(bpy.context.scene).effort.directions = 60
    bpy.ops.platewright.study(only="hanging")
    return part


def found():
    return session.find(bpy.context).study


def copies():
    return [o for o in bpy.context.scene.objects if roles.of(o) == roles.COPY]


def piece(kind):
    return preview_copy.piece(bpy.context.scene, kind)


@pytest.mark.slow
def test_each_way_up_stands_beside_the_part_which_stays(bell):
    before, there = bell.matrix_world.copy(), places(bell)
    ways = found().results.hanging.suggestions
    for number in range(len(ways)):
        bpy.ops.platewright.preview(number=-1)
        body, wires = piece(preview_copy.BODY), piece(preview_copy.WIRES)
        expected = pose(found().surface.points, ways[number], found().job)
        np.testing.assert_allclose(np.ptp(turned(body), axis=0), expected.size, atol=1e-6)
        np.testing.assert_allclose(preview_copy.way_up(body), ways[number].up, atol=1e-6)
        middle = turned(body).min(axis=0) + 0.5 * expected.size + np.array(body.location)
        np.testing.assert_allclose(middle, np.array(wires.location), atol=1e-6)
        np.testing.assert_allclose(places(wires)[::2], expected.contacts, atol=1e-6)
        assert len(copies()) == 3
        assert preview_copy.shown(bpy.context.scene) == number + 1
        assert body.location.x - expected.size[0] / 2 > 0.011
    assert bell.matrix_world == before
    np.testing.assert_array_equal(places(bell), there)
    assert session.objects(bpy.context) == [bell]
    body.select_set(True)
    bpy.ops.platewright.choose()
    assert session.objects(bpy.context) == [bell], "the copy is no part"
    assert not session.find(bpy.context).moved


@pytest.mark.slow
def test_the_level_is_drawn_where_the_tank_has_it(bell):
    """The part hangs at half the depth: the liquid's surface is half of the level above its middle, as large as the tank
    that the study fitted to the part."""
    bpy.ops.platewright.preview(number=0)
    lines = piece(preview_copy.LEVEL)
    tank = session.find(bpy.context).study.in_tank.tank
    assert tank.assumed
    np.testing.assert_allclose(places(lines)[:4, 2], tank.level / 2, atol=1e-6)
    np.testing.assert_allclose(np.ptp(places(lines)[:4], axis=0), [*tank.size[:2], 0.0], atol=1e-6)


@pytest.mark.slow
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
    with pytest.raises(RuntimeError, match="No position is previewed"):
        bpy.ops.platewright.preview_end()


def test_without_ways_up_it_says_so(add):
    add(BELL)
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="Find hanging positions first"):
        bpy.ops.platewright.preview()


@pytest.mark.slow
def test_the_copy_holds_the_gas_of_its_way_up_as_a_body(bell):
    """The cavity is 20 mm wide and 19 mm deep: upright, its mouth down, it is full of gas (cup of models, by hand)."""
    bpy.ops.platewright.preview(number=0)
    body, look = preview_copy.current(bpy.context)
    body.rotation_euler = (0.0, 0.0, 0.3)
    bpy.context.view_layer.update()
    assert not preview_copy.as_it_stands(body, look)
    preview_copy.turned(bpy.context, session.find(bpy.context), body, look)
    assert preview_copy.as_it_stands(body, look)
    assert look.study.results.gas.trapped_volume == pytest.approx(found().results.gas.trapped_volume)
    gas, liquid = orientation.bodies_of(look.study)
    assert gas.volume.sum() == pytest.approx(look.study.results.gas.trapped_volume)
    assert not len(liquid.volume)
    placed = np.array(preview_copy.placed(bpy.context, body, look))
    points = gas.triangles.reshape(-1, 3) @ placed[:3, :3].T + placed[:3, 3]
    inside = turned(body) + np.array(body.location)
    assert (points.min(axis=0) > inside.min(axis=0) - 1e-6).all()
    assert (points.max(axis=0) < inside.max(axis=0) + 1e-6).all()


@pytest.mark.slow
def test_wires_stay_plumb_when_the_copy_is_turned_by_hand(bell):
    bpy.ops.platewright.preview(number=0)
    body, look = preview_copy.current(bpy.context)
    before = places(piece(preview_copy.WIRES))
    body.rotation_euler.rotate_axis("X", 0.4)
    bpy.context.view_layer.update()
    preview_copy.turned(bpy.context, session.find(bpy.context), body, look)
    after = places(piece(preview_copy.WIRES))
    np.testing.assert_allclose(after[::2, :2], after[1::2, :2], atol=1e-7)
    np.testing.assert_allclose(after[1::2, 2], before[1::2, 2], atol=1e-6)
    moved_by = np.linalg.norm(after[::2] - before[::2], axis=1)
    assert (moved_by > 1e-4).all()
    on_copy = np.array(body.matrix_world.inverted()) @ np.append(
        after[0] + np.array(piece(preview_copy.WIRES).location), 1.0
    )
    assert np.linalg.norm(places(body) - on_copy[:3], axis=1).min() < 0.005  # rows of vertices are that far apart


@pytest.mark.slow
def test_what_the_copy_is_turned_to_can_be_taken(bell):
    bpy.ops.platewright.preview(number=0)
    body, _ = preview_copy.current(bpy.context)
    body.rotation_euler = (np.pi / 2, 0.0, 0.0)  # the part's y axis points up in it, then
    bpy.context.view_layer.update()
    bpy.ops.platewright.take_way_up(number=-1)
    np.testing.assert_allclose(settings.of(bpy.context.scene).part.up, (0, 1, 0), atol=1e-6)
    assert settings.of(bpy.context.scene).place.turn == pytest.approx(0.0, abs=1e-4)
    assert not copies()
    with pytest.raises(RuntimeError, match="preview a position first"):
        bpy.ops.platewright.take_way_up(number=-1)


@pytest.mark.slow
def test_a_way_up_is_taken_with_its_turn_about_the_vertical(bell):
    """The copy turned by 90 degrees about x and then by 40 about the vertical: y up, and those 40 (composition of turns)."""
    bpy.ops.platewright.preview(number=0)
    body, _ = preview_copy.current(bpy.context)
    body.rotation_euler = (np.pi / 2, 0.0, np.radians(40))
    bpy.context.view_layer.update()
    bpy.ops.platewright.take_way_up(number=-1)
    np.testing.assert_allclose(settings.of(bpy.context.scene).part.up, (0, 1, 0), atol=1e-6)
    assert settings.job_of(bpy.context.scene).place.turn == pytest.approx(np.radians(40), abs=1e-6)
    one = found().results.hanging.suggestions[1]
    bpy.ops.platewright.take_way_up(number=1)
    assert settings.job_of(bpy.context.scene).place.turn == pytest.approx(one.turn, abs=1e-6)
