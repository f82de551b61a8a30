"""Pairs of panels that are too near for expansions: how finely each is integrated.

By distance, in units of the source panel's reach (its centroid to its farthest corner): up to 2.5 exact, up
to 5 six points, beyond three points. A whole leaf is taken at once with three points in single precision,
and its nearer pairs are put in afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .integrals import Triangles, layers

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]

EXACT, SIX = 2.5, 5.0  # reaches
_CHUNK = 4096

THREE_POINTS = np.array([[4, 1, 1], [1, 4, 1], [1, 1, 4]]) / 6.0  # barycentric, equal weights, degree 2


def _six_points() -> tuple[Array, Array]:
    """Barycentric points and weights of degree 4: D. A. Dunavant, Int. J. Numer. Methods Eng. 21 (1985) 1129
    (from memory; a test integrates all monomials)."""
    rows, weights = [], []
    for a, weight in ((0.108103018168070, 0.223381589678011), (0.816847572980459, 0.109951743655322)):
        rows += [np.roll([a, (1 - a) / 2, (1 - a) / 2], k) for k in range(3)]
        weights += [weight] * 3
    return np.array(rows), np.array(weights)


SIX_POINTS, SIX_WEIGHTS = _six_points()


@dataclass(frozen=True, eq=False)
class Panels:
    """Source panels with their integration points, the last axis running over the panels.

    triangles : as the exact integrals want them
    centroid : (3, n); reach : (n,) metres
    three, six : (points, 3, n) integration points
    """

    triangles: Triangles
    centroid: Array
    reach: Array
    three: Array
    six: Array

    @classmethod
    def of(cls, corners: Array) -> Panels:
        """From corners (n, 3, 3)."""
        triangles = Triangles.of(corners)
        c = triangles.corners
        centroid = c.mean(axis=0)
        reach = np.sqrt(((c - centroid) ** 2).sum(axis=1)).max(axis=0)
        return cls(triangles, centroid, reach, *(np.tensordot(p, c, 1) for p in (THREE_POINTS, SIX_POINTS)))


def block(points: Array, panels: Panels, columns: Ints) -> tuple[Single, Single, NDArray[np.bool_]]:
    """S and D (m, k) by three points, at points (m, 3), and which pairs are nearer than that is good for.

    Those entries are zero.
    """
    middle = points.mean(axis=0)
    x = (points - middle).astype(np.float32)
    y = (panels.three[:, :, columns] - middle[:, None]).astype(np.float32)
    normal = panels.triangles.normal[:, columns].astype(np.float32)
    weight = (panels.triangles.area[columns] / (12 * np.pi)).astype(np.float32)
    square = single = double = height = 0.0
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for k in range(3):
            d = [x[:, axis, None] - y[k, axis] for axis in range(3)]
            if k == 0:  # a point's height over the panel's plane
                height = d[0] * normal[0] + d[1] * normal[1] + d[2] * normal[2]
            r2 = d[0] * d[0] + d[1] * d[1] + d[2] * d[2]
            square = square + r2
            inverse = 1.0 / np.sqrt(r2)
            single = single + inverse
            double = double + inverse * inverse * inverse
        single *= weight
        double *= height * weight
    near = square < (3 * (SIX * panels.reach[columns]) ** 2).astype(np.float32)
    single[near] = 0.0
    double[near] = 0.0
    return single, double, near


def close(points: Array, panels: Panels, rows: Ints) -> tuple[Array, Array]:
    """S and D of near pairs, (m,) each: point i of (m, 3) with panel rows[i]."""
    apart = np.sqrt(((points.T - panels.centroid[:, rows]) ** 2).sum(axis=0))
    exact = apart < EXACT * panels.reach[rows]
    single, double = np.empty(len(rows)), np.empty(len(rows))
    single[exact], double[exact] = layers(points[exact], panels.triangles, rows[exact])
    rest = np.flatnonzero(~exact)
    for start in range(0, len(rest), _CHUNK):
        part = rest[start : start + _CHUNK]
        single[part], double[part] = _six(points[part].T, panels, rows[part])
    return single / (4 * np.pi), double / (4 * np.pi)


def _six(x: Array, panels: Panels, rows: Ints) -> tuple[Array, Array]:
    d = x - panels.six[..., rows]
    inverse = 1.0 / np.sqrt(d[:, 0] ** 2 + d[:, 1] ** 2 + d[:, 2] ** 2)
    area = panels.triangles.area[rows]
    normal = panels.triangles.normal[:, rows]
    height = d[0, 0] * normal[0] + d[0, 1] * normal[1] + d[0, 2] * normal[2]
    return area * (SIX_WEIGHTS @ inverse), area * height * (SIX_WEIGHTS @ inverse**3)
