"""Maps of a study stored on meshes: a value per face, and in exported files colors.

The attributes carry the extension's name; nothing else of a mesh is changed.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    polygons = np.arange(len(study.part.triangles), dtype=np.int32)
    target = _Target(_mesh(o), polygons, np.ones(len(polygons)), slice(None))
    for drawing in drawings.values():
        target.write(drawing)
    if not drawings:
        return None
    shown = drawings[map_name or next(iter(drawings))]
    target.color(shown)
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
        target = _Target(_mesh(o), piece.polygons, weight[rows], rows)
        for drawing in drawings:
            target.write(drawing)
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


@dataclass(frozen=True)
class _Target:
    """A mesh, and how a run of the part's triangles lies on it.

    polygons : (n,) the polygon of each triangle; weight : (n,) m2; rows : of the part's triangles
    """

    mesh: bpy.types.Mesh
    polygons: NDArray[np.int32]
    weight: NDArray[np.float64]
    rows: slice

    def write(self, drawing: Drawing) -> None:
        """The values of a map as an attribute, a mean over each polygon's triangles."""
        meshes.write(self.mesh, PREFIX + drawing.map.name, self._means(drawing).astype(np.float32))

    def color(self, drawing: Drawing) -> None:
        """The colors of a map as the mesh's active color attribute, one color per polygon."""
        rgba = np.ones((len(self.mesh.polygons), 4), dtype=np.float32)
        rgba[:, :3] = drawing.colored(self._means(drawing))
        attributes = self.mesh.color_attributes
        attribute = attributes.get(COLOR) or attributes.new(COLOR, "FLOAT_COLOR", "CORNER")
        attribute.data.foreach_set("color", np.repeat(rgba, _corners(self.mesh), axis=0).ravel())
        attributes.active_color_name = COLOR
        self.mesh.update()

    def _means(self, drawing: Drawing) -> NDArray[np.float64]:
        """The mean of each polygon's triangles by weight; nan where none has a number."""
        values, count = drawing.values[self.rows], len(self.mesh.polygons)
        if len(values) == count:
            return values  # all of them are triangles
        weight = np.where(np.isnan(values), 0.0, np.maximum(self.weight, 1e-30))
        total = np.bincount(self.polygons, weight, minlength=count)
        filled = np.bincount(self.polygons, weight * np.nan_to_num(values), minlength=count)
        return np.divide(filled, total, out=np.full(count, np.nan), where=total > 0)


def _corners(mesh: bpy.types.Mesh) -> int | NDArray[np.int32]:
    """How many corners each polygon has."""
    if len(mesh.loops) == 3 * len(mesh.polygons):
        return 3  # one call is much faster than one per polygon
    corners = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("loop_total", corners)
    return corners
