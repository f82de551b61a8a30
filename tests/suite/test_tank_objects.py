"""Tank, anodes, shields and thieves as objects: what the scene shows is what the field is solved for."""

from __future__ import annotations

import re
from math import radians

import bpy
import numpy as np
import pytest
from mathutils import Matrix

from addon.engine import study as studies
from addon.engine.settings.job import read_job
from addon.engine.settings.part import PartSection
from addon.engine.settings.tank import Tank
from addon.engine.progress import run_to_end
from addon.engine.tank import vessel
from addon.engine.tank.vessel import roomy
from addon.suite.scene import capture, load, roles, stage
from addon.suite.draw import overlay_tank
from addon.suite.operators import tank as operators_tank
from addon.suite.session import session
from addon.suite.scene import settings
from addon.suite.scene.tracers import HostTracer

from models import box, moved
from scene import job, kept

pytestmark = pytest.mark.usefixtures("platewright", "usual_tank")

BAR = moved(box((0.030, 0.020, 0.040)), (0.5, 0.2, 0.1))  # meters, away from the scene's origin
BENT = box((0.002, 0.060, 0.080))  # a plate with thickness


@pytest.fixture
def part(measured):
    """The bar, measured."""
    return measured(BAR, "Bar")


def stale() -> frozenset[str]:
    bpy.context.view_layer.update()
    return kept().stale(bpy.context.scene)


def by_name(name: str) -> bpy.types.Object:
    return bpy.context.scene.objects[name]


def serve(o: bpy.types.Object, role: str) -> bpy.types.Object:
    o.platewright.role = role
    o.select_set(False)
    return o


@pytest.mark.slow
def test_one_click_sets_up_the_tank_that_is_assumed_without_objects(part, monkeypatch):
    """So its field is that of the default job, in the vessel that fits the part."""
    monkeypatch.setattr(operators_tank, "fitted", vessel.fitted)
    assert bpy.ops.platewright.tank() == {"FINISHED"}
    bpy.ops.platewright.study(only="field")
    found = kept().study
    direct = run_to_end(
        studies.run(
            capture.of_objects([part], bpy.context, 1.0).part,
            read_job({"effort": {"panels": 500}}),
            HostTracer,
            only=["field"],
        )
    )
    assert found.results.field.voltage == pytest.approx(direct.results.field.voltage, rel=0.01)
    assert found.results.field.uniformity == pytest.approx(direct.results.field.uniformity, rel=0.02)
    assert [load.name for load in found.results.field.anodes] == ["Anode 1", "Anode 2"]
    assert not stale()


def test_the_part_hangs_in_the_middle_of_the_liquid(part):
    bpy.ops.platewright.tank()
    found, bodies = job()
    assert found.tank.size == pytest.approx((0.3, 0.2, 0.25))
    assert found.place.centre == pytest.approx((0, 0, 0.11), abs=1e-6)
    assert bodies["Anode 1"].points[:, 1] == pytest.approx(0.095, abs=1e-6)
    assert bodies["Anode 2"].points[:, 1] == pytest.approx(-0.095, abs=1e-6)
    assert overlay_tank.level(bpy.context.scene)[:, 2] == pytest.approx(0.12 + 0.11, abs=1e-6)


def test_the_tank_is_made_in_the_scene_s_unit(add):
    """A scene in millimeters: the same tank, a thousand times the numbers."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    add((np.array(BAR[0]) * 1000, BAR[1]), "Bar")
    bpy.ops.platewright.measure()
    bpy.ops.platewright.tank()
    assert tuple(by_name("Tank").dimensions) == pytest.approx((300, 200, 250), rel=1e-5)
    assert job()[0].place.centre == pytest.approx((0, 0, 0.11), abs=1e-6)


def test_moving_an_anode_or_the_part_makes_the_field_stale_and_nothing_else(part):
    bpy.ops.platewright.tank()
    bpy.ops.platewright.study(only="field")
    before = by_name("Anode 1").location.copy()
    by_name("Anode 1").location.y -= 0.01
    assert stale() == {"field", "field_at_target"}
    by_name("Anode 1").location = before
    assert not stale()
    part.location.x += 0.02
    assert stale() == {"field", "field_at_target"}
    assert job()[0].place.centre == pytest.approx((0.02, 0, 0.11), abs=1e-6)


def test_another_shape_of_an_anode_is_noticed(part):
    bpy.ops.platewright.tank()
    bpy.ops.platewright.study(only="field")
    mesh = by_name("Anode 1").data
    mesh.vertices[0].co.x -= 0.01
    mesh.update()
    assert "field" in stale()


def test_a_tank_turned_about_the_vertical_turns_the_part_in_it(part):
    """By the opposite angle: the field solver's tank does not turn."""
    bpy.ops.platewright.tank()
    tank = by_name("Tank")
    tank.matrix_world = Matrix.LocRotScale(tank.location, Matrix.Rotation(radians(30), 3, "Z"), None)
    found, _ = job()
    assert found.place.turn == pytest.approx(radians(-30), abs=1e-5)
    assert found.place.centre == pytest.approx((0, 0, 0.11), abs=1e-6)


def test_a_tank_is_set_up_along_the_way_up(part):
    settings.of(bpy.context.scene).part.up = (1, 0, 0)
    bpy.ops.platewright.tank()
    bpy.context.view_layer.update()
    inside = roles.inside(by_name("Tank"), bpy.context.scene)
    assert inside.turn[2] == pytest.approx((1, 0, 0), abs=1e-6)
    assert stage.stands_upright(settings.job_of(bpy.context.scene), inside)
    assert job()[0].place.turn == pytest.approx(0, abs=1e-6)


