"""Triangles that a mesh has more than once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..linalg.labels import connected
from .topology import Topology


class DuplicateFaces(NamedTuple):
    """again : faces with the same points as an earlier one, facing the same way
    walls : both faces of each pair that faces away from itself and stands inside: where two solids touch
    """

    again: NDArray[np.intp]
    walls: NDArray[np.intp]


def duplicate_faces(triangles: NDArray[np.int32], topology: Topology) -> DuplicateFaces:
    """Find triangles with the same three points.

    Two triangles back to back on the same points are either a wall between two solids that touch, which
    no liquid reaches and which the solid does not need; or a fin without thickness, whose two sides the
    liquid wets. A wall is fastened to other triangles on all its rim; a fin ends somewhere.
    """
    face = _candidates(topology)
    none = np.zeros(0, dtype=np.intp)
    if not len(face):
        return DuplicateFaces(none, none)
    corners = triangles[face]
    low = corners.argmin(axis=1)
    a, b, c = (corners[np.arange(len(face)), (low + k) % 3] for k in range(3))
    even = b < c
    order = np.lexsort((face, ~even, np.maximum(b, c), np.minimum(b, c), a))
    face, even = face[order], even[order]
    key = np.stack([a, np.minimum(b, c), np.maximum(b, c)], axis=1)[order]
    new = np.append(True, (key[1:] != key[:-1]).any(axis=1))
    first = np.append(True, new[1:] | (even[1:] != even[:-1]))  # first of its place and way
    again = face[~first]
    place = (np.cumsum(new) - 1)[first]
    face = face[first]
    paired = np.bincount(place)[place] == 2
    pair = face[paired].reshape(-1, 2)
    return DuplicateFaces(again, pair[_fastened(pair, again, topology)].reshape(-1))


def _candidates(topology: Topology) -> NDArray[np.intp]:
    """Faces that share all three edges with some other: at edges of more than two, or two faces alone."""
    a, b, c = topology.face_edges.T
    mix = topology.edge_faces[:, 0] ^ topology.edge_faces[:, 1]  # alike at two edges of a triangle: one neighbor
    twins = np.flatnonzero(mix[a] == mix[b])
    pair = topology.edge_faces[a[twins]]
    twins = twins[(pair == topology.edge_faces[b[twins]]).all(axis=1) & (pair[:, 1] >= 0)]
    if len(topology.non_manifold_edges):
        crowded = np.zeros(len(topology.edges) + 1, dtype=bool)  # one more, for the -1 of a missing edge
        crowded[topology.non_manifold_edges] = True
        twins = np.union1d(twins, np.flatnonzero(crowded[a] & crowded[b] & crowded[c]))
    return twins[(topology.face_edges[twins] >= 0).all(axis=1)]


def _fastened(pair: NDArray[np.intp], again: NDArray[np.intp], topology: Topology) -> NDArray[np.bool_]:
    """(p,) whether the patch of pairs that a pair belongs to has no free rim."""
    if not len(pair):
        return np.zeros(0, dtype=bool)
    edges = topology.face_edges[pair[:, 0]]
    edge, place = np.unique(edges, return_inverse=True)
    place = place.reshape(edges.shape)
    pairs_at = np.bincount(place.ravel())
    faces_at = np.diff(topology.starts)[edge]
    faces_at = faces_at - np.bincount(
        np.searchsorted(edge, np.intersect1d(topology.face_edges[again], edge)), minlength=len(edge)
    )
    node = len(pair) + place
    patch, patches = connected(len(pair) + len(edge), np.repeat(np.arange(len(pair)), 3), node.reshape(-1))
    patch = patch[: len(pair)]
    loose = ((pairs_at == 1) & (faces_at == 2))[place].any(axis=1)
    return ~(np.bincount(patch, loose, minlength=patches) > 0)[patch]
