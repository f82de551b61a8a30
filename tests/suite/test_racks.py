"""Copies of the part on one rack: made in a row, placed by hand, named where they cannot hang."""

from __future__ import annotations

from math import radians

import bpy
import pytest
from mathutils import Matrix

from addon.suite.scene import roles, stage
from addon.suite.session import session
from addon.suite.scene import settings

from models import box, moved

pytestmark = pytest.mark.usefixtures("platewright", "usual_tank")

BAR = moved(box((0.020, 0.020, 0.040)), (0.5, 0.2, 0.1))


@pytest.fixture
def part(add):
    """The bar in its tank, with few panels for its field."""
    made = add(BAR, "Bar")
    settings.of(bpy.context.scene).effort.panels = 500
    bpy.ops.platewright.measure()
    bpy.ops.platewright.tank()
    return made


def job():
    bpy.context.view_layer.update()
    kept = session.find(bpy.context)
    return stage.staged(
        bpy.context, settings.job_of(bpy.context.scene), kept.study.part, session.carried(bpy.context, kept.capture)
    )[0]


def copies() -> list[bpy.types.Object]:
    return roles.every(bpy.context.scene, roles.RACKED)


def test_a_row_of_three_stands_in_the_job(part):
    """One on either side, 50 mm from middle to middle, along the tank."""
    assert bpy.ops.platewright.rack(count=3, spacing=50) == {"FINISHED"}
    assert sorted(place[0] for place in job().rack.positions) == pytest.approx([-0.05, 0, 0.05], abs=1e-6)
    assert [place[1:] for place in job().rack.positions] == [pytest.approx((0, 0.11), abs=1e-6)] * 3
    assert all(o.data == part.data for o in copies())
    assert session.objects(bpy.context) == [part]


def test_an_even_row_hangs_in_the_middle_of_the_tank(part):
    """The part stays where it is: the tank, with its anodes, is shifted by half of the spacing."""
    before = part.matrix_world.copy()
    bpy.ops.platewright.rack(count=2, spacing=60)
    assert part.matrix_world == before
    assert sorted(place[0] for place in job().rack.positions) == pytest.approx([-0.03, 0.03], abs=1e-6)
    bpy.ops.platewright.rack(count=4, spacing=60)
    assert sorted(place[0] for place in job().rack.positions) == pytest.approx([-0.09, -0.03, 0.03, 0.09], abs=1e-6)
    bpy.ops.platewright.rack(count=1)
    assert not copies() and not job().rack.positions


@pytest.mark.slow
def test_each_takes_its_share(part):
    """Three in a row: the outer two alike, the middle one less; the current is that of three parts."""
    bpy.ops.platewright.study(only="field")
    alone = session.find(bpy.context).study.results.field.current
    bpy.ops.platewright.rack(count=3, spacing=30)
    assert {"field", "deposit"} <= session.find(bpy.context).stale(bpy.context.scene)
    bpy.ops.platewright.study(only="deposit, field")
    found = session.find(bpy.context).study.results
    middle, *outer = found.field.part_currents
    assert outer[0] == pytest.approx(outer[1], rel=0.02) and middle < 0.95 * outer[0]
    assert found.field.current == pytest.approx(3 * alone, rel=1e-3)
    assert found.deposit.copies == 3


def test_a_copy_may_be_turned_about_the_vertical_only(part):
    bpy.ops.platewright.rack(count=2, spacing=60, centre=False)
    (copy,) = copies()
    stands = copy.matrix_world.copy()
    about = (
        Matrix.Translation((0.57, 0.21, 0.12))
        @ Matrix.Rotation(radians(90), 4, "Z")
        @ Matrix.Translation((-0.51, -0.21, -0.12))
    )
    copy.matrix_world = about @ part.matrix_world
    assert job().rack.turns == pytest.approx((0, radians(90)), abs=1e-5)
    assert job().rack.positions[1] == pytest.approx((0.06, 0, 0.11), abs=1e-6)
    copy.matrix_world = stands @ Matrix.Rotation(radians(20), 4, "X")
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="Bar, copy: it is tilted"):
        bpy.ops.platewright.study(only="field")
    copy.matrix_world = stands @ Matrix.Scale(2, 4)
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="Bar, copy: it has another scale"):
        bpy.ops.platewright.study(only="field")


def test_another_mesh_is_no_copy(part, add):
    lone = add(moved(box((0.01, 0.01, 0.01)), (0.55, 0.2, 0.1)), "Cube", select=False)
    lone.platewright.role = "RACKED"
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="Cube: it is no copy of Bar"):
        bpy.ops.platewright.study(only="field")


def test_a_row_longer_than_the_tank_is_told_and_copies_that_meet_are_named(part):
    bpy.ops.platewright.rack(count=3, spacing=150)
    bpy.ops.platewright.study(only="field")
    assert "wall of the tank by" in session.find(bpy.context).study.reasons["field"]
    bpy.ops.platewright.rack(count=2, spacing=15)
    bpy.ops.platewright.study(only="field")
    assert "overlap by 5 mm" in session.find(bpy.context).study.reasons["field"]


def test_a_rack_is_undone_in_one_step(part):
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.platewright.rack(count=4)
    bpy.ops.ed.undo_push(message="rack")
    assert len(copies()) == 3
    bpy.ops.ed.undo()
    assert not copies()
