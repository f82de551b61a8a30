"""The engine's `Tracer`, answered by Blender: by its trees for few rays, by geometry nodes for many.

Blender's trees work in single precision. So the surface is moved to the origin and scaled to SPAN, rays go
in in those units, and the distance of a hit is worked out again in double precision on the face that was hit.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from typing import Any

import bpy
import numpy as np
from mathutils.bvhtree import BVHTree
from numpy.typing import NDArray

from ...engine.geometry import morton
from ...engine.mesh.surface import Surface
from .. import versions
from . import meshes

SPAN = 100.0  # the surface's diagonal in the trees' units
RAY_LENGTH = 1e4 * SPAN  # longer than any ray between a part and its tank
MIN_RAYS_FOR_NODES = 20_000  # from this many rays on, nodes are faster than a loop over the rays
MIN_MESH_TRIANGLES = 50_000  # from this many on, a mesh takes less time and memory than lists of numbers
BATCH = 1_000_000  # rays in one evaluation of the nodes: some 100 MB
FACE, HIT, DIRECTION = "platewright_face", "platewright_hit", "platewright_direction"


class HostTracer:
    """Rays against one surface. Nothing is built before the first query."""

    def __init__(self, surface: Surface) -> None:
        self._surface = surface
        self._middle = surface.bounds.mean(axis=0)
        self._scale = SPAN / max(surface.size, 1e-12)

    def first_hit(
        self, origins: NDArray[np.float64], directions: NDArray[np.float64]
    ) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
        """See `Tracer.first_hit`."""
        face = self._cast(origins, directions, FACE)
        return face, self._distance(face, origins, directions)

    def blocked(self, origins: NDArray[np.float64], directions: NDArray[np.float64]) -> NDArray[np.bool_]:
        """See `Tracer.blocked`."""
        return self._cast(origins, directions, HIT)

    def nearest(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """See `Tracer.nearest`."""
        find = self._tree.find_nearest
        distances = [find(point)[3] for point in self._inside(points).tolist()]
        return np.array(distances, dtype=np.float64) / self._scale

    def _cast(self, origins: NDArray[np.float64], directions: NDArray[np.float64], query: str) -> Any:
        """The rays' hits: face (n,) int32 or hit (n,) bool."""
        if len(origins) < MIN_RAYS_FOR_NODES:
            ray_cast = self._tree.ray_cast
            rays = zip(self._inside(origins).tolist(), directions.tolist(), strict=True)
            faces = [ray_cast(origin, direction)[2] for origin, direction in rays]
            face = np.array([-1 if index is None else index for index in faces], dtype=np.int32)
            return face if query == FACE else face >= 0
        order = morton.order(self._inside(origins))  # neighboring rays share cached data
        out = np.empty(len(origins), dtype=np.int32 if query == FACE else bool)
        with _scene(self._inside(self._surface.points), self._surface.triangles, query) as cast:
            for start in range(0, len(order), BATCH):
                rows = order[start : start + BATCH]
                out[rows] = cast(self._inside(origins[rows]), directions[rows])
        return out

    def _inside(self, points: NDArray[np.float64]) -> NDArray[np.float32]:
        """Points in the trees' units."""
        return ((points - self._middle) * self._scale).astype(np.float32)

    @cached_property
    def _tree(self) -> BVHTree:
        points, triangles = self._inside(self._surface.points), self._surface.triangles
        if len(triangles) < MIN_MESH_TRIANGLES:
            return BVHTree.FromPolygons(points.tolist(), triangles.tolist(), all_triangles=True)
        blocks: list[Any] = []
        try:
            scene = _tracked(blocks, bpy.data.scenes.new("platewright rays"))
            mesh = _tracked(blocks, meshes.new("platewright target", points, triangles))
            target = _tracked(blocks, bpy.data.objects.new("platewright target", mesh))
            scene.collection.objects.link(target)
            layer = scene.view_layers[0]
            layer.update()
            return BVHTree.FromObject(target, layer.depsgraph)
        finally:
            bpy.data.batch_remove(blocks)

    def _distance(
        self, face: NDArray[np.int32], origins: NDArray[np.float64], directions: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Along the unit direction to the plane of the face that was hit; inf where none was."""
        rows = np.flatnonzero(face >= 0)
        met, unit = face[rows], directions[rows] / np.linalg.norm(directions[rows], axis=1, keepdims=True)
        normal = self._surface.normal[met]
        gap = self._surface.points[self._surface.triangles[met, 0]] - origins[rows]
        rise = np.einsum("ij,ij->i", normal, gap)
        slope = np.einsum("ij,ij->i", normal, unit)
        distance = np.full(len(face), np.inf)
        # a ray within the plane of its face: use the corner's distance
        level = np.abs(slope) < 1e-12
        along = np.divide(rise, slope, out=np.einsum("ij,ij->i", gap, unit), where=~level)
        distance[rows] = np.maximum(along, 0.0)
        return distance


@contextmanager
def _scene(points: NDArray[np.float32], triangles: NDArray[np.int32], query: str) -> Iterator[Any]:
    """A temporary scene with the surface and a ray caster, removed when the block ends."""
    blocks: list[Any] = []
    try:
        scene = _tracked(blocks, bpy.data.scenes.new("platewright rays"))
        target_mesh = _tracked(blocks, meshes.new("platewright target", points, triangles))
        meshes.write(target_mesh, FACE, np.arange(len(triangles), dtype=np.int32))
        target = _tracked(blocks, bpy.data.objects.new("platewright target", target_mesh))
        tree = _tracked(blocks, _nodes(target, query))
        scene.collection.objects.link(target)

        def cast(origins: NDArray[np.float32], directions: NDArray[np.float64]) -> Any:
            return _evaluate(scene, tree, origins, directions.astype(np.float32), query)

        yield cast
    finally:
        bpy.data.batch_remove(blocks)


def _tracked(blocks: list[Any], block: Any) -> Any:
    blocks.append(block)
    return block


def _evaluate(
    scene: bpy.types.Scene,
    tree: bpy.types.NodeTree,
    origins: NDArray[np.float32],
    directions: NDArray[np.float32],
    query: str,
) -> Any:
    """One evaluation of the nodes on a cloud of points, one a ray."""
    blocks: list[Any] = []
    try:
        mesh = _tracked(blocks, bpy.data.meshes.new("platewright rays"))
        mesh.vertices.add(len(origins))
        mesh.attributes["position"].data.foreach_set("vector", origins.ravel())
        direction = mesh.attributes.new(DIRECTION, "FLOAT_VECTOR", "POINT")
        direction.data.foreach_set("vector", directions.ravel())
        rays = _tracked(blocks, bpy.data.objects.new("platewright rays", mesh))
        rays.modifiers.new("rays", "NODES").node_group = tree
        scene.collection.objects.link(rays)
        layer = scene.view_layers[0]
        layer.update()
        answer = rays.evaluated_get(layer.depsgraph).data.attributes[query]
        out = np.empty(len(origins), dtype=np.int32 if query == FACE else bool)
        answer.data.foreach_get("value", out)
        return out
    finally:
        bpy.data.batch_remove(blocks)


def _nodes(target: bpy.types.Object, query: str) -> bpy.types.NodeTree:
    """Nodes that store, on each point, the face that its ray meets (-1: none), or whether it meets one."""
    groups: Any = bpy.data.node_groups  # typed without the kinds of tree that there are
    tree = groups.new("platewright rays", "GeometryNodeTree")
    tree.interface.new_socket("Geometry", in_out="INPUT", socket_type="NodeSocketGeometry")
    tree.interface.new_socket("Geometry", in_out="OUTPUT", socket_type="NodeSocketGeometry")
    begin, end = tree.nodes.new("NodeGroupInput"), tree.nodes.new("NodeGroupOutput")
    info = tree.nodes.new("GeometryNodeObjectInfo")
    info.inputs["Object"].default_value = target
    direction = _named(tree, DIRECTION, "FLOAT_VECTOR")
    cast = tree.nodes.new("GeometryNodeRaycast")
    _input(cast, "Ray Length").default_value = RAY_LENGTH
    tree.links.new(info.outputs["Geometry"], _input(cast, "Target Geometry"))
    tree.links.new(direction, _input(cast, "Ray Direction"))
    store = tree.nodes.new("GeometryNodeStoreNamedAttribute")
    store.domain = "POINT"
    store.data_type = "INT" if query == FACE else "BOOLEAN"
    _input(store, "Name").default_value = query
    tree.links.new(begin.outputs[0], _input(store, "Geometry"))
    answer = _output(cast, "Is Hit")
    if query == FACE:
        cast.data_type = "INT"
        versions.exact_attribute(cast)
        tree.links.new(_named(tree, FACE, "INT"), _input(cast, "Attribute"))
        choose = tree.nodes.new("GeometryNodeSwitch")
        choose.input_type = "INT"
        tree.links.new(answer, _input(choose, "Switch"))
        _input(choose, "False").default_value = -1
        tree.links.new(_output(cast, "Attribute"), _input(choose, "True"))
        answer = _output(choose, "Output")
    tree.links.new(answer, _input(store, "Value"))
    tree.links.new(_output(store, "Geometry"), end.inputs[0])
    return tree


def _named(tree: bpy.types.NodeTree, name: str, kind: str) -> Any:
    """The output of a node that reads an attribute."""
    node = tree.nodes.new("GeometryNodeInputNamedAttribute")
    node.data_type = kind
    _input(node, "Name").default_value = name
    return _output(node, "Attribute")


def _input(node: Any, identifier: str) -> Any:
    """The socket in use of those of one name: a node for several types has one each. Never by its label."""
    return next(s for s in node.inputs if s.enabled and s.identifier.split("_")[0] == identifier)


def _output(node: Any, identifier: str) -> Any:
    return next(s for s in node.outputs if s.enabled and s.identifier.split("_")[0] == identifier)
