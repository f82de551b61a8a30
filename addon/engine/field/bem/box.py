"""Insulating walls of a box, exactly: all the images of the panels in the six walls at once.

In a box whose sides, floor and free surface insulate, Laplace's Green's function is the sum of 1 / (4 pi r)
over the images y' of the source in all six walls: along each axis y' = +-y + 2 L m, m any integer. The few
images that come near a panel are left to the layer operators; the rest is a smooth function of both points,
found from

    1 / r = 2 / sqrt(pi) integral_0^inf exp(-t^2 r^2) dt,

where a Gaussian is a product over the three axes and so is its sum over all images. Along one axis

    sum over y' of exp(-t^2 (x - y')^2) = sqrt(pi) / (t L) (1 + 2 sum_k exp(-(pi k / 2 t L)^2) cos(pi k x / L)
    cos(pi k y / L))

(Poisson's formula). The term without a cosine is the mean over the box, which diverges and belongs to a
constant potential: the solver carries that as an unknown, as it must where walls let no current out. What
remains is interpolated on Chebyshev nodes between groups of panels. Own derivation;
tests/engine/test_field_box.py compares it with plain sums.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from ...geometry import chebyshev
from ...linalg.blas import one_thread
from .images import Group, Image, bounds_of, gap

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Real = NDArray[np.floating[Any]]  # of single or double precision

TOLERANCE = 1e-4
MAX_BROAD_SCALE = 4.0  # of a Gaussian's width over the box, 2 t L, up to which it is summed as waves
# of a narrower one those that may lie within 2 L; the others, from 3 L on, add less than 1e-15
NARROW_IMAGES = ((1, 0), (1, 1), (1, -1), (-1, 0), (-1, 1), (-1, -1), (-1, 2))
TERMS = 32  # of a sum of products at a time: all of them at once took more memory than what they make
ENTRIES_PER_BATCH = 50_000  # of a matrix in double precision
PANELS_PER_BATCH = 1000  # panels at a time: the products of their values stay in the processor's cache


class BoxImages:
    """S and D of the images that the layer operators do not carry, in a box of insulating walls.

    Memory: (values an axis of each panel) 50 to 200 n bytes, and a matrix of some MB for each pair of groups.
    """

    def __init__(
        self,
        low: Array,
        length: Array,
        centroid: Array,
        normal: Array,
        area: Array,
        groups: Sequence[Group],
        explicit: Sequence[Sequence[Image]],
    ) -> None:
        """low, length : (3,) corner and sides of the liquid; centroid, normal, area : of all n panels

        explicit : for each group, the images that the layer operators carry, the panels themselves among them
        """
        self._area, self._low, self._length = area, low, length
        self._centroid, self._normal = centroid, normal
        self._groups, self._explicit = groups, explicit
        self._nearest = self._distances()
        self._nodes = [_nodes(g, self._order(g, i)) for i, g in enumerate(groups)]
        self._values: list[list[Single]] = []
        self._slopes: list[list[Single]] = []
        group_range = range(len(groups))
        for group, nodes in zip(groups, self._nodes, strict=True):
            x, n = centroid[group.rows], normal[group.rows]
            middle = group.bounds.mean(axis=0)
            read = [chebyshev.cardinal(len(nodes[a]), (x[:, a] - middle[a]) / group.half[a]) for a in range(3)]
            self._values.append([values.astype(np.float32) for values, _ in read])
            self._slopes.append([(n[:, a] / group.half[a] * read[a][1]).astype(np.float32) for a in range(3)])
        # one matrix a target group, the nodes of all source groups side by side
        self._matrices = [
            np.hstack(
                [_matrix(*self._factors(to, self._nodes[j], explicit[j], self._nearest[i, j])) for j in group_range]
            )
            for i, to in enumerate(self._nodes)
        ]

    def apply(self, q: Array, phi: Array, *, precise: bool = False) -> Array:
        """S q - D phi of these images at the centroids, (n,). precise : sums in double precision"""
        with one_thread():
            return self._apply(q, phi, np.float64 if precise else np.float32)

    def _apply(self, q: Array, phi: Array, kind: DTypeLike) -> Array:
        sources = np.concatenate([self._gather(i, q, phi, kind) for i in range(len(self._groups))])
        out = np.zeros(len(self._area))
        for i, group in enumerate(self._groups):
            x, y, z = self._values[i]
            table = _times(self._matrices[i], sources).reshape(len(x), -1)
            for start in range(0, len(group.rows), PANELS_PER_BATCH):
                part = slice(start, start + PANELS_PER_BATCH)
                plane = (y[:, None, part] * z[:, part]).reshape(table.shape[1], -1)
                out[group.rows[part]] = np.einsum("ij,ij->j", table @ plane, x[:, part])
        return out

    def background(self, double: NDArray[np.bool_]) -> float:
        """What a constant potential on these panels adds to D everywhere: the share of the box that they
        enclose.

        It comes from the mean that is left out. The volume is taken along the axis on which all of them are
        clearest of the walls, for bodies may be cut off by walls.
        """
        if not double.any():
            return 0.0
        at = self._centroid[double] - self._low
        axis = int(np.minimum(at, self._length - at).min(axis=0).argmax())
        volume = float((self._area * self._normal[:, axis])[double] @ at[:, axis])
        return volume / float(np.prod(self._length))

    def evaluate(self, points: Array, q: Array, phi: Array) -> Array:
        """S q - D phi of these images at any points (m, 3) that keep off the walls as the panels do, (m,)."""
        out = np.zeros(len(points))
        inside = Group.of(np.arange(len(points)), points)
        for j, group in enumerate(self._groups):
            nearest = self._nearest_image(inside, group, self._explicit[j])
            weights, factors = self._factors(list(points.T), self._nodes[j], self._explicit[j], nearest)
            source = self._gather(j, q, phi).reshape([len(n) for n in self._nodes[j]])
            for w, x, y, z in zip(weights, *factors, strict=True):
                by_z = np.tensordot(z, source, (1, 2))  # (points, x, y)
                out += w * np.einsum("ij,ijk,ik->i", x, by_z, y)
        return out

    def _gather(self, i: int, q: Array, phi: Array, kind: DTypeLike = np.float32) -> Real:
        """Charges and dipoles of a group moved to its nodes, flat."""
        rows = self._groups[i].rows
        (x, y, z), (dx, dy, dz) = self._values[i], self._slopes[i]
        charge = (self._area[rows] * q[rows]).astype(kind)
        dipole = (-self._area[rows] * phi[rows]).astype(kind)
        out = np.zeros((len(x) * len(y), len(z)), kind)
        for start in range(0, len(rows), PANELS_PER_BATCH):
            part = slice(start, start + PANELS_PER_BATCH)
            plane = (x[:, None, part] * y[:, part]).reshape(len(out), -1)
            flow = charge[part] * z[:, part]
            if dipole[part].any():
                turned = dx[:, None, part] * y[:, part] + x[:, None, part] * dy[:, part]
                out += turned.reshape(len(out), -1) @ (dipole[part] * z[:, part]).T
                flow += dipole[part] * dz[:, part]
            out += plane @ flow.T
        return out.reshape(-1)

    def _distances(self) -> Array:
        pairs = [
            [self._nearest_image(t, s, e) for s, e in zip(self._groups, self._explicit, strict=True)]
            for t in self._groups
        ]
        return np.array(pairs)

    def _nearest_image(self, target: Group, source: Group, explicit: Sequence[Image]) -> float:
        """Distance from a group to the nearest image of another that is not explicit."""
        ways = [(1, 0), (-1, 0), (-1, 1), (1, 1), (1, -1), (-1, -1), (-1, 2)]
        known = set(explicit)
        others = [image for image in product(ways, ways, ways) if image not in known]
        return float(gap(bounds_of(others, source, self._low, self._length), target.bounds).min())

    def _order(self, group: Group, i: int) -> list[int]:
        """Chebyshev nodes an axis, from the ellipse that the nearest image leaves free (Bernstein)."""
        ratio = min(self._nearest[i].min(), self._nearest[:, i].min()) / group.half
        ellipse = ratio + np.sqrt(1.0 + ratio**2)
        return [int(np.clip(np.ceil(-np.log(TOLERANCE) / np.log(e)) + 1, 3, 24)) for e in ellipse]

    def _factors(
        self, targets: Sequence[Array], sources: Sequence[Array], explicit: Sequence[Image], nearest: float
    ) -> tuple[Array, list[Array]]:
        """The smooth rest as a sum of products: weights (b,) and one (b, targets, sources) factor an axis."""
        last = 4.0 / nearest  # beyond it the nearest image's Gaussian is below 1e-7
        span = last * float(self._length.max())
        t, weight = _gauss(int(24 + 2.0 * span))
        t, weight = 0.5 * last * (t + 1.0), 0.5 * last * weight
        everything, alone = [], []
        for a in range(3):
            x, y = targets[a] - self._low[a], sources[a] - self._low[a]
            everything.append(_theta(x, y, t, self._length[a]))
            alone.append(
                [np.exp(-((t[:, None, None] * (x[:, None] - _along(i[a], y, self._length[a]))) ** 2)) for i in explicit]
            )
        mean = np.prod([np.sqrt(np.pi) / (t * length) for length in self._length], axis=0)
        remainder = float((weight * mean).sum() + np.pi**1.5 / (2.0 * last**2 * np.prod(self._length)))
        weights = np.concatenate([weight, *[-weight for _ in explicit], [-remainder]]) / (2.0 * np.pi**1.5)
        factors = [np.concatenate([everything[a], *alone[a], np.ones((1, *everything[a].shape[1:]))]) for a in range(3)]
        return weights, factors


def _along(image: tuple[int, int], y: Array, length: float) -> Array:
    sign, shift = image
    return sign * y + 2.0 * length * shift


@cache
def _gauss(count: int) -> tuple[Array, Array]:
    """Places and weights of Gauss and Legendre on -1 to 1: the groups of a box ask for the same few again and again."""
    return np.polynomial.legendre.leggauss(count)


def _theta(x: Array, y: Array, t: Array, length: float) -> Array:
    """Sum of exp(-t^2 (x - y')^2) over all images along one axis, (t, x, y)."""
    out = np.empty((len(t), len(x), len(y)))
    scale = 2.0 * t * length
    narrow = np.flatnonzero(scale > MAX_BROAD_SCALE)
    apart = x[:, None, None] - np.concatenate([_along(image, y[:, None], length) for image in NARROW_IMAGES], axis=1)
    for i in narrow:  # narrow Gaussians: few images count
        out[i] = np.exp(-((t[i] * apart) ** 2)).sum(axis=2)
    broad = np.flatnonzero(scale <= MAX_BROAD_SCALE)  # broad ones: few waves do
    k = np.arange(1, int(np.ceil(MAX_BROAD_SCALE * 4.0 / np.pi)) + 2)
    at, to = np.cos(np.pi / length * np.outer(x, k)), np.cos(np.pi / length * np.outer(k, y))
    damp = 2.0 * np.exp(-((np.pi * k / scale[broad, None]) ** 2))
    waves = (at * damp[:, None]) @ to
    out[broad] = (np.sqrt(np.pi) / (t[broad] * length))[:, None, None] * (1.0 + waves)
    return out


def _matrix(weights: Array, factors: Sequence[Array]) -> Single:
    """The sum of products as one matrix, targets by sources, each of its sides running over x, y and z."""
    x, y, z = factors
    weighted = (weights[:, None] * x.reshape(len(x), -1)).T
    whole = np.zeros((len(weighted), y[0].size * z[0].size))
    for start in range(0, len(weights), TERMS):
        part = slice(start, start + TERMS)
        plane = y[part, :, None, :, None] * z[part, None, :, None, :]
        whole += weighted[:, part] @ plane.reshape(len(plane), -1)
    (tx, sx), (ty, sy), (tz, sz) = (factor.shape[1:] for factor in factors)
    ordered = whole.reshape(tx, sx, ty, tz, sy, sz).transpose(0, 2, 3, 1, 4, 5)
    return ordered.reshape(tx * ty * tz, sx * sy * sz).astype(np.float32)


def _times(matrix: Single, x: Real) -> Real:
    """The product in the precision of x, its rows widened a few at a time: all at once would not stay in the cache."""
    if x.dtype == matrix.dtype:
        return matrix @ x
    step = max(1, ENTRIES_PER_BATCH // matrix.shape[1])
    return np.concatenate([matrix[k : k + step].astype(x.dtype) @ x for k in range(0, len(matrix), step)])


def _nodes(group: Group, order: Sequence[int]) -> list[Array]:
    middle = group.bounds.mean(axis=0)
    return [m + h * chebyshev.nodes(p) for m, h, p in zip(middle, group.half, order, strict=True)]
