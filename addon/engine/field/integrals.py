"""Exact integrals of 1/r and of its normal derivative over flat triangles.

With a field point x, let h be its height over the triangle's plane, s_k the signed distance in that plane from x to edge k
(positive inside), L_k the edge's length, r_k the distances to its ends, and W the signed solid angle that the triangle
fills as seen from x (positive on the side of the normal). Then

    integral dA / |x - y|               = sum_k s_k ln((r_k + r_k+1 + L_k) / (r_k + r_k+1 - L_k)) - h W
    integral d/dn_y (1 / |x - y|) dA    = W

Sources: D. R. Wilton et al., IEEE Trans. Antennas Propag. 32 (1984) 276 (the potential; the logarithm is written
with the perimeter, which loses no digits); A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125
(the solid angle). Both from memory; tests/engine/test_field_layers.py compares them with adaptive quadrature.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Triangles:
    """What the integrals need of flat triangles.

    corners : (n, 3, 3) metres, counter-clockwise seen from the side that the normal points to
    edge : (n, 3) length of the edge from corner k to corner k + 1, metres
    outward : (n, 3, 3) unit normal of edge k, in the triangle's plane and pointing out of it
    """

    corners: Array
    edge: Array
    outward: Array
    normal: Array
    area: Array

    @classmethod
    def of(cls, corners: Array) -> Triangles:
        """From corners (n, 3, 3), none of them degenerate."""
        along = np.roll(corners, -1, axis=1) - corners
        edge = np.sqrt(np.einsum("ijk,ijk->ij", along, along))
        cross = np.cross(along[:, 0], along[:, 1])
        double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
        normal = cross / double[:, None]
        outward = np.cross(along, normal[:, None]) / edge[..., None]
        return cls(corners, edge, outward, normal, 0.5 * double)

    def take(self, rows: NDArray[np.intp]) -> Triangles:
        """The triangles of the given rows, repeats allowed."""
        return Triangles(self.corners[rows], self.edge[rows], self.outward[rows], self.normal[rows], self.area[rows])


def layers(points: Array, triangles: Triangles) -> tuple[Array, Array]:
    """Integrals of 1/r and of d/dn_y (1/r), point i with triangle i. Lengths (n,), metres and steradian.

    points : (n, 3) metres. On the triangle's own plane the second integral is zero, its principal value.
    """
    to = triangles.corners - points[:, None]
    r = np.sqrt(np.einsum("ijk,ijk->ij", to, to))
    s = np.einsum("ijk,ijk->ij", to, triangles.outward)
    h = -np.einsum("ij,ij->i", to[:, 0], triangles.normal)
    ends = r + r[:, [1, 2, 0]]
    square = triangles.edge**2
    short = np.maximum(ends - triangles.edge, np.finfo(float).tiny)
    logs = np.einsum("ij,ij->i", s, np.log((ends + triangles.edge) / short))
    # a . b = (|a|^2 + |b|^2 - |a - b|^2) / 2, so the solid angle needs lengths only
    r2 = r * r
    dots = 0.5 * (r2 + r2[:, [1, 2, 0]] - square)
    below = r[:, 0] * r[:, 1] * r[:, 2] + np.einsum("ij,ij->i", dots, r[:, [2, 0, 1]])
    angle = 2.0 * np.arctan2(2.0 * triangles.area * h, below)
    angle[np.abs(h) <= 1e-12 * triangles.edge.max(axis=1)] = 0.0
    return logs - h * angle, angle
