"""Boolean differences by Blender's exact solver, on temporary copies."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.units import MM
from . import meshes

Mesh = tuple[NDArray[np.float64], NDArray[np.int32]]


def difference(solid: Mesh, cutter: Mesh) -> Mesh:
    """The difference of two closed meshes; points (v, 3) in meters, triangles (m, 3).

    Raises InputError where nothing is left. Cost: the exact solver's, some seconds for some hundred thousand triangles.
    """
    middle = 0.5 * (solid[0].min(axis=0) + solid[0].max(axis=0))
    with _object("platewright solid", solid, middle) as part, _object("platewright cutter", cutter, middle) as tool:
        modifier = part.modifiers.new("cut", "BOOLEAN")
        modifier.operation, modifier.solver, modifier.object = "DIFFERENCE", "EXACT", tool
        modifier.use_self = False
        graph = bpy.context.evaluated_depsgraph_get()
        graph.update()
        evaluated = part.evaluated_get(graph)
        mesh = evaluated.to_mesh()
        try:
            points, triangles = _read(mesh)
        finally:
            evaluated.to_mesh_clear()
    if not len(triangles):
        raise InputError("the boolean left nothing of the part; mend the mesh first")
    return points * MM + middle, triangles


@contextmanager
def _object(name: str, mesh: Mesh, middle: NDArray[np.float64]) -> Iterator[bpy.types.Object]:
    """A mesh in millimeters as an object of the scene, for as long as it is needed."""
    data = meshes.new(name, (mesh[0] - middle) / MM, mesh[1])
    o = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(o)
    try:
        yield o
    finally:
        bpy.data.objects.remove(o)
        bpy.data.meshes.remove(data)


def _read(mesh: bpy.types.Mesh) -> Mesh:
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    mesh.calc_loop_triangles()
    triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    return points.reshape(-1, 3).astype(np.float64), triangles.reshape(-1, 3)
