"""The nearest point of triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Vectors = NDArray[np.float64]


def to_origin(corner: Vectors) -> Vectors:
    """(k, 3) the point of each triangle (k, 3, 3) that is nearest to the origin.

    The foot of the perpendicular where that lies inside, else the nearest point of the three edges; of a triangle
    without area, of its edges.
    """
    a, b, c = corner.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    square = np.einsum("ij,ij->i", normal, normal)
    flat = square <= 0.0
    scale = np.divide(1.0, square, out=np.zeros_like(square), where=~flat)
    foot = normal * (np.einsum("ij,ij->i", normal, a) * scale)[:, None]
    inside = ~flat
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= np.einsum("ij,ij->i", np.cross(q - p, foot - p), normal) >= 0
    best, least = foot, np.where(inside, np.einsum("ij,ij->i", foot, foot), np.inf)
    for p, q in ((a, b), (b, c), (c, a)):
        step = q - p
        length = np.einsum("ij,ij->i", step, step)
        along = np.divide(-np.einsum("ij,ij->i", p, step), length, out=np.zeros_like(length), where=length > 0)
        on_edge = p + np.clip(along, 0.0, 1.0)[:, None] * step
        distance = np.einsum("ij,ij->i", on_edge, on_edge)
        nearer = distance < least
        best, least = np.where(nearer[:, None], on_edge, best), np.minimum(least, distance)
    return best
