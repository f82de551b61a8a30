"""Single and double layer of 1 / (4 pi r) over flat panels, as operators."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..steps import Step, Steps
from .integrals import Triangles, layers

Array = NDArray[np.float64]
Plane = tuple[Sequence[float], Sequence[float]]


class LayerOperators:
    """Single layer S and double layer D of 1 / (4 pi r), constant on flat panels, taken at the centroids.

    (S q)_i   = sum_j q_j   integral_j dA_y / (4 pi |x_i - y|)
    (D phi)_i = sum_j phi_j integral_j d/dn_y (1 / (4 pi |x_i - y|)) dA_y,  a flat panel's own term being zero

    Seen from inside a closed surface wound outward D 1 = -1, on its flat panels -1/2, outside 0. With normals out of the
    liquid and q = d phi / dn, Green's identity reads phi / 2 = S q - D phi = apply(q, phi).

    mirrors : up to three mutually perpendicular planes (point, unit normal) with every panel on one side; each source
        then has an equal image behind each (insulating walls), within S and D.
    """

    def __init__(self, corners: Array, *, accuracy: float = 1e-4, mirrors: Sequence[Plane] = ()) -> None:
        self.corners = np.asarray(corners, float)
        self.accuracy = accuracy
        self.n = len(self.corners)
        self._panels = Triangles.of(self.corners)
        self.normal, self.area = self._panels.normal, self._panels.area
        self.centroid = self.corners.mean(axis=1)
        self._mirrors = [(np.asarray(p, float), np.asarray(n, float)) for p, n in mirrors]
        self._s, self._d = self._dense(self.centroid, own=True)

    @classmethod
    def build(
        cls, corners: Array, *, accuracy: float = 1e-4, mirrors: Sequence[Plane] = ()
    ) -> Steps[LayerOperators]:
        """The same as the constructor, in steps."""
        yield Step(0.0, "Measuring how the panels act on each other")
        return cls(corners, accuracy=accuracy, mirrors=mirrors)

    @staticmethod
    def memory_estimate(n: int) -> int:
        """Bytes that n panels will take."""
        return 16 * n * n

    @property
    def diagonal(self) -> Array:
        """(n,) metres: S_ii."""
        return self._s.diagonal()

    @property
    def double_row_sum(self) -> Array:
        """(n,) D 1: minus the share of the sphere that the panels fill as seen from each centroid."""
        return self._d.sum(axis=1)

    def apply(self, q: Array, phi: Array) -> Array:
        """S q - D phi at the centroids, (n,), in one pass."""
        return self._s @ q - self._d @ phi

    def single(self, q: Array) -> Array:
        """S q at the centroids, (n,)."""
        return self._s @ q

    def double(self, phi: Array) -> Array:
        """D phi at the centroids, (n,)."""
        return self._d @ phi

    def leaf_blocks(self) -> Iterator[tuple[NDArray[np.intp], Array, Array]]:
        """Groups of neighbouring panels that part the whole: indices (m,), their block of S and of D (m, m)."""
        for start in range(0, self.n, 50):
            rows = np.arange(start, min(start + 50, self.n))
            yield rows, self._s[np.ix_(rows, rows)], self._d[np.ix_(rows, rows)]

    def evaluate(self, points: Array, q: Array, phi: Array) -> Array:
        """S q - D phi at any points (m, 3) of the liquid, (m,)."""
        out = np.empty(len(points))
        for start in range(0, len(points), 500):
            part = slice(start, start + 500)
            s, d = self._dense(np.asarray(points, float)[part], own=False)
            out[part] = s @ q - d @ phi
        return out

    def _dense(self, points: Array, own: bool) -> tuple[Array, Array]:
        s, d = np.zeros((len(points), self.n)), np.zeros((len(points), self.n))
        images = [points]
        for at, normal in self._mirrors:
            images += [x - 2.0 * ((x - at) @ normal)[:, None] * normal for x in images]
        # an image source seen from x is the source seen from the image of x
        for x in images:
            for i, point in enumerate(x):
                one, two = layers(np.broadcast_to(point, (self.n, 3)), self._panels)
                s[i] += one
                d[i] += two
            if own and x is points:
                np.fill_diagonal(d, 0.0)
        return s / (4 * np.pi), d / (4 * np.pi)
