"""The field together with the conductive coat, whose metal lies higher the further from the wire it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..steps import Steps, between
from ..surface import Surface
from ..tank import Role
from .panels import Panels
from .pieces import Array
from .problem import Cell, Drive, State, resumed, solve
from .refine import on_faces

HISTORY = 6  # earlier rounds that the next is mixed from
ROUNDS = 25
CLOSE = 0.01  # of the largest drop

Drop = Callable[[Array], Array]


def raised(cell: Cell, panels: Panels, drop: Array) -> Cell:
    """The cell with the part's metal as far above the wire as the coat's drop (m,) on the faces says, in
    V.
    """
    lift = np.zeros(cell.influence.n)
    known = np.where(np.isfinite(drop), drop, 0.0)
    for rows in panels.bodies[: len(panels.arrangement.poses)]:
        lift[rows] = panels.part.cover.to_pieces(known)
    lift[cell.role != Role.PART] = 0.0
    return replace(cell, raised=lift)


def coupled(
    surface: Surface, cell: Cell, panels: Panels, drive: Drive, drop: Drop, start: State | None
) -> Steps[tuple[Cell, State]]:
    """Field and coat that agree: what the coat loses for the field's current is what the field reckons with.

    Fixed point, with each round mixed from the last ones so that it also settles where the coat rules (D. G.
    Anderson, J. ACM 12 (1965) 547; from memory).
    """
    state = yield from between(0.0, 0.2, solve(cell, drive, start))
    lift = np.zeros(len(surface.triangles))
    tried: list[Array] = []
    found: list[Array] = []
    for turn in range(ROUNDS):
        answer = np.nan_to_num(drop(on_faces(surface, panels, state.j)))
        tried.append(lift)
        found.append(answer)
        if np.abs(answer - lift).max() <= CLOSE * np.abs(answer).max():
            break
        lift = _mixed(tried[-HISTORY:], found[-HISTORY:])
        cell = raised(cell, panels, lift)
        again = 0.2 + 0.8 * turn / ROUNDS
        state = yield from between(
            again, again + 0.8 / ROUNDS, solve(cell, drive, resumed(cell, state), tolerance=1e-4)
        )
    return cell, state


def _mixed(tried: list[Array], found: list[Array]) -> Array:
    """The mixture of earlier rounds whose change would have been least, and half its change on."""
    change = [f - t for t, f in zip(tried, found, strict=True)]
    if len(change) == 1:
        return tried[0] + 0.5 * change[0]
    steps = np.stack([c - change[-1] for c in change[:-1]], axis=1)
    weights = np.linalg.lstsq(steps, -change[-1], rcond=1e-6)[0]
    mix = np.append(weights, 1.0 - weights.sum())
    return sum(w * (t + 0.5 * c) for w, t, c in zip(mix, tried, change, strict=True))
