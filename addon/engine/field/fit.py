"""Moves pieces so that they lie, on average, on the surface that they represent.

Their corners lie on the surface, so a coarse ball is smaller than it was and a coarse hole narrower; and large pieces
lie deeper in a curve than small ones, a roughness that the current density feels to first order in their length. So
the corners are moved until each piece lies as far above the surface as below it, in the least-squares sense; then
each piece alone is moved by its small remaining offset.
"""

from __future__ import annotations

import numpy as np

from .pieces import Array, area, meeting, normals

CORNER_REGULARIZATION = 0.01  # of the pieces' weight: keeps a corner where none of them pulls
MAX_CORNER_SHIFT = 0.25  # of a piece's length: no corner moves further
# Of a piece's length: no piece moves further by itself, so that no current leaks through gaps
MAX_FREE_CORNER_SHIFT = 0.05
MAX_CG_ITERATIONS, CG_TOLERANCE = 40, 1e-3  # of conjugate gradients at most; of the residual


def fitted(pieces: Array, high: Array) -> Array:
    """The pieces (n, 3, 3) moved. high : (n,) meters that the surface lies above each; nan where that is not known"""
    known = np.isfinite(high)
    high = np.where(known, high, 0.0)
    if not high.any():
        return pieces
    normal, size, place = normals(pieces), area(pieces), meeting(pieces)
    corner, weight = place.reshape(-1), np.where(known, size, 0.0)
    total = np.bincount(corner, np.repeat(size, 3))
    length = np.sqrt(total / np.bincount(corner))

    def rise(move: Array) -> Array:
        return np.einsum("ijk,ik->i", move[place], normal) / 3.0

    def pull(up: Array) -> Array:
        force = np.repeat((weight * up / 3.0)[:, None] * normal, 3, axis=0)
        return np.stack([np.bincount(corner, force[:, k]) for k in range(3)], axis=1)

    move = np.zeros((len(total), 3))
    left = ahead = pull(high)
    square = first = float((left**2).sum())
    for _ in range(MAX_CG_ITERATIONS):
        if square <= CG_TOLERANCE**2 * first:
            break
        image = pull(rise(ahead)) + CORNER_REGULARIZATION * total[:, None] * ahead
        step = square / float((ahead * image).sum())
        move, left = move + step * ahead, left - step * image
        before, square = square, float((left**2).sum())
        ahead = left + square / before * ahead
    far = np.sqrt(np.einsum("ij,ij->i", move, move))
    move *= np.minimum(1.0, MAX_CORNER_SHIFT * length / np.maximum(far, np.finfo(float).tiny))[:, None]
    most = MAX_FREE_CORNER_SHIFT * np.sqrt(size)
    alone = np.where(known, np.clip(high - rise(move), -most, most), 0.0)
    return pieces + move[place] + (alone[:, None] * normal)[:, None]
