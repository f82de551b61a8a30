"""Quadric error metric: how far a point may move off the planes it represents, and how quadrics combine when points
are joined.

The cost of a place is its mean squared distance from the planes that a point stood for (M. Garland and P. S. Heckbert,
Proc. SIGGRAPH 97, 209: quadric error; from memory). A quadric is eleven numbers: the symmetric matrix, vector and
constant of the planes, each by its weight, and the weights' sum.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh.topology import Topology

Array = NDArray[np.float64]
Ints = NDArray[np.integer]

TERMS = 11
TINY_M2 = 1e-30  # twice the area of a triangle that has no plane


def lines(label: Ints, topology: Topology) -> NDArray[np.bool_]:
    """(e,) edges that are no more than passed along: open ones, those of three triangles, those between labels (m,)."""
    left, right = topology.edge_faces.T
    line = (right < 0) | (label[left] != label[right])
    line[topology.non_manifold_edges] = True
    return line


def quadrics(points: Array, triangles: NDArray[np.int32], label: Ints, topology: Topology) -> Array:
    """(11, v): the planes of each point's triangles by area, and walls along lines, which hold these in place.

    points : (v, 3) meters; triangles : (m, 3); label : (m,)
    """
    a, b, c = (points[triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    normal = cross / np.maximum(double, TINY_M2)[:, None]
    out = np.empty((TERMS, len(points)))
    corner = triangles.reshape(-1)
    for k, column in enumerate(_plane(normal, a, 0.5 * double)):
        out[k] = np.bincount(corner, np.repeat(column, 3), minlength=len(points))
    line = np.flatnonzero(lines(label, topology))
    low, high = topology.edges[line].T
    along = points[high] - points[low]
    across = np.cross(along, normal[topology.edge_faces[line, 0]])
    length = np.sqrt(np.einsum("ij,ij->i", along, along))
    wall = _plane(across / np.maximum(length, 1e-300)[:, None], points[low], length**2)
    for k, column in enumerate(wall):
        out[k] += np.bincount(np.append(low, high), np.tile(column, 2), minlength=len(points))
    return out


def _plane(normal: Array, point: Array, weight: Array) -> list[Array]:
    """The eleven terms, (n,) each, of planes through points (n, 3)."""
    x, y, z = normal.T
    d = -np.einsum("ij,ij->i", normal, point)
    terms = (x * x, x * y, x * z, y * y, y * z, z * z, x * d, y * d, z * d, d * d)
    return [*(weight * term for term in terms), weight]


def gather(quadric: Array, moved: Ints, target: Ints) -> None:
    """Add the quadrics of the points that moved to those of the points they moved onto, in place."""
    order = np.argsort(target, kind="stable")
    target, moved = target[order], moved[order]
    new = np.append(True, target[1:] != target[:-1])
    onto, group = target[new], np.cumsum(new) - 1
    for row in quadric:
        row[onto] += np.bincount(group, row[moved])


def cost(quadric: Array, of: Ints, place: tuple[Array, Array, Array]) -> Array:
    """(n,) m2, the mean squared distance of places, x, y and z (n,) each, from the planes of points `of` (n,)."""
    q = [row[of] for row in quadric]
    x, y, z = place
    value = x * (q[0] * x + 2 * (q[1] * y + q[2] * z + q[6])) + y * (q[3] * y + 2 * (q[4] * z + q[7]))
    value += z * (q[5] * z + 2 * q[8]) + q[9]
    return np.maximum(value, 0.0) / np.maximum(q[10], 1e-300)
