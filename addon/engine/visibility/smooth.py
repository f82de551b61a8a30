"""Normals and colors at the corners of triangles, averaged over all but sharp edges, so that a curve looks round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..linalg.labels import connected
from ..linalg.sparse import added
from ..mesh.surface import Surface

SHARP_EDGE_DEG = 40.0  # normals that differ by more are not averaged: below the 45 degrees of a prism of eight sides


@dataclass(frozen=True, eq=False)
class Smooth:
    """Normals over the triangles that are seen from one side, as the viewer sees them, turned to that side.

    row : (m,) where a triangle stands in what follows; origin : (k, 2) its first corner, meters along right and up
    gradient : (k, 2, 2) of the second and the third barycentric coordinate, 1/m; normal : (k, 3, 3) at the corners
    """

    row: NDArray[np.int32]
    origin: NDArray[np.float64]
    gradient: NDArray[np.float64]
    normal: NDArray[np.float64]

    def at(self, face: NDArray[np.intp], place: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 3) unit normals of triangles `face` (n,) at `place` (n, 2), beyond an edge those of the edge."""
        normal = self.mixed(self.normal, face, place)
        return normal / np.linalg.norm(normal, axis=1, keepdims=True)

    def mixed(
        self, corner: NDArray[np.float64], face: NDArray[np.intp], place: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """(n, c) what corners (k, 3, c) of the triangles have, at `place` (n, 2) of triangles `face` (n,)."""
        row = self.row[face]
        second = np.einsum("nij,nj->ni", self.gradient[row], place - self.origin[row])
        weight = np.maximum(np.column_stack([1.0 - second.sum(axis=1), second]), 0.0)
        return np.einsum("nk,nkc->nc", weight / weight.sum(axis=1, keepdims=True), corner[row])


def seen(surface: Surface, faces: NDArray[np.intp], turn: NDArray[np.float64]) -> Smooth:
    """Of `faces` (k,), each of positive area. turn : (3, 3) rows right, up and toward the viewer."""
    row = np.zeros(len(surface.triangles), dtype=np.int32)
    row[faces] = np.arange(len(faces))
    across = surface.corners[faces] @ turn[:2].T
    u, v = across[:, 1] - across[:, 0], across[:, 2] - across[:, 0]
    twice = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    turned = np.stack([np.stack([v[:, 1], -v[:, 0]], axis=1), np.stack([-u[:, 1], u[:, 0]], axis=1)], axis=1)
    shown = (twice != 0)[:, None, None]
    gradient = np.divide(turned, twice[:, None, None], out=np.zeros_like(turned), where=shown)
    side = np.where(surface.normal[faces] @ turn[2] < 0, -1.0, 1.0)
    return Smooth(row, across[:, 0], gradient, side[:, None, None] * (corner_normals(surface, faces) @ turn.T))


def corner_normals(surface: Surface, faces: NDArray[np.intp]) -> NDArray[np.float64]:
    """(k, 3, 3) unit normals at the corners of `faces` (k,), each of positive area.

    At a corner, the triangles that are reached round its point without crossing a sharp edge are averaged, each by its
    angle there (G. Thuermer and C. A. Wuethrich, J. Graphics Tools 3 (1998) 43; from memory).
    """
    totals = _totals(surface, faces, surface.normal, np.zeros(len(surface.triangles), dtype=np.intp))
    length = np.linalg.norm(totals, axis=-1, keepdims=True)
    flat = np.broadcast_to(surface.normal[faces, None], totals.shape)
    return np.where(length > 0, np.divide(totals, length, out=flat.copy(), where=length > 0), flat)


def corner_means(
    surface: Surface, faces: NDArray[np.intp], values: NDArray[np.float64], kind: NDArray[np.intp]
) -> NDArray[np.float64]:
    """(k, 3, c) means of values (m, c) at the corners of `faces` (k,), over the triangles that `corner_normals`
    averages, each by its angle there, of the same `kind` (m,) from 0 as the triangle itself."""
    totals = _totals(surface, faces, np.column_stack([values, np.ones(len(values))]), kind)
    return np.asarray(totals[..., :-1] / totals[..., -1:])


def _totals(
    surface: Surface, faces: NDArray[np.intp], values: NDArray[np.float64], kind: NDArray[np.intp]
) -> NDArray[np.float64]:
    """(k, 3, c) sums over the triangles of one kind round each corner, each by its angle there."""
    triangles = surface.triangles
    near = np.zeros(len(surface.points), dtype=bool)
    near[triangles[faces]] = True
    a, b = _joined(surface, near)
    group, count = connected(triangles.size, a, b)
    kinds = int(kind.max()) + 1
    place = kinds * group.reshape(-1, 3) + kind[:, None]
    chosen = np.flatnonzero(near[triangles].any(axis=1) & (surface.area > 0))
    weight = _angles(surface.corners[chosen])
    total = [
        added(place[chosen].reshape(-1), (weight * column[chosen, None]).reshape(-1), kinds * count)
        for column in values.T
    ]
    return np.stack(total, axis=-1)[place[faces]]


def _joined(surface: Surface, near: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of corners (3 x triangle + corner) that meet in a point of `near` over an edge that is not sharp."""
    topology = surface.topology
    first, second = topology.edge_faces.T
    retained = (second >= 0) & near[topology.edges].any(axis=1)
    retained[topology.non_manifold_edges] = False
    edges, first, second = topology.edges[retained], first[retained], second[retained]
    bend = np.einsum("ij,ij->i", surface.normal[first], surface.normal[second])
    retained = bend >= np.cos(np.radians(SHARP_EDGE_DEG))
    edges, both = edges[retained], (first[retained], second[retained])
    a, b = (
        np.concatenate([3 * face + (surface.triangles[face] == edges[:, [end]]).argmax(axis=1) for end in range(2)])
        for face in both
    )
    return a.astype(np.intp), b.astype(np.intp)


def _angles(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, 3) radians inside triangles (k, 3, 3)."""
    ahead = np.roll(corners, -1, axis=1) - corners
    back = np.roll(corners, 1, axis=1) - corners
    cosine = (ahead * back).sum(axis=-1)
    sine = np.linalg.norm(np.cross(ahead, back), axis=-1)
    return np.arctan2(sine, cosine)
