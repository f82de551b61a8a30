"""Rounder triangles: edges of a nearly plane pair flipped to the other diagonal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh.topology import Topology
from .quadric import Array, Ints, lines

LEVEL = 0.97  # cosine between triangles that count as one plane for a flip
MIN_FLIP_GAIN = -1e-3  # sum of the cotangents across from an edge, below which it is flipped


def flipped(points: Array, triangles: NDArray[np.int32], label: Ints) -> NDArray[np.int32]:
    """One sweep of edge flips towards rounder triangles (Delaunay), where two triangles are nearly in one plane.

    points : (v, 3); triangles : (m, 3); label : (m,), lines between different ones are kept
    """
    topology = Topology.of(triangles, len(points))
    edge = np.flatnonzero(~lines(label, topology))
    first = topology.half_edges[topology.starts[edge]].astype(np.intp)
    second = topology.half_edges[topology.starts[edge] + 1].astype(np.intp)
    normal, cotangent = _shape(points, triangles)
    corner = triangles.reshape(-1)
    wish = cotangent[first] + cotangent[second]
    candidates = np.flatnonzero(wish < MIN_FLIP_GAIN)
    edge, first, second, wish = edge[candidates], first[candidates], second[candidates], wish[candidates]
    f, g = first // 3, second // 3
    a, b, c = (triangles[f, (first + k) % 3] for k in range(3))
    d = triangles[g, (second + 2) % 3]
    candidates = np.flatnonzero((corner[second] == b) & (c != d))
    edge, f, g, wish = edge[candidates], f[candidates], g[candidates], wish[candidates]
    a, b, c, d = (corner_of[candidates] for corner_of in (a, b, c, d))
    pa, pb, pc, pd = points[a], points[b], points[c], points[d]
    old, twin = normal[f], normal[g]
    new, other = np.cross(pd - pa, pc - pa), np.cross(pb - pd, pc - pd)
    level = np.ones(len(candidates), dtype=bool)
    for u, v in ((old, twin), (old, new), (old, other), (twin, new), (twin, other)):
        level &= (u * v).sum(axis=1) > LEVEL * _long(u) * _long(v)
    wish = np.where(level, wish, 0.0)
    gain = np.zeros(len(topology.edges) + 1)
    gain[edge] = wish
    chosen = level & (wish <= _best(gain, topology, f)) & (wish <= _best(gain, topology, g))
    pick = _apart(topology, chosen, c, d, f, g, len(triangles))
    triangles = triangles.copy()
    triangles[f[pick]] = np.stack([a, d, c], axis=1)[pick]
    triangles[g[pick]] = np.stack([d, b, c], axis=1)[pick]
    return triangles


def _shape(points: Array, triangles: NDArray[np.int32]) -> tuple[Array, Array]:
    """Of triangles (m, 3) normals of twice the area (m, 3), and of each half-edge the cotangent of the angle across
    from it (3m,)."""
    at = np.ascontiguousarray(points.T)
    a, b, c = (np.take(at, corner, axis=1) for corner in triangles.T)
    ab, ac, bc = b - a, c - a, c - b
    normal = np.stack(
        [ab[1] * ac[2] - ab[2] * ac[1], ab[2] * ac[0] - ab[0] * ac[2], ab[0] * ac[1] - ab[1] * ac[0]], axis=1
    )
    at_c, at_a, at_b = (x * u + y * v + z * w for (x, y, z), (u, v, w) in ((ac, bc), (ab, ac), (bc, -ab)))
    return normal, (np.stack([at_c, at_a, at_b], axis=1) / _long(normal)[:, None]).reshape(-1)


def _best(gain: Array, topology: Topology, face: Ints) -> Array:
    """(n,) the least gain of the edges of triangles (n,). gain : (e + 1,), the last that of none"""
    first, second, third = topology.face_edges[face].T
    return np.minimum(np.minimum(gain[first], gain[second]), gain[third])


def _apart(topology: Topology, chosen: NDArray[np.bool_], c: Ints, d: Ints, f: Ints, g: Ints, faces: int) -> Ints:
    """Of the flips chosen (n,) those that make an edge from c to d, (n,) each, which is not there yet, and no two of
    which change the same of the triangles, f and g (n,), of `faces` in all."""
    key = np.sort(np.stack([c, d], axis=1), axis=1).astype(np.int64) @ np.array([topology.points, 1])
    known = topology.edges.astype(np.int64) @ np.array([topology.points, 1])
    at = np.minimum(np.searchsorted(known, key), len(known) - 1)
    chosen = chosen & (known[at] != key)
    _, once = np.unique(np.where(chosen, key, -np.arange(len(key)) - 1), return_index=True)
    only = np.zeros(len(key), dtype=bool)
    only[once] = True
    pick = np.flatnonzero(chosen & only)
    touched = np.bincount(np.append(f[pick], g[pick]), minlength=faces)
    return pick[(touched[f[pick]] == 1) & (touched[g[pick]] == 1)]  # of equal gains neither


def _long(vectors: Array) -> Array:
    return np.maximum(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)), 1e-300)
