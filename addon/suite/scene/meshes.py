"""Arrays into Blender meshes, in bulk."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

KINDS: dict[str, Any] = {"i": "INT", "f": "FLOAT", "b": "BOOLEAN"}


def new(name: str, points: NDArray[Any], triangles: NDArray[np.int32]) -> bpy.types.Mesh:
    """A mesh of these triangles, row for row. points : (v, 3), triangles : (m, 3)"""
    mesh = bpy.data.meshes.new(name)
    count = len(triangles)
    mesh.vertices.add(len(points))
    mesh.attributes["position"].data.foreach_set("vector", points.astype(np.float32).ravel())
    mesh.loops.add(3 * count)
    mesh.loops.foreach_set("vertex_index", np.ascontiguousarray(triangles, dtype=np.int32).ravel())
    mesh.polygons.add(count)
    mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * count, 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    return mesh


def triangulated(
    points: NDArray[np.float64], corners: NDArray[np.int64], starts: NDArray[np.int64]
) -> NDArray[np.int32]:
    """(m, 3) triangles of polygons, concave ones as well, as Blender cuts them.

    points : (v, 3); corners : (c,) a point each, those of a polygon together; starts : (n,) where each polygon begins
    """
    mesh = bpy.data.meshes.new("polygons")
    try:
        mesh.vertices.add(len(points))
        mesh.attributes["position"].data.foreach_set("vector", points.astype(np.float32).ravel())
        mesh.loops.add(len(corners))
        mesh.loops.foreach_set("vertex_index", corners.astype(np.int32))
        mesh.polygons.add(len(starts))
        mesh.polygons.foreach_set("loop_start", starts.astype(np.int32))
        mesh.update(calc_edges=True)
        mesh.calc_loop_triangles()
        triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
        mesh.loop_triangles.foreach_get("vertices", triangles)
        return triangles.reshape(-1, 3)
    finally:
        bpy.data.meshes.remove(mesh)


def write(mesh: bpy.types.Mesh, name: str, values: NDArray[Any]) -> None:
    """A value a polygon as an attribute of ours: int32, float32 or bool by the type of `values`."""
    kind = KINDS[values.dtype.kind]
    attribute = mesh.attributes.get(name) or mesh.attributes.new(name, kind, "FACE")
    attribute.data.foreach_set("value", values)
