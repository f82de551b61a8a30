"""What happens to the scene while a study runs: nothing of it is lost, and nothing old is told as new.

The window stays alive while the steps of a study are walked, so a test may walk them by hand and edit in between.
Areas are of cubes: 6 a2.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import bpy
import numpy as np
import pytest

import addon
from addon.engine.errors import InputError
from addon.engine.progress import run_to_end
from addon.suite.session import session
from addon.suite.scene import settings, viewing
from addon.suite.operators.measure import PLATEWRIGHT_OT_measure, Studying

from models import box

pytestmark = pytest.mark.usefixtures("platewright")

SIDE = 0.01  # m
CUBE = 6 * SIDE**2  # m2


class Walked(Studying):
    """The work of Measure, walked by hand as its timer does it."""

    bl_label = PLATEWRIGHT_OT_measure.bl_label
    analyses = PLATEWRIGHT_OT_measure.analyses
    outcome = PLATEWRIGHT_OT_measure.outcome

    def __init__(self) -> None:
        self.said: list[tuple[set[str], str]] = []

    def report(self, kind: set[str], text: str) -> None:
        self.said.append((kind, text))


@contextmanager
def measuring() -> Iterator[Walked]:
    """A study is under way within the block; it ends, and is kept, after it."""
    work = Walked()
    steps = work.start(bpy.context)
    next(steps)
    yield work
    work.finished(bpy.context, run_to_end(steps))


def area() -> float:
    found = session.find(bpy.context)
    assert found is not None and found.study.surface is not None
    return float(found.study.surface.plated_area.sum())


def scaled(o: bpy.types.Object) -> None:
    o.scale = (2.0, 2.0, 2.0)


def moved_points(o: bpy.types.Object) -> None:
    for vertex in o.data.vertices:
        vertex.co *= 2.0
    o.data.update()


def modified(o: bpy.types.Object) -> None:
    made = o.modifiers.new("Copies", "ARRAY")
    made.use_relative_offset, made.use_constant_offset = False, True
    made.constant_offset_displace, made.count = (10 * SIDE, 0.0, 0.0), 4


@pytest.mark.parametrize("edit", [scaled, moved_points, modified])
def test_an_edit_while_a_study_runs_makes_it_stale_and_measure_again_sees_it(add, edit: Callable):
    """Twice the side, or four cubes, have four times the area."""
    part = add(box((SIDE,) * 3))
    with measuring() as work:
        edit(part)
        bpy.context.view_layer.update()
    kept = session.find(bpy.context)
    assert area() == pytest.approx(CUBE, rel=1e-5)  # it answers for what it was taken from
    assert kept.moved
    assert kept.stale(bpy.context.scene) == set(kept.study.results.names)
    assert work.said[-1][0] == {"WARNING"}
    bpy.ops.platewright.measure()
    assert area() == pytest.approx(4 * CUBE, rel=1e-5)
    assert not session.find(bpy.context).stale(bpy.context.scene)


def test_an_edit_that_nobody_told_of_is_seen_all_the_same(add):
    """A script need not have the view layer updated."""
    part = add(box((SIDE,) * 3))
    with measuring():
        scaled(part)
    assert session.find(bpy.context).moved


def test_an_edit_taken_back_leaves_the_study_fresh(add):
    part = add(box((SIDE,) * 3))
    with measuring():
        scaled(part)
        bpy.context.view_layer.update()
    part.scale = (1.0, 1.0, 1.0)
    bpy.context.view_layer.update()
    assert not session.find(bpy.context).stale(bpy.context.scene)


def test_carrying_the_part_while_a_study_runs_is_carrying_it_afterwards(add):
    part = add(box((SIDE,) * 3))
    with measuring():
        part.location.x = 0.25
        bpy.context.view_layer.update()
    assert not session.find(bpy.context).moved
    assert session.shift(bpy.context) == pytest.approx([0.25, 0.0, 0.0])


def test_the_unit_and_the_eye_count_as_they_were_at_the_start(add):
    add(box((SIDE,) * 3))
    other = add(box((SIDE,) * 3))
    with measuring():
        other.hide_set(True)
    kept = session.find(bpy.context)
    assert kept.stale(bpy.context.scene) == set(kept.study.results.names)
    other.hide_set(False)
    bpy.ops.platewright.measure()
    assert not session.find(bpy.context).stale(bpy.context.scene)
    with measuring():
        bpy.context.scene.unit_settings.scale_length = 0.001
    kept = session.find(bpy.context)
    assert kept.stale(bpy.context.scene) == set(kept.study.results.names)


def test_an_original_edited_while_its_instance_is_studied_makes_it_stale(instanced):
    original = instanced(box((SIDE,) * 3))
    with measuring():
        moved_points(original)
        bpy.context.view_layer.update()
    assert session.find(bpy.context).moved


@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("again", [True, False])
def test_an_object_removed_while_it_is_studied_is_named_and_nothing_is_kept(add, again: bool, told: bool):
    """Another of the same name is another object. told : whether the view layer was updated"""
    part = add(box((SIDE,) * 3), "Part")
    work = Walked()
    steps = work.start(bpy.context)
    next(steps)
    bpy.data.objects.remove(part)
    if again:
        other = add(box((2 * SIDE,) * 3), "Part")
        assert other.name == "Part"
    if told:
        bpy.context.view_layer.update()
    result = run_to_end(steps)
    with pytest.raises(InputError, match="Part: .*removed"):
        work.finished(bpy.context, result)
    assert session.find(bpy.context) is None
    assert not settings.of(bpy.context.scene).objects
    if again:
        bpy.ops.platewright.measure()
        assert area() == pytest.approx(4 * CUBE, rel=1e-5)


def test_a_map_in_color_is_left_alone_where_the_mesh_cannot_take_it_any_more(add):
    part = add(box((SIDE,) * 3))
    bpy.ops.platewright.measure()
    bpy.ops.platewright.show(map_name="gas")
    settings.of(bpy.context.scene).part.up = (0.0, 1.0, 0.0)
    with measuring() as work:
        mesh = part.data
        mesh.clear_geometry()
        points, faces = box((SIDE,) * 3, cells=(2, 2, 2))
        mesh.from_pydata(points.tolist(), [], np.asarray(faces).tolist())
        bpy.context.view_layer.update()
    assert session.find(bpy.context).reshaped
    assert work.said[-1][0] == {"WARNING"}


def test_a_way_up_that_cannot_be_kept_is_not_set(add):
    """The object goes while the part is measured another way up: the setting stays as it was."""
    from addon.suite.operators.hang import HangingStudy

    class Held(Walked, HangingStudy):
        def up(self, _context):
            return (0.0, 1.0, 0.0)

    part = add(box((SIDE,) * 3))
    work = Held()
    steps = work.start(bpy.context)
    next(steps)
    bpy.data.objects.remove(part)
    with pytest.raises(InputError):
        work.finished(bpy.context, run_to_end(steps))
    assert tuple(settings.of(bpy.context.scene).part.up) == (0.0, 0.0, 1.0)


def snapshot() -> tuple:
    """What a person would notice of the file: objects, meshes, attributes, settings, what is kept."""
    scene = bpy.context.scene
    kept = session.find(bpy.context)
    return (
        settings.table(scene),
        [item.object.name for item in settings.of(scene).objects],
        viewing.of(bpy.context).shown,
        {o.name: (o.display_type, o.select_get(), o.hide_get()) for o in scene.objects},
        {mesh.name: [(a.name, a.domain) for a in mesh.attributes] for mesh in bpy.data.meshes},
        kept and (id(kept), id(kept.study), kept.moved),
        len(bpy.data.objects),
    )


def unusable_window(_part: bpy.types.Object) -> None:
    settings.of(bpy.context.scene).bath.window = (5, 4)


def no_coat(_part: bpy.types.Object) -> None:
    settings.of(bpy.context.scene).coat.entry = "no such coat"


def flat(part: bpy.types.Object) -> None:
    part.scale.z = 0.0
    bpy.context.view_layer.update()


def two_tanks(_part: bpy.types.Object) -> None:
    for _ in range(2):
        o = bpy.data.objects.new("Vessel", bpy.data.meshes.new("Vessel"))
        bpy.context.scene.collection.objects.link(o)
        o.platewright.role = "TANK"


@pytest.mark.parametrize("spoil", [unusable_window, no_coat, flat, two_tanks])
@pytest.mark.parametrize("measured", [True, False])
def test_a_refused_measure_changes_nothing(add, spoil: Callable, measured: bool):
    part = add(box((SIDE,) * 3))
    if measured:
        bpy.ops.platewright.measure()
        bpy.ops.platewright.show(map_name="gas")
    spoil(part)
    before = snapshot()
    with pytest.raises(RuntimeError):
        bpy.ops.platewright.measure()
    assert snapshot() == before


def test_registering_twice_does_no_harm_nor_does_taking_it_back_twice(add):
    add(box((SIDE,) * 3))
    addon.register()
    bpy.ops.platewright.measure()
    assert area() == pytest.approx(CUBE, rel=1e-5)
    addon.unregister()
    addon.unregister()
    assert not hasattr(bpy.types.Scene, "platewright")
    addon.register()
    bpy.ops.platewright.measure()
    assert area() == pytest.approx(CUBE, rel=1e-5)