def test_scaling_the_tank_changes_the_size_in_the_job(part):
    bpy.ops.platewright.tank()
    by_name("Tank").scale.x = 2
    assert job()[0].tank.size == pytest.approx((0.6, 0.2, 0.25))


def test_things_in_the_tank_are_never_part_of_the_part(part, add):
    bpy.ops.platewright.tank()
    for o in bpy.context.scene.objects:
        o.select_set(True)
    bpy.ops.platewright.choose()
    assert session.objects(bpy.context) == [part]
    part.select_set(False)
    with pytest.raises(RuntimeError, match="Select the object"):
        bpy.ops.platewright.choose()


@pytest.mark.slow
def test_a_shield_and_a_thief_go_into_the_job_by_name(part, add):
    bpy.ops.platewright.tank()
    serve(add(moved(BENT, (0.55, 0.2, 0.1)), "Screen"), "SHIELD")
    serve(add(moved(BENT, (0.45, 0.2, 0.1)), "Robber"), "THIEF")
    found, bodies = job()
    assert [one.file for one in found.shields] == ["Screen"]
    assert [one.file for one in found.thieves] == ["Robber"]
    assert set(bodies) == {"Anode 1", "Anode 2", "Screen", "Robber"}
    bpy.ops.platewright.study(only="field")
    assert kept().study.results.field.thief_current > 0


def test_what_is_hidden_does_not_count(part):
    bpy.ops.platewright.tank()
    by_name("Anode 2").hide_set(True)
    assert [one.name for one in job()[0].anodes] == ["Anode 1"]


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda part: setattr(part, "location", (0, 0, 1)), "Bar: its top is .* above the liquid"),
        (lambda part: setattr(by_name("Anode 2"), "location", (0, -0.3, 0.1)), "Anode 2: .*tank"),
        (lambda part: setattr(by_name("Anode 2"), "location", (0, 0, 0.11)), "Anode 2"),
    ],
)
def test_what_cannot_stand_where_it_is_is_named(part, spoil, told):
    bpy.ops.platewright.tank()
    spoil(part)
    bpy.context.view_layer.update()
    bpy.ops.platewright.study(only="field")
    assert "\n" not in kept().study.reasons["field"]
    assert re.search(told, kept().study.reasons["field"]), kept().study.reasons["field"]


def test_an_anode_without_a_tank_or_without_faces_is_refused_by_name(part, add):
    lone = serve(add(moved(BENT, (0.55, 0.2, 0.1)), "Lone plate"), "ANODE")
    with pytest.raises(RuntimeError, match="Lone plate: there is no tank"):
        bpy.ops.platewright.study(only="field")
    lone.platewright.role = "NONE"
    bpy.ops.platewright.tank()
    serve(add((np.zeros((1, 3)), np.zeros((0, 3), dtype=int)), "Speck"), "ANODE")
    with pytest.raises(RuntimeError, match="Speck: this mesh has no faces"):
        bpy.ops.platewright.study(only="field")


def test_two_tanks_are_refused_by_name(part, add):
    bpy.ops.platewright.tank()
    serve(add(moved(BENT, (0.55, 0.2, 0.1)), "Tub"), "TANK")
    with pytest.raises(RuntimeError, match="Tank and Tub both are the tank"):
        bpy.ops.platewright.measure()


def test_an_open_tank_needs_no_tank_object(part, add):
    settings.of(bpy.context.scene).tank.shape = "open"
    serve(add(moved(BENT, (0.55, 0.2, 0.1)), "Plate"), "ANODE")
    found, bodies = job()
    assert found.place.centre == pytest.approx((0.515, 0.21, 0.12), abs=1e-6)
    assert bodies["Plate"].points.mean(axis=0) == pytest.approx((0.551, 0.23, 0.14), abs=1e-6)


def test_the_tank_is_undone_in_one_step(part):
    bpy.ops.ed.undo_push(message="before")
    before = sorted(o.name for o in bpy.context.scene.objects)
    bpy.ops.platewright.tank()
    bpy.ops.ed.undo_push(message="tank")
    bpy.ops.ed.undo()
    assert sorted(o.name for o in bpy.context.scene.objects) == before


def test_a_part_too_large_for_the_usual_tank_gets_a_larger_one():
    """50 mm beside it and 20 mm over and under it, in steps of 10 mm."""
    assert roomy((0.02, 0.02, 0.04), Tank()) == Tank()
    large = roomy((0.5, 0.31, 0.3), Tank())
    assert large.size == pytest.approx((0.60, 0.41, 0.37))
    assert large.level == pytest.approx(0.34)


def test_a_part_for_a_tank_of_ten_meters_is_refused(add):
    """9.96 m of part and 40 mm of liquid above and below it are a level of 10 m, and there is no freeboard left."""
    add((np.array(BAR[0]) * 249, BAR[1]), "Bar")
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="Bar: a tank for it would be"):
        bpy.ops.platewright.tank()
    assert [o.name for o in bpy.context.scene.objects] == ["Bar"]


def test_a_blend_with_a_tank_in_it_still_has_one_part(part, tmp_path):
    """The command line asks which object is meant only where several could be the part."""
    bpy.ops.platewright.tank()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "bar.blend"))
    found = load.part(PartSection(file=str(tmp_path / "bar.blend"), unit="scene"))
    assert found.name == "Bar"
    assert len(found.triangles) == 12
