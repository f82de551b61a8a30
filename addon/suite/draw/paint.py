"""A map of a study onto meshes: a value a face for whoever wants it, a color for the viewport, and off again.

The attributes carry the extension's name; nothing else of the user's mesh is touched. An object whose mesh
cannot carry the colors (its modifiers make other faces, or several objects share it, or it has no mesh) is
stood in for by a colored copy, and is shown as a box of lines meanwhile.
"""

from __future__ import annotations

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.study import Study
from ..scene import meshes, settings, shape
from ..scene.capture import Capture, Piece, meters_per_unit
from . import maps
from .maps import Drawing

PREFIX = "platewright_"
COLOR = PREFIX + "colour"
STAND_IN = PREFIX + "stand_in"  # on a copy: from which of the part's triangles on, counted from 1, it stands in
LIFT = 2e-4  # of the part's size: how far a copy stands off what it covers


def paint(study: Study, o: bpy.types.Object, what: str = "") -> Drawing | None:
    """Every map of a study, and the colors of one, onto a mesh whose polygons are the part's triangles, row for row.

    what : the map to color by; "" takes the first that there is. None where the study holds no map at all
    """
    found = {name: maps.draw(name, study) for name in maps.available(study)}
    rows = np.arange(len(study.part.triangles), dtype=np.int32)
    for drawing in found.values():
        _write(_mesh(o), drawing, rows, np.ones(len(rows)))
    if not found:
        return None
    shown = found[what or next(iter(found))]
    _color(_mesh(o), shown, rows, np.ones(len(rows)))
    return shown


def show(context: bpy.types.Context, capture: Capture, study: Study, what: str) -> Drawing:
    """Color the objects that a part was captured from by one map."""
    hide(context)
    drawing = maps.draw(what, study)
    weight = study.surface.area
    blocks = shape.by_id(context.view_layer)
    others = []
    for piece in capture.pieces:
        o = blocks.get(piece.session)
        if o is None:
            continue
        if not _can_carry(o, piece, capture):
            others.append((o, piece))
            continue
        item = _item(context.scene, o)
        item.colors_before = o.data.color_attributes.active_color_name
        rows = slice(piece.start, piece.stop)
        _write(_mesh(o), drawing, piece.polygons, weight[rows], rows)
        _color(_mesh(o), drawing, piece.polygons, weight[rows], rows)
    for o, piece in others:
        _stand_in(context, o, piece, study, drawing)
    chosen = settings.of(context.scene)
    chosen.shown, chosen.low, chosen.high = what, drawing.low, drawing.high
    return drawing


def again(context: bpy.types.Context, capture: Capture, study: Study, what: str) -> Drawing:
    """Color once more what `show` colored, by another study of the same part; nothing else of the scene changes."""
    drawing = maps.draw(what, study)
    weight, blocks = study.surface.area, shape.by_id(context.view_layer)
    copies = {o[STAND_IN]: o for o in context.view_layer.objects if o.get(STAND_IN)}
    for piece in capture.pieces:
        rows, o, copy = slice(piece.start, piece.stop), blocks.get(piece.session), copies.get(piece.start + 1)
        if copy is not None:
            _color(_mesh(copy), drawing, np.arange(piece.stop - piece.start, dtype=np.int32), weight[rows], rows)
        elif o is not None and piece.own and _mesh(o).color_attributes.get(COLOR):
            _color(_mesh(o), drawing, piece.polygons, weight[rows], rows)
    return drawing


def tint(study: Study, o: bpy.types.Object, what: str) -> None:
    """The colors of one map onto a mesh whose polygons are the part's triangles, row for row."""
    _color(_mesh(o), maps.draw(what, study), np.arange(len(study.part.triangles), dtype=np.int32), study.surface.area)


def hide(context: bpy.types.Context) -> None:
    """The part's objects as they were before `show`; the values stay on the meshes as attributes."""
    chosen = settings.of(context.scene)
    chosen.shown = ""
    for item in chosen.objects:
        if item.object is None:
            continue
        if item.display_before:
            item.object.display_type, item.display_before = item.display_before, ""
        if item.object.type == "MESH" and item.object.data.attributes.get(COLOR):
            colors = item.object.data.color_attributes
            colors.remove(colors[COLOR])
            if item.colors_before in colors:
                colors.active_color_name = item.colors_before
    for o in [o for o in context.scene.objects if o.get(STAND_IN)]:
        mesh = _mesh(o)
        bpy.data.objects.remove(o)
        bpy.data.meshes.remove(mesh)
    context.view_layer.update()


