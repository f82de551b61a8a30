"""Capture: one documented rule each. Areas and volumes are closed forms of boxes and balls."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
import pytest
from mathutils import Matrix

from addon.engine.errors import InputError
from addon.engine.mesh.skipped import Skipped, Why
from addon.suite.scene import capture

import models

SIZE = np.array([0.03, 0.02, 0.01])  # meters: the box that every test captures
AREA = 2 * (0.03 * 0.02 + 0.02 * 0.01 + 0.01 * 0.03)
VOLUME = 0.03 * 0.02 * 0.01


def measures(part) -> tuple[float, float]:
    """Area in m2 and signed volume in m3 (divergence theorem)."""
    a, b, c = (part.points[part.triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    return 0.5 * np.linalg.norm(cross, axis=1).sum(), np.einsum("ij,ij->", a, cross) / 6


@pytest.mark.parametrize("scene_scale", [1.0, 0.01, 0.001, 0.0254])
@pytest.mark.parametrize("object_scale", [1.0, 10.0, 0.02])
def test_the_same_physical_part_under_any_scales(add, scene_scale, object_scale):
    """Unit scale of the scene and scale of the object each count once."""
    bpy.context.scene.unit_settings.scale_length = scene_scale
    box = add(models.box(SIZE / scene_scale / object_scale))
    box.scale = (object_scale,) * 3
    area, volume = measures(capture.selected(bpy.context).part)
    assert area == pytest.approx(AREA, rel=1e-5)  # single precision of Blender's transforms
    assert volume == pytest.approx(VOLUME, rel=1e-5)


def test_no_unit_system_means_meters(add):
    bpy.context.scene.unit_settings.system = "NONE"
    bpy.context.scene.unit_settings.scale_length = 0.001
    add(models.box(SIZE))
    assert measures(capture.selected(bpy.context).part)[0] == pytest.approx(AREA, rel=1e-5)


def test_parents_count(add):
    """A box of half size under a parent twice as large, turned and moved."""
    parent = bpy.data.objects.new("Post", None)
    bpy.context.scene.collection.objects.link(parent)
    parent.matrix_world = Matrix.Translation((1, 2, 3)) @ Matrix.Rotation(0.7, 4, "X") @ Matrix.Scale(2, 4)
    add(models.box(SIZE / 2)).parent = parent
    part = capture.selected(bpy.context).part
    assert measures(part)[1] == pytest.approx(VOLUME, rel=1e-4)
    assert part.points.min(axis=0)[0] == pytest.approx(1.0, abs=1e-6)


def test_a_mirrored_object_stays_outward(add):
    """A negative determinant would turn every normal inward: the winding is turned back."""
    add(models.box(SIZE)).scale = (-1, 1, 1)
    assert measures(capture.selected(bpy.context).part)[1] == pytest.approx(VOLUME, rel=1e-5)


def test_modifiers_count_as_the_viewport_shows_them(add):
    box = add(models.box(SIZE))
    array = box.modifiers.new("Array", "ARRAY")
    array.count, array.relative_offset_displace = 3, (2, 0, 0)
    captured = capture.selected(bpy.context)
    assert measures(captured.part)[1] == pytest.approx(3 * VOLUME, rel=1e-5)
    assert not captured.pieces[0].own
    array.show_viewport = False
    captured = capture.selected(bpy.context)
    assert measures(captured.part)[1] == pytest.approx(VOLUME, rel=1e-5)
    assert captured.pieces[0].own


def test_several_objects_are_one_part_in_the_order_of_names(add):
    add(models.moved(models.box(SIZE), (1, 0, 0)), "B")
    add(models.box(SIZE), "A")
    captured = capture.selected(bpy.context)
    assert captured.part.name == "A and 1 more"
    assert [(p.object, p.start, p.stop) for p in captured.pieces] == [("A", 0, 12), ("B", 12, 24)]
    assert measures(captured.part)[1] == pytest.approx(2 * VOLUME, rel=1e-5)


def test_polygons_are_carried_for_each_triangle():
    """Quads and a pentagon: each triangle names the polygon that it was cut from; areas add up."""
    mesh = bpy.data.meshes.new("Sheet")
    corners = [(0, 0, 0), (2, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (3, 0, 0), (3, 1, 0)]
    mesh.from_pydata(corners, [], [(0, 1, 2, 3, 4), (1, 5, 6, 2)])
    sheet = bpy.data.objects.new("Sheet", mesh)
    bpy.context.scene.collection.objects.link(sheet)
    sheet.select_set(True)
    captured = capture.selected(bpy.context)
    a, b, c = (captured.part.points[captured.part.triangles[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    assert np.bincount(captured.pieces[0].polygons, weights=area).tolist() == pytest.approx([3.0, 1.0])


def test_masks_are_carried_by_triangle(add):
    """A quad that is masked gives two triangles that are, wherever the object stands in the part."""
    add(models.box(SIZE), "A")
    bpy.ops.mesh.primitive_cube_add()
    cube = bpy.context.object
    bpy.data.objects["A"].select_set(True)
    for name, polygon in (("plating_mask", 2), ("show_face", 4)):
        cube.data.attributes.new(name, "BOOLEAN", "FACE").data[polygon].value = True
    captured = capture.selected(bpy.context)
    polygons = captured.pieces[1].polygons
    np.testing.assert_array_equal(captured.part.masked[12:], polygons == 2)
    np.testing.assert_array_equal(captured.part.show[12:], polygons == 4)
    assert not captured.part.masked[:12].any()


def test_masks_go_through_modifiers(add):
    """Subdivided once, a masked sixth of a cube is still a sixth of its faces."""
    bpy.ops.mesh.primitive_cube_add()
    cube = bpy.context.object
    cube.data.attributes.new("plating_mask", "BOOLEAN", "FACE").data[0].value = True
    cube.modifiers.new("Subdivision", "SUBSURF").levels = 2
    part = capture.selected(bpy.context).part
    assert part.masked.mean() == pytest.approx(1 / 6)


@pytest.mark.parametrize(
    ("name", "kind", "domain"), [("plating_mask", "FLOAT", "FACE"), ("show_face", "BOOLEAN", "POINT")]
)
def test_a_mask_of_another_kind_is_named(add, name, kind, domain):
    add(models.box(SIZE)).data.attributes.new(name, kind, domain)
    (one,) = capture.selected(bpy.context).part.skipped
    assert (one.why, one.detail, one.owner) == (Why.WRONG_ATTRIBUTE, name, f"{kind} on {domain}")


def test_a_mask_that_was_asked_for_and_is_missing_is_named(add):
    add(models.box(SIZE))
    (one,) = capture.selected(bpy.context, mask="tape").part.skipped
    assert (one.why, one.detail) == (Why.NO_ATTRIBUTE, "tape")


def test_collection_instances_count_where_they_stand(add):
    group = bpy.data.collections.new("Group")
    mesh = add(models.box(SIZE), select=False).data
    group.objects.link(bpy.data.objects.new("Inside", mesh))
    for x in (1, 2):
        empty = bpy.data.objects.new(f"Copy {x}", None)
        empty.instance_type, empty.instance_collection = "COLLECTION", group
        empty.location, empty.scale = (x, 0, 0), (-1, 1, 1)
        bpy.context.scene.collection.objects.link(empty)
        empty.select_set(True)
    captured = capture.selected(bpy.context)
    assert measures(captured.part)[1] == pytest.approx(2 * VOLUME, rel=1e-4)
    assert [piece.object for piece in captured.pieces] == ["Copy 1", "Copy 2"]
    assert not any(piece.own for piece in captured.pieces)
    assert captured.part.points[:, 0].max() == pytest.approx(2.0)


def test_instances_on_points_count(add):
    """A plane that carries a box on each of its four corners; the plane itself counts as long as it shows."""
    bpy.ops.mesh.primitive_plane_add()
    plane = bpy.context.object
    add(models.box(SIZE), "Child", select=False).parent = plane
    plane.instance_type = "VERTS"
    plane.show_instancer_for_viewport = False
    assert measures(capture.selected(bpy.context).part)[1] == pytest.approx(4 * VOLUME, rel=1e-4)
    plane.show_instancer_for_viewport = True
    assert measures(capture.selected(bpy.context).part)[0] == pytest.approx(4 * AREA + 4.0, rel=1e-4)


def test_linked_duplicates_count_each(add):
    first = add(models.box(SIZE), "First")
    second = bpy.data.objects.new("Second", first.data)
    second.scale = (2, 2, 2)
    bpy.context.scene.collection.objects.link(second)
    second.select_set(True)
    assert measures(capture.selected(bpy.context).part)[1] == pytest.approx(9 * VOLUME, rel=1e-5)


def test_a_hidden_object_is_left_out_by_name(add):
    add(models.box(SIZE), "Seen")
    hidden = add(models.box(SIZE), "Hidden")
    hidden.hide_viewport = True
    part = capture.of_objects(list(bpy.data.objects), bpy.context, 1.0).part
    assert len(part.triangles) == 12
    assert len(part.skipped) == 1 and part.skipped[0] == Skipped(Why.HIDDEN, "Hidden")


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (lambda: bpy.data.objects.new("Odd", None), "empty"),
        (lambda: bpy.data.objects.new("Odd", bpy.data.cameras.new("c")), "camera"),
        (lambda: bpy.data.objects.new("Odd", bpy.data.lights.new("l", "POINT")), "light"),
        (lambda: bpy.data.objects.new("Odd", bpy.data.curves.new("c", "CURVE")), "bevel"),
        (lambda: bpy.data.objects.new("Odd", bpy.data.meshes.new("m")), "no faces"),
    ],
    ids=["empty", "camera", "light", "curve", "mesh"],
)
def test_what_has_no_surface_is_named(add, make, word):
    """Beside a part it is left out with the reason; alone, the reason is the fault."""
    odd = make()
    bpy.context.scene.collection.objects.link(odd)
    odd.select_set(True)
    with pytest.raises(InputError, match=f"^Odd: .*{word}"):
        capture.selected(bpy.context)
    add(models.box(SIZE), "Box")
    captured = capture.selected(bpy.context)
    assert len(captured.part.triangles) == 12
    assert captured.part.skipped[0].name == "Odd"


def test_nothing_selected_is_a_fault():
    with pytest.raises(InputError, match="nothing is selected"):
        capture.selected(bpy.context)


def test_a_flattened_object_is_named(add):
    add(models.box(SIZE)).scale = (1, 1, 0)
    with pytest.raises(InputError, match="Part: is scaled to nothing"):
        capture.selected(bpy.context)


def test_curves_and_texts_count_as_their_mesh():
    """A bevelled straight curve is a tube of 2 pi r l (its 16-gon: 16 sin(pi/16) / pi of that)."""
    curve = bpy.data.curves.new("Wire", "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", 0.1, 6
    line = curve.splines.new("POLY")
    line.points.add(1)
    line.points[1].co = (0, 0, 2, 1)
    text = bpy.data.curves.new("Word", "FONT")
    text.body, text.extrude = "Oak", 0.1
    for data in (curve, text):
        o = bpy.data.objects.new(data.name, data)
        bpy.context.scene.collection.objects.link(o)
        o.select_set(True)
    captured = capture.selected(bpy.context)
    wire, word = captured.pieces
    part = captured.part
    assert wire.object == "Wire" and word.object == "Word" and word.stop > word.start
    a, b, c = (part.points[part.triangles[wire.start : wire.stop, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    assert area == pytest.approx(2 * np.pi * 0.1 * 2, rel=0.02)


def test_metaballs_count_as_their_mesh():
    ball = bpy.data.objects.new("Ball", bpy.data.metaballs.new("Ball"))
    ball.data.elements.new()
    bpy.context.scene.collection.objects.link(ball)
    ball.select_set(True)
    area, volume = measures(capture.selected(bpy.context).part)
    assert volume > 0 and area**3 > 36 * np.pi * volume**2  # isoperimetric inequality: closed and outward


def test_edit_mode_counts_as_it_stands(add):
    """Edits that are not flushed yet count, and the user stays in Edit mode."""
    box = add(models.box(SIZE))
    bpy.context.view_layer.objects.active = box
    bpy.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(box.data)
    bmesh.ops.scale(edited, vec=(2, 2, 2), verts=edited.verts)
    bmesh.update_edit_mesh(box.data)
    part = capture.selected(bpy.context).part
    assert measures(part)[1] == pytest.approx(8 * VOLUME, rel=1e-5)
    assert box.mode == "EDIT"
    bpy.ops.object.mode_set(mode="OBJECT")


def test_the_users_mesh_is_not_touched(add):
    box = add(models.box(SIZE))
    box.modifiers.new("Subdivision", "SUBSURF")
    names = sorted(box.data.attributes.keys())
    before = [tuple(v.co) for v in box.data.vertices]
    capture.selected(bpy.context)
    assert sorted(box.data.attributes.keys()) == names
    assert [tuple(v.co) for v in box.data.vertices] == before
    assert len(bpy.data.meshes) == 1


def test_fingerprint_follows_shape_not_name(add):
    box = add(models.box(SIZE))
    first = capture.selected(bpy.context).part.fingerprint
    box.name = "Renamed"
    assert capture.selected(bpy.context).part.fingerprint == first
    box.scale = (1, 1, 1.01)
    assert capture.selected(bpy.context).part.fingerprint != first
