"""Markers of vents and drains: where the engine puts them, as wide as the bore, and gone with the part's next ones."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.units import MM
from addon.suite.session import session
from addon.suite.scene import settings
from addon.suite.scene.roles import BORE, HOLE

from models import box, cup, moved

pytestmark = pytest.mark.usefixtures("platewright")

BELL = moved(cup(10.0, 20.0, 1.0, rows=2), turn=np.diag([1, -1, -1]))  # mm; it opens downwards


def markers():
    bpy.context.view_layer.update()
    return [o for o in bpy.context.scene.objects if o.get(HOLE)]


def test_a_bell_has_one_vent_in_the_middle_of_its_ceiling_that_goes_with_it(add):
    """The ceiling of the hollow is its floor turned over: the origin of the model (cup of models)."""
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(BELL, "Bell")
    part.location = (5.0, 0.0, 7.0)
    bpy.ops.platewright.measure()
    part.location.x += 3.0
    bpy.context.view_layer.update()
    bpy.ops.platewright.mark_holes()
    (vent,) = markers()
    np.testing.assert_allclose(vent.matrix_world.translation, (8.0, 0.0, 7.0), atol=1e-4)
    bore = session.find(bpy.context).study.results.gas.pockets[0].vent_diameter
    assert vent.empty_display_size == pytest.approx(0.5 * bore / MM)
    assert vent.name.startswith("Vent")
    part.location.y += 2.0
    assert markers()[0].matrix_world.translation.y == pytest.approx(2.0, abs=1e-5)
    assert session.objects(bpy.context) == [part]
    assert not session.find(bpy.context).stale(bpy.context.scene)


def test_with_the_other_side_up_the_vent_becomes_a_drain(add):
    bpy.context.scene.unit_settings.scale_length = MM
    add(BELL, "Bell")
    bpy.ops.platewright.measure()
    bpy.ops.platewright.mark_holes()
    settings.of(bpy.context.scene).part.up = (0, 0, -1)
    with pytest.raises(RuntimeError, match="press Check Again first"):
        bpy.ops.platewright.mark_holes()
    bpy.ops.platewright.measure()
    bpy.ops.platewright.mark_holes()
    (drain,) = markers()
    assert drain.name.startswith("Drain")
    np.testing.assert_allclose(drain.matrix_world.translation, (0.0, 0.0, 0.0), atol=1e-4)


def bores():
    return [o for o in bpy.context.scene.objects if o.get(BORE)]


def test_the_bore_is_drawn_as_a_wireframe_through_the_ceiling(add):
    """Ceiling of 1 mm over the hollow: a prism of 32 sides from below it to above, as wide as the vent; no part of the
    part, not rendered, and replaced by the next."""
    bpy.context.scene.unit_settings.scale_length = MM
    part = add(BELL, "Bell")
    part.location = (5.0, 0.0, 7.0)
    bpy.ops.platewright.measure()
    for _ in range(2):
        bpy.ops.platewright.mark_holes()
    bpy.context.view_layer.update()
    (bore,) = bores()
    points = np.array([bore.matrix_world @ v.co for v in bore.data.vertices])
    assert points[:, 2].min() < 7.0 and points[:, 2].max() > 8.0
    width = session.find(bpy.context).study.results.gas.pockets[0].vent_diameter / MM
    assert np.ptp(points[:, 0]) == pytest.approx(width / np.cos(np.pi / 32), rel=0.01)
    assert bore.display_type == "WIRE" and bore.hide_render and session.objects(bpy.context) == [part]
    assert not session.find(bpy.context).stale(bpy.context.scene)


def test_what_needs_none_gets_none(add):
    add(box((0.01, 0.01, 0.01)))
    bpy.ops.platewright.measure()
    bpy.ops.platewright.mark_holes()
    assert not markers()


@pytest.mark.slow
def test_it_says_so_where_nothing_was_looked_for(add):
    """The wire's place needs gas but no drainage, which is then not known."""
    bpy.context.scene.unit_settings.scale_length = MM
    add(BELL, "Bell")
    bpy.ops.platewright.study(only="contacts")
    with pytest.raises(RuntimeError, match="not calculated yet: press Check Part"):
        bpy.ops.platewright.mark_holes()


def test_another_part_keeps_its_markers(add):
    bpy.context.scene.unit_settings.scale_length = MM
    one, other = add(BELL, "Bell"), add(BELL, "Second bell")
    for part, rest in ((one, other), (other, one)):
        part.select_set(True)
        rest.select_set(False)
        bpy.ops.platewright.choose()
        bpy.ops.platewright.measure()
        bpy.ops.platewright.mark_holes()
    assert sorted(o.parent.name for o in markers()) == ["Bell", "Second bell"]
