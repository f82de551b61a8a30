"""Maps of a study stored on meshes: a value per face, and in exported files colors.

The attributes carry the extension's name; nothing else of a mesh is changed.
"""

from __future__ import annotations

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.study import Study
from ..scene import meshes, settings, shape
from ..scene.capture import Capture, Piece
from . import maps
from .maps import Drawing

PREFIX = "platewright_"
COLOR = PREFIX + "colour"


def paint(study: Study, o: bpy.types.Object, map_name: str = "") -> Drawing | None:
    """Every map of a study, and the colors of one, onto a mesh whose polygons are the part's triangles, row for row.

    map_name : the map to color by; "" takes the first that there is. None where the study holds no map at all
    """
    drawings = {name: maps.draw(name, study) for name in maps.available(study)}
    rows = np.arange(len(study.part.triangles), dtype=np.int32)
    for drawing in drawings.values():
        _write(_mesh(o), drawing, rows, np.ones(len(rows)))
    if not drawings:
        return None
    shown = drawings[map_name or next(iter(drawings))]
    _color(_mesh(o), shown, rows, np.ones(len(rows)))
    return shown


def store(context: bpy.types.Context, capture: Capture, study: Study) -> int:
    """Every map's values as attributes of the objects that a part was captured from. Returns how many took them: one
    whose modifiers make other faces, or whose mesh others use, takes none."""
    blocks, weight, count = shape.by_id(context.view_layer), study.surface.area, 0
    drawings = [maps.draw(name, study) for name in maps.available(study)]
    for piece in capture.pieces:
        o = blocks.get(piece.session)
        if o is None or not _can_carry(o, piece, capture):
            continue
        rows = slice(piece.start, piece.stop)
        for drawing in drawings:
            _write(_mesh(o), drawing, piece.polygons, weight[rows], rows)
        count += 1
    return count


def remove(context: bpy.types.Context) -> int:
    """Take off every attribute of ours; returns how many there were."""
    count = 0
    for item in settings.of(context.scene).objects:
        if item.object is not None and item.object.type == "MESH":
            attributes = item.object.data.attributes
            for name in [a.name for a in attributes if a.name.startswith(PREFIX)]:
                attributes.remove(attributes[name])
                count += 1
    return count


def _can_carry(o: bpy.types.Object, piece: Piece, capture: Capture) -> bool:
    """Whether the values fit the object's own mesh, and show nowhere else."""
    pieces = sum(other.session == piece.session for other in capture.pieces)
    return piece.own and pieces == 1 and o.data.users == 1 and o.data.library is None


def _mesh(o: bpy.types.Object) -> bpy.types.Mesh:
    assert isinstance(o.data, bpy.types.Mesh)
    return o.data


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
    attributes = mesh.color_attributes
    attribute = attributes.get(COLOR) or attributes.new(COLOR, "FLOAT_COLOR", "CORNER")
    attribute.data.foreach_set("color", np.repeat(rgba, _corners(mesh), axis=0).ravel())
    attributes.active_color_name = COLOR
    mesh.update()


def _corners(mesh: bpy.types.Mesh) -> int | NDArray[np.int32]:
    """How many corners each polygon has."""
    if len(mesh.loops) == 3 * len(mesh.polygons):
        return 3  # one call is much faster than one per polygon
    corners = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", corners)
    return corners


def _means(
    values: NDArray[np.float64], polygons: NDArray[np.int32], weight: NDArray[np.float64], count: int
) -> NDArray[np.float64]:
    """(count,) the mean of each polygon's triangles by weight; nan where none has a number."""
    if len(values) == count:
        return values  # all of them are triangles
    weight = np.where(np.isnan(values), 0.0, np.maximum(weight, 1e-30))
    total = np.bincount(polygons, weight, minlength=count)
    filled = np.bincount(polygons, weight * np.nan_to_num(values), minlength=count)
    return np.divide(filled, total, out=np.full(count, np.nan), where=total > 0)
