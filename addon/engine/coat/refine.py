"""Finer triangles where the potential needs them: along edges too long for it, and round a wire's pad.

Splitting moves no point and changes no shape. Every edge is split on all its triangles at once, so the mesh stays
conforming; the Delaunay flips of `laplacian` then remove the slivers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..geometry.triangles import measure
from ..linalg.labels import connected
from ..linalg.sparse import Index, Vector
from ..mesh.topology import Topology
from . import laplacian

MAX_HALVINGS = 60  # halvings that a refinement may take
MAX_ON_CIRCLE_GAP_RADII = 1e-3  # of the radius: a point nearer to the pad's edge than this lies on it
MAX_RIM_CHORD_RADII = 0.25  # of the pad's radius: longest edge at its rim
MAX_EDGE_OVER_DISTANCE = 0.5  # longest edge beside its distance from the pad's centre


@dataclass(frozen=True, eq=False)
class Mesh:
    """Points (v, 3) meters, triangles (m, 3), and the triangle of the part that each is a piece of, owner (m,)."""

    points: Vector
    triangles: NDArray[np.int32]
    owner: NDArray[np.int32]


def split(mesh: Mesh, topology: Topology, edges: Index, places: Vector) -> Mesh:
    """Put a point on each of the edges, at places (k, 3), and cut their triangles into two, three or four."""
    count = len(mesh.points)
    added = np.full(len(topology.edges), -1, dtype=np.int32)
    added[edges] = count + np.arange(len(edges), dtype=np.int32)
    new = np.where(topology.face_edges >= 0, added[topology.face_edges], -1)
    cuts = (new >= 0).sum(axis=1)
    # turned so that the cut edges come first: one cut on edge 0; of two the whole edge is the last
    whole = new < 0
    turn = np.where(cuts == 1, (~whole).argmax(axis=1), np.where(cuts == 2, (whole.argmax(axis=1) + 1) % 3, 0))
    corner = (turn[:, None] + np.arange(3)) % 3
    face = np.arange(len(new))[:, None]
    a, b, c = mesh.triangles[face, corner].T
    p, q, r = new[face, corner].T
    single, double, triple = (np.flatnonzero(cuts == k) for k in (1, 2, 3))
    pieces = [np.flatnonzero(cuts == 0)]
    corners = [mesh.triangles[pieces[0]]]
    for chosen, shapes in (
        (single, ((a, p, c), (p, b, c))),
        (double, ((p, b, q), (a, p, q), (a, q, c))),
        (triple, ((a, p, r), (p, b, q), (r, q, c), (p, q, r))),
    ):
        for shape in shapes:
            pieces.append(chosen)
            corners.append(np.stack([ends[chosen] for ends in shape], axis=1))
    owner = mesh.owner[np.concatenate(pieces)]
    return Mesh(np.vstack([mesh.points, places]), np.vstack(corners).astype(np.int32), owner)


def shorten_edges(mesh: Mesh, topology: Topology, longest: float) -> tuple[Mesh, Topology]:
    """Edges halved until none is longer.

    First those between the part's triangles, and only when they are short enough those within one: after each round
    the pieces of each triangle are joined anew as in a Delaunay triangulation, which needs far fewer points on needles.
    """
    for _ in range(MAX_HALVINGS):
        ends = mesh.points[topology.edges]
        long = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) > longest
        if not long.any():
            break
        owners = mesh.owner[topology.edge_faces]
        border = (topology.edge_faces[:, 1] < 0) | (owners[:, 0] != owners[:, 1])
        chosen = np.flatnonzero(long & border if (long & border).any() else long)
        mesh = _retriangulate(split(mesh, topology, chosen, ends[chosen].mean(axis=1)))
        topology = Topology.of(mesh.triangles, len(mesh.points))
    return mesh, topology


def _retriangulate(mesh: Mesh) -> Mesh:
    """The pieces of each triangle of the part, which lie in one plane, joined as in a Delaunay triangulation."""
    twin = laplacian.twins(mesh.triangles, Topology.of(mesh.triangles, len(mesh.points)))
    owner = np.repeat(mesh.owner, 3)
    twin[(twin >= 0) & (owner != owner[twin])] = -1
    begin = mesh.triangles.reshape(-1).astype(np.intp)
    laplacian.delaunay(begin, laplacian.edge_lengths(mesh.points, mesh.triangles).reshape(-1), twin)
    return replace(mesh, triangles=begin.reshape(-1, 3).astype(np.int32))


def affordable_edge_length(mesh: Mesh, topology: Topology, budget: int) -> float:
    """The shortest limit of an edge's length, in meters, that adds about `budget` triangles at most."""
    ends = mesh.points[topology.edges[:, 1]] - mesh.points[topology.edges[:, 0]]
    lengths = np.sqrt(np.einsum("ij,ij->i", ends, ends))
    area = measure(mesh.points, mesh.triangles).area
    # halving leaves edges from half the limit to all of it: 1.4 times the edge of an even mesh of so many triangles
    limit = 1.4 * float(np.sqrt(2.3 * area.sum() / budget))
    while limit < lengths.max(initial=0.0):
        long = np.flatnonzero((lengths > limit)[topology.face_edges].any(axis=1))
        longest = lengths[topology.face_edges[long]].max(axis=1)
        # along a needle two pieces for each part of its length, over a wide triangle by its area
        added = 2.8 * longest.sum() / limit + 4.6 * area[long].sum() / limit**2
        if added <= 2 * budget:
            break
        limit *= 1.25
    return limit


