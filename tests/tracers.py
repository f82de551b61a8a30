"""A ray caster of an independent library, for tests and benchmarks."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import igl
import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

if TYPE_CHECKING:
    from addon.engine.mesh.surface import Surface

SPAN = 100.0  # the scene is scaled to this length, where embree's single precision is at home


class EmbreeTracer:
    """The engine's `Tracer`, answered by embree (Apache-2.0) through embreex, distances by libigl (MPL-2.0).

    Which triangle is hit comes from embree in single precision; the distance is worked out again in
    double precision on that triangle's plane.
    """

    def __init__(self, surface: Surface) -> None:
        self._surface = surface

    @cached_property
    def _middle(self) -> NDArray[np.float64]:
        return self._surface.bounds.mean(axis=0)

    @cached_property
    def _scale(self) -> float:
        return SPAN / self._surface.size

    @cached_property
    def _corners(self) -> NDArray[np.float64]:
        return self._surface.corners

    @cached_property
    def _mesh(self) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        return self._surface.points, self._surface.triangles.astype(np.int64)

    @cached_property
    def _scene(self) -> EmbreeScene:
        """Built at the first ray, as the host's is: who asks for none does not pay."""
        scene = EmbreeScene()
        points = ((self._surface.points - self._middle) * self._scale).astype(np.float32)
        TriangleMesh(scene=scene, vertices=points, indices=self._surface.triangles.astype(np.int32))
        return scene

    def _cast(self, origins: NDArray[np.float64], directions: NDArray[np.float64], query: str) -> NDArray[np.int32]:
        # a zero direction makes embree hang on to its last hit
        assert (np.einsum("ij,ij->i", directions, directions) > 0).all(), "a ray has no direction"
        return self._scene.run(
            ((origins - self._middle) * self._scale).astype(np.float32),
            np.ascontiguousarray(directions, dtype=np.float32),
            query=query,
        )

    def first_hit(
        self, origins: NDArray[np.float64], directions: NDArray[np.float64]
    ) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
        face = self._cast(origins, directions, "INTERSECT")
        hit = np.flatnonzero(face >= 0)
        a, b, c = self._corners[face[hit]].transpose(1, 0, 2)
        across = np.cross(b - a, c - a)
        unit = directions[hit] / np.linalg.norm(directions[hit], axis=1, keepdims=True)
        along = np.einsum("ij,ij->i", across, unit)
        rise = np.einsum("ij,ij->i", across, a - origins[hit])
        distance = np.full(len(face), np.inf)
        distance[hit] = np.divide(rise, along, out=np.zeros(len(hit)), where=along != 0)
        return face, np.maximum(distance, 0.0)

    def blocked(self, origins: NDArray[np.float64], directions: NDArray[np.float64]) -> NDArray[np.bool_]:
        return self._cast(origins, directions, "OCCLUDED") >= 0

    def nearest(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.sqrt(igl.point_mesh_squared_distance(np.ascontiguousarray(points), *self._mesh)[0])