def remove(context: bpy.types.Context) -> int:
    """Take off every attribute of ours; returns how many there were."""
    hide(context)
    count = 0
    for item in settings.of(context.scene).objects:
        if item.object is not None and item.object.type == "MESH":
            attributes = item.object.data.attributes
            for name in [a.name for a in attributes if a.name.startswith(PREFIX)]:
                attributes.remove(attributes[name])
                count += 1
    return count


def _can_carry(o: bpy.types.Object, piece: Piece, capture: Capture) -> bool:
    """Whether the object's own mesh can show the colors, and shows them nowhere else."""
    pieces = sum(other.session == piece.session for other in capture.pieces)
    return piece.own and pieces == 1 and o.data.users == 1 and o.data.library is None


def _mesh(o: bpy.types.Object) -> bpy.types.Mesh:
    assert isinstance(o.data, bpy.types.Mesh)
    return o.data


def _item(scene: bpy.types.Scene, o: bpy.types.Object) -> settings.PartObject:
    """Where the settings note what an object was like."""
    items = settings.of(scene).objects
    for item in items:
        if item.object == o:
            return item
    item = items.add()
    item.object = o
    return item


def _stand_in(context: bpy.types.Context, o: bpy.types.Object, piece: Piece, study: Study, drawing: Drawing) -> None:
    """A colored copy of a run of the part's triangles in the place of an object."""
    rows = slice(piece.start, piece.stop)
    triangles, surface = study.part.triangles[rows], study.surface
    used, corners = np.unique(triangles, return_inverse=True)
    normals = np.zeros((len(used), 3))
    for corner in corners.reshape(triangles.shape).T:
        np.add.at(normals, corner, surface.normal[rows] * surface.area[rows, None])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    outward = np.divide(normals, length, out=normals, where=length > 0)
    points = (study.part.points[used] + LIFT * surface.size * outward) / meters_per_unit(context.scene)
    mesh = meshes.new(f"{o.name} in color", points, corners.reshape(triangles.shape).astype(np.int32))
    copy = bpy.data.objects.new(mesh.name, mesh)
    copy[STAND_IN] = piece.start + 1
    copy.hide_select = copy.hide_render = True
    context.scene.collection.objects.link(copy)
    copy.parent, copy.matrix_parent_inverse = o, o.matrix_world.inverted()
    own = np.arange(len(triangles), dtype=np.int32)
    _write(mesh, drawing, own, surface.area[rows], rows)
    _color(mesh, drawing, own, surface.area[rows], rows)
    item = _item(context.scene, o)
    if not item.display_before:
        item.display_before, o.display_type = o.display_type, "BOUNDS"


def _write(
    mesh: bpy.types.Mesh,
    drawing: Drawing,
    polygons: NDArray[np.int32],
    weight: NDArray[np.float64],
    rows: slice = slice(None),
) -> None:
    """The values of a map as an attribute, a mean over each polygon's triangles."""
    values = _means(drawing.values[rows], polygons, weight, len(mesh.polygons))
    meshes.write(mesh, PREFIX + drawing.map.name, values.astype(np.float32))


def _color(
    mesh: bpy.types.Mesh,
    drawing: Drawing,
    polygons: NDArray[np.int32],
    weight: NDArray[np.float64],
    rows: slice = slice(None),
) -> None:
    """The colors of a map as the mesh's active color attribute, one color a polygon."""
    rgba = np.ones((len(mesh.polygons), 4), dtype=np.float32)
    rgba[:, :3] = drawing.colored(_means(drawing.values[rows], polygons, weight, len(rgba)))
    found = mesh.color_attributes
    attribute = found.get(COLOR) or found.new(COLOR, "FLOAT_COLOR", "CORNER")
    attribute.data.foreach_set("color", np.repeat(rgba, _corners(mesh), axis=0).ravel())
    found.active_color_name = COLOR
    mesh.update()


def _corners(mesh: bpy.types.Mesh) -> int | NDArray[np.int32]:
    """How many corners each polygon has."""
    if len(mesh.loops) == 3 * len(mesh.polygons):
        return 3  # to ask each takes long
    corners = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", corners)
    return corners


def _means(
    values: NDArray[np.float64], polygons: NDArray[np.int32], weight: NDArray[np.float64], count: int
) -> NDArray[np.float64]:
    """(count,) the mean of each polygon's triangles by weight; nan where none has a number."""
    if len(values) == count:
        return values  # triangles all
    weight = np.where(np.isnan(values), 0.0, np.maximum(weight, 1e-30))
    total = np.bincount(polygons, weight, minlength=count)
    filled = np.bincount(polygons, weight * np.nan_to_num(values), minlength=count)
    return np.divide(filled, total, out=np.full(count, np.nan), where=total > 0)
