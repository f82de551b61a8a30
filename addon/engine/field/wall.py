"""The potential close to insulating panels: linear over each of them, where the solution has one value a panel.

Up to half a panel's length off a wall or a shield, a value a panel shows as steps along it, and current lines would run
into them. Here each panel's potential is made linear between the means at its corners, and the resulting change of
the double layer is added to the potential of the solution.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..tank.body import Role
from .bem.integrals import Triangles, layers
from .pieces import split
from .problem import Cell, State

Array = NDArray[np.float64]

PARTS_PER_PANEL = 5.0  # of a panel's length to a piece
REACH_PANELS = 1.2  # panel lengths: farther away the correction cancels
PAIRS_PER_BATCH = 2_000_000  # pairs at a time


@dataclass(frozen=True, eq=False)
class Fine:
    """The insulating panels near a place, in pieces.

    corners : (k, 3, 3) meters; value : (k,) V in the liquid beside them; more : (k,) V, value less that of their panel
    panel : (k,) which of the near panels each is of, rising; middle, length : (p, 3), (p,) meters, of those
    """

    corners: Array
    value: Array
    more: Array
    panel: NDArray[np.intp]
    middle: Array
    length: Array


def fine(cell: Cell, state: State, corners: Array, height: Array) -> Fine:
    """Of the panels (n, 3, 3) that insulate. height : (n, 3) meters, of their corners over the place"""
    length = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).max(axis=1)
    insulating = cell.rows(Role.INSULATOR) & cell.influence.double
    close = np.abs(height).min(axis=1) < REACH_PANELS * length
    if not (insulating & close).any():
        none = np.zeros(0)
        return Fine(np.zeros((0, 3, 3)), none, none, np.zeros(0, dtype=np.intp), np.zeros((0, 3)), none)
    rows = np.flatnonzero(insulating)
    least = float(length[rows].min())
    places = np.round(corners[rows].reshape(-1, 3) / (1e-4 * least))
    number = np.unique(places, axis=0, return_inverse=True)[1].reshape(-1)
    weight = np.repeat(cell.influence.area[rows], 3)
    ends = np.bincount(number, weight * np.repeat(state.phi[rows], 3)) / np.bincount(number, weight)
    away = ends[number].reshape(-1, 3)
    away -= away.mean(axis=1, keepdims=True)
    rows, away = rows[close[rows]], away[close[rows]]
    # the potential is carried as a fourth coordinate, too small to count as length
    small = 1e-9 * least / max(float(np.abs(away).max(initial=0.0)), 1e-300)
    both = np.concatenate([corners[rows], small * away[..., None]], axis=2)
    pieces, panel = split(both, np.repeat(length[rows, None] / PARTS_PER_PANEL, 3, axis=1))
    order = np.argsort(panel, kind="stable")
    pieces, panel = pieces[order], panel[order]
    more = pieces[..., 3].mean(axis=1) / small
    return Fine(pieces[..., :3], state.phi[rows[panel]] + more, more, panel, corners[rows].mean(axis=1), length[rows])


def added(fine: Fine, points: Array) -> Array:
    """The correction of the potential at points (m, 3) in the liquid, V (m,)."""
    out = np.zeros(len(points))
    if not len(fine.panel):
        return out
    triangles = Triangles.of(fine.corners)
    first = np.searchsorted(fine.panel, np.arange(len(fine.middle) + 1))
    step = max(1, PAIRS_PER_BATCH // len(fine.panel))
    for start in range(0, len(points), step):
        part = points[start : start + step]
        row, panel = np.nonzero(((part[:, None] - fine.middle) ** 2).sum(axis=2) < (REACH_PANELS * fine.length) ** 2)
        repeats = np.diff(first)[panel]
        row = np.repeat(row, repeats)
        piece = np.arange(len(row)) - np.repeat(np.cumsum(repeats) - repeats - first[panel], repeats)
        angle = layers(part[row], triangles, piece)[1]
        out[start : start + step] = np.bincount(row, fine.more[piece] * angle, minlength=len(part)) / (4.0 * np.pi)
    return out
