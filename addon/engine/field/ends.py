"""Densities made linear on pieces, from one value a piece.

Each piece gets the gradient that fits the pieces round it best (least squares, nearer ones count for more),
and so a value at each of its corners. Corners that meet in one place then agree on their mean by area, and each piece
is shifted back to its own mean, so that it carries its current. Pieces are neighbors where they share a corner and
face alike: across a sharp edge nothing is mixed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..linalg.blas import one_thread
from .pieces import Array, Ints, area, meeting, normals

MAX_CORNER_CHANGE = 0.9  # a corner differs from its piece by no more than this share of the piece's value
GRADIENT_REGULARIZATION = 0.01  # of the fit: keeps the gradient small in directions without neighbors
MIN_SAME_SIDE_COS = 0.5  # cosine between normals: pieces at less than 60 degrees face alike


@dataclass(frozen=True, eq=False)
class Ends:
    """The geometry needed for making values linear.

    middle : (n, 3) meters; reach : (n, 3, 3) from a piece's middle to its corners; size : (n,) m2
    corner, met : (k,) corners, counted through all pieces, that meet in a place, each with itself too
    inverse : (n, 3, 3) of the least squares' matrix; weight : (k,) of the pairs in it
    """

    middle: Array
    reach: Array
    size: Array
    corner: Ints
    met: Ints
    inverse: Array
    weight: Array

    @classmethod
    def of(cls, pieces: Array, label: Ints) -> Ends:
        """Of pieces (n, 3, 3); pieces of different labels (n,) are not neighbors."""
        n, middle, facing = len(pieces), pieces.mean(axis=1), normals(pieces)
        corner, met = _pairs(meeting(pieces))
        alike = np.einsum("ij,ij->i", facing[corner // 3], facing[met // 3]) > MIN_SAME_SIDE_COS
        alike &= label[corner // 3] == label[met // 3]
        corner, met = corner[alike], met[alike]
        home = corner // 3
        apart = middle[met // 3] - middle[home]
        square = np.einsum("ij,ij->i", apart, apart)
        weight = np.divide(1.0, square, out=np.zeros_like(square), where=square > 0)
        fit = np.empty((n, 3, 3))
        for i, k in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)):
            fit[:, i, k] = fit[:, k, i] = np.bincount(home, weight * apart[:, i] * apart[:, k], n)
        flat = facing[:, :, None] * facing[:, None, :]  # the gradient lies in the piece's plane
        whole = np.maximum(np.einsum("ijj->i", fit), 1.0)[:, None, None]
        with one_thread():  # on small matrices threads only wait for each other
            inverse = np.linalg.inv(fit + whole * (flat + GRADIENT_REGULARIZATION * np.eye(3)))
        return cls(middle, pieces - middle[:, None], area(pieces), corner, met, inverse, weight)

    def slopes(self, values: Array) -> Array:
        """(n, 3) gradients on the pieces, of values (n,) of the pieces, a meter."""
        home, other = self.corner // 3, self.met // 3
        change = self.weight * (values[other] - values[home])
        apart = self.middle[other] - self.middle[home]
        steep = np.stack([np.bincount(home, change * apart[:, k], len(values)) for k in range(3)], axis=1)
        return np.einsum("ijk,ik->ij", self.inverse, steep)

    def of_values(self, values: Array) -> Array:
        """(n, 3) at the corners of the pieces, of values (n,) of the pieces."""
        met = self._own_and_met(values)[1]
        return met + (values - met.mean(axis=1))[:, None]

    def misfits(self, values: Array) -> Array:
        """(n,) mean deviation of each piece's linear values at its corners from the mean of all pieces that meet
        there; values : (n,) of the pieces."""
        own, met = self._own_and_met(values)
        return np.abs(own - met).mean(axis=1)

    def _own_and_met(self, values: Array) -> tuple[Array, Array]:
        """(n, 3) at the corners: of each piece by itself, and the mean by area of those that meet in the place."""
        n, other = len(values), self.met // 3
        away = np.einsum("ijk,ik->ij", self.reach, self.slopes(values))
        most, top = MAX_CORNER_CHANGE * np.abs(values), np.abs(away).max(axis=1)
        away *= np.divide(most, top, out=np.ones(n), where=top > most)[:, None]
        own, weight = (values[:, None] + away).reshape(-1), self.size[other]
        met = np.bincount(self.corner, weight * own[self.met], 3 * n) / np.bincount(self.corner, weight, 3 * n)
        return own.reshape(n, 3), met.reshape(n, 3)


def quarters(pieces: Array, ends: Array) -> tuple[Array, Array]:
    """Pieces (n, 3, 3) with values (n, 3) at their corners, each in four: (4n, 3, 3), and the means (4n,) on them."""
    cut = (
        np.array(
            [
                [[2, 0, 0], [1, 1, 0], [1, 0, 1]],
                [[1, 1, 0], [0, 2, 0], [0, 1, 1]],
                [[1, 0, 1], [0, 1, 1], [0, 0, 2]],
                [[0, 1, 1], [1, 0, 1], [1, 1, 0]],
            ]
        )
        / 2.0
    )
    return np.einsum("qck,nkx->nqcx", cut, pieces).reshape(-1, 3, 3), (ends @ cut.mean(axis=1).T).reshape(-1)


def _pairs(place: Ints) -> tuple[Ints, Ints]:
    """Pairs of corners, counted through all pieces, that lie in one place (n, 3); each with itself too."""
    place = place.reshape(-1)
    order = np.argsort(place, kind="stable")
    count = np.bincount(place)
    repeats = count[place]
    first = np.repeat((np.cumsum(count) - count)[place] - np.cumsum(repeats) + repeats, repeats)
    return np.repeat(np.arange(len(place)), repeats), order[first + np.arange(int(repeats.sum()))]
