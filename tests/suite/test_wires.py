"""Wires as empties: they keep to the surface, go into the job, and are named when they cannot serve."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.settings.job import Job
from addon.engine.settings.part import PartSection
from addon.suite.operators import pick
from addon.suite.scene import roles
from addon.suite.session import session
from addon.suite.scene import settings

import scene
from models import box, moved
from scene import kept

pytestmark = pytest.mark.usefixtures("platewright")

BAR = moved(box((0.100, 0.010, 0.010)), (0.2, 0.0, 0.0))  # meters, a corner at (0.2, 0, 0)


@pytest.fixture
def part(measured):
    """The bar, measured."""
    return measured(BAR, "Bar")


def job() -> Job:
    return scene.job()[0]


def wires() -> list[bpy.types.Object]:
    bpy.context.view_layer.update()
    return roles.every(bpy.context.scene, roles.WIRE)


def test_a_wire_is_placed_on_the_nearest_face_and_goes_into_the_job(part):
    assert bpy.ops.platewright.place_wire(point=(0.22, 0.004, 0.013), pad=4) == {"FINISHED"}
    (wire,) = job().wires
    assert wire.point == pytest.approx((0.22, 0.004, 0.010), abs=1e-6)
    assert wire.pad == pytest.approx(0.004)
    assert wire.name == "Wire"
    assert session.objects(bpy.context) == [part]


def test_a_dragged_wire_stays_on_the_surface(part):
    """Off the top, round the corner: the nearest place of the box, from its planes."""
    bpy.ops.platewright.place_wire(point=(0.22, 0.005, 0.010))
    o = wires()[0]
    o.location.x += 0.03
    o.location.z += 0.02
    assert job().wires[0].point == pytest.approx((0.25, 0.005, 0.010), abs=1e-6)
    o.location.y += 0.05
    assert job().wires[0].point == pytest.approx((0.25, 0.010, 0.010), abs=1e-6)
    o.location.z = 0.004
    assert job().wires[0].point == pytest.approx((0.25, 0.010, 0.004), abs=1e-6)
    assert np.array(o.matrix_world)[1, 2] > 0.9  # the arrow points out of the face


@pytest.mark.slow
def test_a_wire_goes_with_its_part_and_moving_it_makes_the_coat_stale(part):
    bpy.ops.platewright.place_wire(point=(0.21, 0.005, 0.010))
    bpy.ops.platewright.study(only="coat")
    assert kept().study.results.coat.wires[0].point == pytest.approx((0.21, 0.005, 0.010), abs=1e-6)
    part.location.y += 0.5
    bpy.context.view_layer.update()
    assert not kept().stale(bpy.context.scene)
    wires()[0].location.x += 0.05
    bpy.context.view_layer.update()
    assert kept().stale(bpy.context.scene) == {"coat"}
    assert job().wires[0].point == pytest.approx((0.26, 0.005, 0.010), abs=1e-6)


@pytest.mark.slow
def test_suggested_wires_stand_where_the_engine_puts_them(part):
    """One wire on a bar: the coat loses least from its middle. Two: a quarter from either end."""
    bpy.ops.platewright.study(only="contacts, coat")
    alone = kept().study.results.coat.wires
    assert bpy.ops.platewright.suggest_wires(number=1) == {"FINISHED"}
    assert job().wires[0].point == pytest.approx(tuple(alone[0].point), abs=1e-6)
    assert job().wires[0].point[0] == pytest.approx(0.25, abs=0.006)
    bpy.ops.platewright.suggest_wires(number=2)
    assert sorted(wire.point[0] for wire in job().wires) == pytest.approx([0.225, 0.275], abs=0.008)


def test_wires_are_placed_in_the_scene_s_unit(add):
    bpy.context.scene.unit_settings.scale_length = 0.001
    add((np.array(BAR[0]) * 1000, BAR[1]), "Bar")
    bpy.ops.platewright.measure()
    bpy.ops.platewright.place_wire(point=(220, 4, 13))
    assert tuple(wires()[0].matrix_world.translation) == pytest.approx((220, 4, 10), abs=1e-3)
    assert job().wires[0].point == pytest.approx((0.22, 0.004, 0.010), abs=1e-6)


def test_a_scaled_part_keeps_its_wires_on_the_surface(add):
    part = add((np.array(BAR[0]) * 1000, BAR[1]), "Bar")
    part.scale = (0.001, 0.001, 0.001)
    bpy.ops.platewright.measure()
    bpy.ops.platewright.place_wire(point=(0.22, 0.004, 0.013))
    assert job().wires[0].point == pytest.approx((0.22, 0.004, 0.010), abs=1e-6)


@pytest.mark.slow
def test_a_wire_off_the_surface_is_named_with_the_remedy(part):
    bpy.ops.platewright.place_wire(point=(0.22, 0.005, 0.010))
    o = wires()[0]
    o.name = "Hook"
    o.constraints.clear()
    o.location.z += 0.02
    bpy.context.view_layer.update()
    bpy.ops.platewright.study(only="coat")
    told = kept().study.reasons["coat"]
    assert told.startswith("Hook: the point (220, 5, 30) mm lies 20 mm off the part; move it onto the surface")
    assert "\n" not in told and kept().study.results.deposit is not None  # what else was measured stays


def test_a_masked_face_takes_no_wire(add):
    part = add(BAR, "Bar")
    mask = part.data.attributes.new(PartSection.mask, "BOOLEAN", "FACE")
    mask.data.foreach_set("value", [polygon.center.z > 0.0099 for polygon in part.data.polygons])
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="Bar: this face is masked"):
        bpy.ops.platewright.place_wire(point=(0.22, 0.005, 0.012))
    assert not wires()


def test_suggestions_need_a_ranking(part):
    with pytest.raises(RuntimeError, match="Find wire positions first"):
        bpy.ops.platewright.suggest_wires()
    bpy.ops.platewright.study(only="contacts")
    settings.of(bpy.context.scene).coat.sheet_resistance = 40
    with pytest.raises(RuntimeError, match="Bar: the wire positions are out of date"):
        bpy.ops.platewright.suggest_wires()


def test_placing_is_undone_in_one_step(part):
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.platewright.place_wire(point=(0.22, 0.005, 0.010))
    bpy.ops.ed.undo_push(message="wire")
    assert len(wires()) == 1
    bpy.ops.ed.undo()
    assert not wires()


def test_the_coat_is_measured_between_two_strips(part):
    """Ten squares: 100 mm along a band of 10 mm, 5.3 ohm of which the leads are 0.3. A reading of less is refused."""
    coat = settings.of(bpy.context.scene).coat
    assert bpy.ops.platewright.sheet_resistance(reading=5.3, leads=0.3) == {"FINISHED"}
    assert coat.sheet_resistance == pytest.approx(0.5)
    with pytest.raises(RuntimeError, match="it must be more than the leads read"):
        bpy.ops.platewright.sheet_resistance(reading=0.2, leads=0.3)
    assert coat.sheet_resistance == pytest.approx(0.5)


def test_a_ray_from_above_meets_the_top(part):
    face, point = pick.face_along(kept(), (0.23, 0.004, 5.0), (0, 0, -2))
    assert kept().study.surface.normal[face] == pytest.approx((0, 0, 1))
    assert point == pytest.approx((0.23, 0.004, 0.010), abs=1e-9)
    assert pick.face_along(kept(), (0.1, 0.0, 5.0), (0, 0, -1)) is None


def test_a_reading_of_no_coat_is_refused():
    """The setting would cut it to its limit, and say another number."""
    with pytest.raises(RuntimeError, match="no coat that can be plated"):
        bpy.ops.platewright.sheet_resistance(reading=1e7, gap=1.0, width=10.0)
