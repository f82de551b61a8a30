"""Panels that are too near for expansions: how finely each is integrated.

By the distance of a panel's centroid, in units of its reach (centroid to farthest corner): exact integrals
next to it, then six points, and three points farther out. Whole groups of points are taken at once, with
their squared distances from one matrix product; the few exact pairs are put in afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .integrals import Triangles

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]

_SPREAD = 40.0  # reaches: the widest group of points in single precision
_TOUCH = np.float32(1e-24)  # m2: a point on an integration point
_ENTRIES = 25_000  # distances at a time: they stay in the processor's cache


class Zones(NamedTuple):
    """Up to which distance, in reaches, a panel is integrated exactly, and by six points."""

    exact: float
    six: float


def _rule(*orbits: tuple[float, float]) -> tuple[Array, Array]:
    """Barycentric points (q, 3) and weights (q,): each orbit (a, weight) has (a, b, b), b = (1 - a) / 2, turned."""
    points = [np.roll([a, (1 - a) / 2, (1 - a) / 2], k) for a, _ in orbits for k in range(3)]
    return np.array(points), np.repeat([weight for _, weight in orbits], 3)


# degrees 2 and 4: D. A. Dunavant, Int. J. Numer. Methods Eng. 21 (1985) 1129, from memory; a test has the monomials
THREE = _rule((2 / 3, 1 / 3))
SIX = _rule((0.108103018168070, 0.223381589678011), (0.816847572980459, 0.109951743655322))


@dataclass(frozen=True, eq=False)
class Panels:
    """Source panels, ready to be integrated.

    triangles : for the exact integrals
    centroid, normal : (n, 3); area, reach : (n,)
    three, six : (points, n, 3) integration points
    """

    triangles: Triangles
    centroid: Array
    normal: Array
    area: Array
    reach: Array
    three: Array
    six: Array

    @classmethod
    def of(cls, corners: Array) -> Panels:
        """From corners (n, 3, 3)."""
        triangles = Triangles.of(corners)
        centroid = corners.mean(axis=1)
        reach = np.sqrt(((corners - centroid[:, None]) ** 2).sum(axis=2)).max(axis=1)
        points = (np.ascontiguousarray(np.einsum("qc,nck->qnk", rule[0], corners)) for rule in (THREE, SIX))
        return cls(triangles, centroid, triangles.normal, triangles.area, reach, *points)

    @property
    def memory(self) -> int:
        """Bytes."""
        arrays = (self.triangles.table, self.centroid, self.normal, self.area, self.reach, self.three, self.six)
        return sum(a.nbytes for a in arrays)


class Group:
    """Points (m, 3) that lie together, and how panels act on them."""

    def __init__(self, points: Array) -> None:
        self._middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
        local = points - self._middle
        self._half = np.abs(local).max(axis=0)
        ones = np.ones((len(points), 1))
        self._rows = np.concatenate([local, np.einsum("ij,ij->i", local, local)[:, None], ones], axis=1)

    def gap(self, panels: Panels, columns: Ints) -> Array:
        """(k,) how far each panel's centroid lies from the points' bounding box, in reaches of the panel."""
        apart = np.maximum(np.abs(panels.centroid[columns] - self._middle) - self._half, 0.0)
        return np.sqrt(np.einsum("ij,ij->i", apart, apart)) / panels.reach[columns]

    def closer(self, panels: Panels, columns: Ints, reaches: float) -> NDArray[np.bool_]:
        """(m, k) whether a point is nearer to a panel's centroid than so many of the panel's reaches."""
        square = self._rows @ self._distance(panels.centroid[columns])
        return square < (reaches * panels.reach[columns]) ** 2

    def integrate(self, panels: Panels, columns: Ints, fine: bool, single: Single, double: Single | None) -> None:
        """Fill single and double (m, k) with S and D, by three or, where fine, by six points a panel."""
        points, weights = (panels.six, SIX[1]) if fine else (panels.three, THREE[1])
        q, k = len(weights), len(columns)
        at = points[:, columns]
        area = panels.area[columns] / (4 * np.pi)
        turned = (panels.normal[columns] * area[:, None]).T
        foot = np.einsum("ij,ji->i", at[0] - self._middle, turned)
        height = np.concatenate([turned, np.zeros((1, k)), -foot[None]])  # over the plane, times the area
        # r2 = x2 - 2 x y + y2 loses digits where panels are small against the group: then not in single precision
        kind = np.float32 if _SPREAD * panels.reach[columns].min() > self._half.max() else np.float64
        rows = self._rows.astype(kind)
        distance, height = self._distance(at).astype(kind), height.astype(kind)
        weight, weights = area.astype(np.float32), weights.astype(np.float32)
        step = max(1, _ENTRIES // (q * k))
        for start in range(0, len(rows), step):
            part = slice(start, start + step)
            square = (rows[part] @ distance).astype(np.float32, copy=False).reshape(q, -1)
            np.maximum(square, _TOUCH, out=square)  # such pairs are integrated exactly afterwards
            np.divide(1.0, square, out=square)
            inverse = np.sqrt(square)
            np.multiply((weights @ inverse).reshape(-1, k), weight, out=single[part])
            if double is not None:
                inverse *= square
                np.multiply((weights @ inverse).reshape(-1, k), rows[part] @ height, out=double[part])

    def _distance(self, points: Array) -> Array:
        """(..., 5, k), by which the rows give the squared distances to points (..., k, 3)."""
        local = points - self._middle
        table = np.empty((*points.shape[:-2], 5, points.shape[-2]))
        np.multiply(np.swapaxes(local, -1, -2), -2.0, out=table[..., :3, :])
        table[..., 3, :] = 1.0
        np.einsum("...i,...i->...", local, local, out=table[..., 4, :])
        return table


def as_points(panels: Panels, to: Ints, source: Ints, double: bool) -> tuple[Array, Array]:
    """S and D of pairs of panels, (k,) each, as if the source were a point with its area."""
    apart = panels.centroid[to] - panels.centroid[source]
    square = np.einsum("ij,ij->i", apart, apart)
    single = panels.area[source] / (4 * np.pi * np.sqrt(square))
    if not double:
        return single, np.zeros(len(single))
    return single, single * np.einsum("ij,ij->i", apart, panels.normal[source]) / square
