"""Conductances between the points of a triangulated sheet of one ohm a square: the cotangent weights.

Linear elements on a triangle make it a network: between two of its corners lies half the cotangent of the angle at the
third. Obtuse and sliver triangles spoil that network (negative conductances, slow solvers, poor accuracy). The remedy
is to flip edges *within the surface* until the triangulation is Delaunay: points and shape stay as they are, only the
connectivity changes, and every inner conductance becomes >= 0.

Sources: U. Pinkall and K. Polthier, Experimental Mathematics 2 (1993) 15 (weights); A. Bobenko and B. Springborn,
Discrete and Computational Geometry 38 (2007) 740 (intrinsic Delaunay Laplacian); N. Sharp and K. Crane, Computer
Graphics Forum 39 (2020) 69 (lengthening of degenerate triangles); all from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..linalg.sparse import Graph, Index, Vector
from ..mesh.topology import Topology

MIN_EXCESS_OVER_EDGE = 1e-6  # of the mean edge: how far every triangle is kept from having no area
DELAUNAY_TOLERANCE = 1e-8  # a sum of two cotangents above minus this counts as Delaunay
MAX_FLIP_ROUNDS = 1000  # far more than any mesh needs: each round flips an independent set of edges


def network(points: Vector, triangles: NDArray[np.int32], topology: Topology, *, sides: Vector | None = None) -> Graph:
    """Conductances between the points of a sheet of one ohm a square; (e,) pairs, siemens.

    points : (v, 3) meters; triangles : (m, 3), of any shape, degenerate ones included; topology : theirs
    sides : (m,) how many coats lie on each triangle (2 on a sheet that is coated on both sides); where it is not the
        same everywhere, edges between different numbers stay as they are
    Exact for potentials that are linear on each triangle of the Delaunay triangulation; elsewhere second order.
    """
    lengths = edge_lengths(points, triangles)
    begin, twin = triangles.reshape(-1).astype(np.intp), twins(triangles, topology)
    if sides is not None:
        face = np.arange(len(begin)) // 3
        twin[(twin >= 0) & (sides[face] != sides[face[twin]])] = -1
    cotangent = delaunay(begin, lengths.reshape(-1), twin)
    if sides is not None:
        cotangent *= np.repeat(sides, 3)
    half = np.flatnonzero(twin < np.arange(len(twin)))  # one of each edge
    weight = 0.5 * (cotangent[half] + np.where(twin[half] >= 0, cotangent[twin[half]], 0.0))
    return Graph.of(begin[half], begin[_after(half)], weight, len(points))


def edge_lengths(points: Vector, triangles: NDArray[np.int32]) -> Vector:
    """(m, 3) meters: from corner k to corner k + 1, all lengthened alike where a triangle is degenerate."""
    corner = triangles.T.astype(np.intp)
    square = np.zeros((3, len(triangles)))
    for axis in np.ascontiguousarray(points.T):
        place = axis[corner]
        for k in range(3):
            step = place[(k + 1) % 3] - place[k]
            step *= step
            square[k] += step
    a, b, c = lengths = np.sqrt(square, out=square)
    excess = 2 * np.maximum(np.maximum(a, b), c) - (a + b + c)  # 0 where the three points are collinear
    lack = excess.max(initial=-np.inf) + MIN_EXCESS_OVER_EDGE * lengths.mean()
    return np.ascontiguousarray(lengths.T) + max(lack, 0.0)


def delaunay(begin: Index, length: Vector, twin: Index) -> Vector:
    """Flip edges until no two angles across one exceed half a turn together.

    Half-edge 3 f + k runs from corner k of triangle f to the next. begin : (3 m,) its first point; length : (3 m,)
    meters; twin : (3 m,) the half-edge on its other side, -1 where the edge must stay. All three are changed in place.
    Returns the cotangent of the angle across each half-edge.
    """
    cotangent = _cotangents(length.reshape(-1, 3)).reshape(-1)
    moved, claim = np.arange(len(begin)), np.full(len(begin) // 3, -1)
    watch = np.flatnonzero(twin > np.arange(len(begin)))
    for _ in range(MAX_FLIP_ROUNDS):
        across = cotangent[watch] + cotangent[twin[watch]]
        obtuse = np.flatnonzero(across < -DELAUNAY_TOLERANCE)
        # a triangle folded onto itself is left alone
        obtuse = obtuse[watch[obtuse] // 3 != twin[watch[obtuse]] // 3]
        if not len(obtuse):
            break
        # the worst last: it claims both its triangles
        obtuse = watch[obtuse[np.argsort(-across[obtuse], kind="stable")]]
        faces = np.stack([obtuse, twin[obtuse]], axis=1) // 3
        place = np.arange(len(obtuse))
        claim[faces.reshape(-1)] = np.repeat(place, 2)
        chosen = (claim[faces] == place[:, None]).all(axis=1)
        h = obtuse[chosen]
        touched = _flip(h, begin, length, twin, moved)
        cotangent.reshape(-1, 3)[touched] = _cotangents(length.reshape(-1, 3)[touched])
        watch = np.concatenate([obtuse[~chosen], (3 * touched[:, None] + np.arange(3)).reshape(-1)])
        watch = np.minimum(watch, twin[watch])
        watch = watch[watch >= 0]
    return cotangent


def _flip(h: Index, begin: Index, length: Vector, twin: Index, moved: Index) -> Index:
    """Turn the edges of the half-edges h in their quadrilaterals, no two of which share a triangle.

    With h from i to j, k across it and l on the other side, triangles i j k and j i l become l j k and k i l.
    Returns the triangles changed.
    """
    g = twin[h]
    jk, ki, il, lj = _after(h), _after(_after(h)), _after(g), _after(_after(g))
    near, far = 3 * (h // 3), 3 * (g // 3)
    # the quadrilateral laid flat: i at the origin, j along x, k above and l below
    side = length[h]
    kx = (side**2 + length[ki] ** 2 - length[jk] ** 2) / (2 * side)
    lx = (side**2 + length[il] ** 2 - length[lj] ** 2) / (2 * side)
    ky = np.sqrt(np.maximum(length[ki] ** 2 - kx**2, 0.0))
    ly = np.sqrt(np.maximum(length[il] ** 2 - lx**2, 0.0))
    diagonal = np.hypot(kx - lx, ky + ly)
    old = np.concatenate([lj, jk, ki, il])
    new = np.concatenate([near, near + 1, far, far + 1])
    ends, spans, others = begin[old], length[old], twin[old]
    k, l_ = begin[ki], begin[lj]
    moved[old] = new
    others = np.where(others >= 0, moved[others], -1)
    moved[old] = old
    begin[new], length[new], twin[new] = ends, spans, others
    known = others >= 0
    twin[others[known]] = new[known]
    begin[near + 2], begin[far + 2] = k, l_
    length[near + 2] = length[far + 2] = diagonal
    twin[near + 2], twin[far + 2] = far + 2, near + 2
    return np.concatenate([near, far]) // 3


def _cotangents(lengths: Vector) -> Vector:
    """(m, 3) cotangent of the angle across each edge, from (m, 3) lengths."""
    a, b, c = lengths.T
    long, short = np.maximum(np.maximum(a, b), c), np.minimum(np.minimum(a, b), c)
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    # Kahan's order of Heron's formula: exact to rounding on slivers
    left = short - (long - middle)
    product = (long + (middle + short)) * left * (short + (long - middle)) * (long + (middle - short))
    scale = 1.0 / np.sqrt(np.maximum(product, 1e-300))  # 1 / (4 area)
    squares = lengths * lengths
    half = 0.5 * squares.sum(axis=1)
    return (half[:, None] - squares) * (2.0 * scale)[:, None]


def twins(triangles: NDArray[np.int32], topology: Topology) -> Index:
    """(3 m,) the half-edge on the other side; -1 on open edges, where more than two triangles meet, and where the
    two are wound against each other."""
    twin = np.full(triangles.size, -1, dtype=np.intp)
    first = topology.starts[:-1][np.diff(topology.starts) == 2]
    a, b = topology.half_edges[first], topology.half_edges[first + 1]
    begin = triangles.reshape(-1)
    fair = begin[a] != begin[b]
    a, b = a[fair], b[fair]
    twin[a], twin[b] = b, a
    return twin


def _after(half: Index) -> Index:
    """The next half-edge of the same triangle."""
    return half + np.where(half % 3 == 2, -2, 1)
