"""How often a surface goes round a point, from the solid angles of its triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import morton

PAIRS_PER_BATCH = 20_000  # pairs at a time, so that temporaries stay in the processor's cache
TRIANGLES_A_BLOCK = 16  # triangles treated as one from afar
FAR_OVER_RADIUS = 3.0  # of a block: root mean square error 0.0015, at most 0.004, on a scan


def winding(points: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """How often closed triangles (m, 3, 3) go round each point (n, 3): 1 inside a surface wound outward, 0 outside.

    The sum of the triangles' solid angles over 4 pi, each tan(angle / 2) = a . b x c / (abc + (a . b) c + ...) of the
    vectors a, b, c to its corners (A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125).
    Cost: n m. The layer potentials of `field.bem.integrals` have the same angle from lengths that they need anyway.
    """
    out, table = np.zeros(len(points)), np.ascontiguousarray(corners.reshape(len(corners), 9).T)
    for first in range(0, len(corners), PAIRS_PER_BATCH):
        part = table[:, first : first + PAIRS_PER_BATCH]
        batch = max(1, PAIRS_PER_BATCH // part.shape[1])
        for start in range(0, len(points), batch):
            at = points[start : start + batch].T[:, :, None]
            out[start : start + batch] += _half_angles(*(part[3 * k : 3 * k + 3, None] - at for k in range(3)))
    return out / (2.0 * np.pi)


def rough_winding(points: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """As `winding`, to about a thousandth (`FAR_OVER_RADIUS`): neighbors far from a point are seen as one.

    The first two terms of the dipole's expansion (G. Barill et al., Fast winding numbers for soups and clouds, ACM
    Trans. Graph. 37 (2018) 43, from memory). Cost: n m / `TRIANGLES_A_BLOCK`, and the blocks near a point one by one.
    """
    out = np.zeros(len(points))
    if not len(points) or not len(corners):
        return out
    blocks = _Blocks(corners)
    batch = max(1, PAIRS_PER_BATCH // len(blocks.radius))
    for start in range(0, len(points), batch):
        at = points[start : start + batch]
        far, half = blocks.from_afar(at)
        half[~far] = 0.0
        out[start : start + batch] = half.sum(axis=1)
        point, block = np.nonzero(~far)
        few = max(1, PAIRS_PER_BATCH // TRIANGLES_A_BLOCK)
        for first in range(0, len(point), few):
            query, of = point[first : first + few], block[first : first + few]
            to = blocks.corners[:, :, of] - at[query].T[None, :, :, None]
            np.add.at(out, start + query, _half_angles(*to))
    return out / (2.0 * np.pi)


class _Blocks:
    """Triangles in blocks of neighbors, the last filled up with a point: it has no angle.

    corners : (3 corners, 3 axes, blocks, triangles of a block); radius : (blocks,) m round the middle
    """

    def __init__(self, corners: NDArray[np.float64]) -> None:
        ordered = corners[morton.order(corners.mean(axis=1))]
        spare = -len(ordered) % TRIANGLES_A_BLOCK
        ordered = np.concatenate([ordered, np.repeat(ordered[-1:, :1], 3 * spare, axis=1).reshape(-1, 3, 3)])
        self.corners = np.ascontiguousarray(ordered.reshape(-1, TRIANGLES_A_BLOCK, 3, 3).transpose(2, 3, 0, 1))
        a, b, c = self.corners
        vector = 0.5 * np.cross(b - a, c - a, axis=0)  # (3, blocks, triangles) m2
        area = np.sqrt(_dot(vector, vector)) + 1e-300
        centroid = (a + b + c) / 3.0
        self._middle = (area * centroid).sum(axis=2) / area.sum(axis=1)
        off = self.corners - self._middle[None, :, :, None]
        self.radius = np.sqrt((off**2).sum(axis=1).max(axis=(0, 2)))
        self._vector = vector.sum(axis=2)
        self._moment = np.einsum("ibt,jbt->ijb", vector, centroid - self._middle[:, :, None])

    def from_afar(self, points: NDArray[np.float64]) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
        """(n, blocks): whether a block is far from each point (n, 3), and half the solid angle that it then has."""
        to = self._middle[:, None] - points.T[:, :, None]
        square = np.maximum(_dot(to, to), 1e-300)
        bent = sum(to[i] * self._moment[i, j] * to[j] for i in range(3) for j in range(3))
        straight = _dot(to, self._vector[:, None]) + np.trace(self._moment)
        half = 0.5 * (straight - 3.0 * bent / square) / (square * np.sqrt(square))
        return square > (FAR_OVER_RADIUS * self.radius) ** 2, half


def _half_angles(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) sums over m triangles, of the vectors (3, n, m) to their corners."""
    la, lb, lc = (np.sqrt(_dot(v, v)) for v in (a, b, c))
    across = (b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0])
    triple = a[0] * across[0] + a[1] * across[1] + a[2] * across[2]
    below = la * lb * lc + _dot(a, b) * lc + _dot(b, c) * la + _dot(c, a) * lb
    return np.arctan2(triple, below).sum(axis=1)


def _dot(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