def points_in_ball(mesh: Mesh, centre: Vector, radius: float, seed: int) -> NDArray[np.bool_]:
    """(v,) the points within `radius` of the centre that are joined to triangle `seed` inside that ball."""
    inside = np.linalg.norm(mesh.points - centre, axis=1) <= radius * (1 + 2 * MAX_ON_CIRCLE_GAP_RADII)
    near = np.flatnonzero(inside[mesh.triangles].any(axis=1))
    corner = mesh.triangles[near]
    number = np.full(len(mesh.points), -1)
    points = np.flatnonzero(inside)
    number[points] = np.arange(len(points))
    a, b = number[corner].reshape(-1), number[np.roll(corner, -1, axis=1)].reshape(-1)
    both = (a >= 0) & (b >= 0)
    label, _ = connected(len(points), a[both], b[both])
    own = number[mesh.triangles[seed]]
    joined = np.isin(label, label[own[own >= 0]])
    out = np.zeros(len(mesh.points), dtype=bool)
    out[points[joined]] = True
    return out


def fit_to_circles(mesh: Mesh, circles: Sequence[tuple[Vector, float]]) -> Mesh:
    """The mesh with edges along the circles (or balls) of pads, and fine enough round each.

    circles : centre (3,) and radius, meters. Near the centre edges are halved until they are shorter than
    MAX_RIM_CHORD_RADII of the radius, or than MAX_EDGE_OVER_DISTANCE of their distance; then every edge that crosses
    the rim gets a point there.
    Cost: one distance a triangle and circle, and work on those near one.
    """
    corner = mesh.points[mesh.triangles]
    middle = corner.mean(axis=1)
    out = corner - middle[:, None]
    reach = np.sqrt(np.einsum("ijk,ijk->ij", out, out).max(axis=1))
    near = np.zeros(len(mesh.triangles), dtype=bool)
    for centre, radius in circles:
        away = np.sqrt(((middle - centre) ** 2).sum(axis=1)) - reach
        near |= away < np.maximum(2.0 * reach / MAX_EDGE_OVER_DISTANCE, 1.5 * radius)
    used, triangles = np.unique(mesh.triangles[near], return_inverse=True)
    part = Mesh(mesh.points[used], triangles.reshape(-1, 3).astype(np.int32), mesh.owner[near])
    for centre, radius in circles:
        part = _grade(part, centre, radius)
        part = _cut_by_circle(part, centre, radius)
    number = np.concatenate([used, len(mesh.points) + np.arange(len(part.points) - len(used))]).astype(np.int32)
    return Mesh(
        np.vstack([mesh.points, part.points[len(used) :]]),
        np.vstack([mesh.triangles[~near], number[part.triangles]]),
        np.concatenate([mesh.owner[~near], part.owner]),
    )


def _grade(mesh: Mesh, centre: Vector, radius: float) -> Mesh:
    for _ in range(MAX_HALVINGS):
        topology = Topology.of(mesh.triangles, len(mesh.points))
        a, b = mesh.points[topology.edges].transpose(1, 0, 2)
        step = b - a
        length = np.linalg.norm(step, axis=1)
        along = np.clip(np.einsum("ij,ij->i", centre - a, step) / np.maximum(length**2, 1e-300), 0.0, 1.0)
        distance = np.linalg.norm(a + along[:, None] * step - centre, axis=1)
        long = np.flatnonzero(length > np.maximum(MAX_RIM_CHORD_RADII * radius, MAX_EDGE_OVER_DISTANCE * distance))
        if not len(long):
            break
        mesh = split(mesh, topology, long, (a[long] + b[long]) / 2)
    return mesh


def _cut_by_circle(mesh: Mesh, centre: Vector, radius: float) -> Mesh:
    topology = Topology.of(mesh.triangles, len(mesh.points))
    beyond = np.linalg.norm(mesh.points - centre, axis=1) - radius
    beyond[np.abs(beyond) < MAX_ON_CIRCLE_GAP_RADII * radius] = 0.0
    low, high = topology.edges.T
    crossing = np.flatnonzero(beyond[low] * beyond[high] < 0)
    a, b = mesh.points[low[crossing]] - centre, mesh.points[high[crossing]] - centre
    step = b - a
    # |a + t step| = radius: one root lies between, for one end is within and the other without
    p, q = np.einsum("ij,ij->i", step, step), np.einsum("ij,ij->i", a, step)
    c = np.einsum("ij,ij->i", a, a) - radius**2
    root = np.sqrt(np.maximum(q * q - p * c, 0.0))
    t = np.where(c < 0, -q + root, -q - root) / p
    return split(mesh, topology, crossing, centre + a + t[:, None] * step)
