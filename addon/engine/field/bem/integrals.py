"""Exact integrals of 1/r and of its normal derivative over flat triangles.

From a field point x, let h be its height over the triangle's plane, s_k the signed distance in that plane
from x to edge k (positive inside), L_k the edge's length, r_k the distances to its ends, and W the solid
angle that the triangle fills (positive on the side of the normal). Then

    integral dA / |x - y|            = sum_k s_k ln((r_k + r_k+1 + L_k) / (r_k + r_k+1 - L_k)) - h W
    integral d/dn_y (1 / |x - y|) dA = W

Sources, both from memory: D. R. Wilton et al., IEEE Trans. Antennas Propag. 32 (1984) 276 for the potential
(the logarithm written with the perimeter, which loses no digits); A. van Oosterom and J. Strackee, IEEE
Trans. Biomed. Eng. 30 (1983) 125 for the solid angle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_PAIRS_PER_BATCH = 2048  # pairs at a time: the temporaries stay in the processor's cache
_MAX_PLANE_OFFSET = 1e-12  # of the triangle's size: nearer to its plane is on its plane


@dataclass(frozen=True, eq=False)
class Triangles:
    """Flat triangles with what the integrals need of them.

    normal : (n, 3); area : (n,) m2
    table : (n, 25): corners, unit normals of the edges in the plane and pointing out of it, the normal, lengths
        of the edges (corner k to k + 1), twice the area
    """

    normal: Array
    area: Array
    table: Array

    @classmethod
    def of(cls, corners: Array) -> Triangles:
        """From corners (n, 3, 3), counter-clockwise seen from the side the normal points to.

        A triangle without area raises ValueError.
        """
        along = corners[:, [1, 2, 0]] - corners
        edge = np.sqrt(np.einsum("ijk,ijk->ij", along, along))
        cross = np.cross(along[:, 0], along[:, 1])
        twice = np.sqrt(np.einsum("ij,ij->i", cross, cross))
        degenerate = np.flatnonzero(~(twice > 1e-13 * edge.max(axis=1) ** 2))
        if len(degenerate):
            raise ValueError(f"{len(degenerate)} panels have no area; the first is panel {degenerate[0]}")
        normal = cross / twice[:, None]
        outward = np.cross(along, normal[:, None]) / edge[..., None]
        n = len(corners)
        table = np.concatenate([corners.reshape(n, 9), outward.reshape(n, 9), normal, edge, twice[:, None]], axis=1)
        return cls(normal, 0.5 * twice, table)


def layers(points: Array, triangles: Triangles, rows: NDArray[np.intp]) -> tuple[Array, Array]:
    """Integrals of 1/r (meters) and of d/dn_y (1/r) (steradian), pair by pair, each (m,).

    points : (m, 3) meters; rows : (m,) the triangle that goes with each point
    On a triangle's own plane the second integral takes its principal value, zero.
    """
    potential, angle = np.empty(len(rows)), np.empty(len(rows))
    for start in range(0, len(rows), _PAIRS_PER_BATCH):
        part = slice(start, start + _PAIRS_PER_BATCH)
        table = np.ascontiguousarray(triangles.table.take(rows[part], axis=0).T)
        potential[part], angle[part] = _layers(np.ascontiguousarray(points[part].T), table)
    return potential, angle


def _layers(x: Array, table: Array) -> tuple[Array, Array]:
    """x : (3, m); table : (25, m), as in Triangles."""
    after = [1, 2, 0]
    to = table[:9].reshape(3, 3, -1)
    to -= x
    outward, normal, edge, twice = table[9:18].reshape(3, 3, -1), table[18:21], table[21:24], table[24]
    h = -(to[0] * normal).sum(axis=0)
    outward *= to
    s = outward[:, 0] + outward[:, 1] + outward[:, 2]
    to *= to
    r2 = to[:, 0] + to[:, 1] + to[:, 2]
    r = np.sqrt(r2)
    ends = r + r[after]
    logs = np.log((ends + edge) / np.maximum(ends - edge, np.finfo(float).tiny))
    potential = (s * logs).sum(axis=0)
    # a . b = (a2 + b2 - |a - b|2) / 2: the solid angle's cosine needs lengths alone
    dots = 0.5 * (r2 + r2[after] - edge * edge)
    cosine = r[0] * r[1] * r[2] + dots[0] * r[2] + dots[1] * r[0] + dots[2] * r[1]
    angle = 2.0 * np.arctan2(twice * h, cosine)
    angle[np.abs(h) <= _MAX_PLANE_OFFSET * edge.max(axis=0)] = 0.0
    return potential - h * angle, angle
