"""The field together with the conductive coat, whose metal lies higher the further from the wire it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..mesh.surface import Surface
from ..progress import Progress
from ..tank.body import Role
from .panels import Panels
from .pieces import Array
from .problem import Cell, Drive, State, resumed, solve
from .refine import a_side

Drop = Callable[[Array], Array]


def raised(cell: Cell, panels: Panels, drop: Array) -> Cell:
    """The cell with the part's metal as far above the wire as the coat's drop (m,) on the faces says, in V."""
    return replace(cell, raised=_on_panels(cell, panels, drop))


def coupled(
    surface: Surface,
    cell: Cell,
    panels: Panels,
    drive: Drive,
    drop: Drop,
    start: State | None,
    *,
    tolerance: float = 1e-5,
) -> Progress[tuple[Cell, State]]:
    """Field and coat that agree: what the coat loses for the field's current is what the field reckons with.

    drop : density of the faces (m,) A/m2 -> V lost (m,), linear, nan where nothing is plated. Newton's method takes it
    along, one application a product: make it cheap.
    """

    def lift(j: Array) -> Array:
        return _on_panels(cell, panels, drop(evenly(surface, panels, j)))

    lifted = replace(cell, lift=lift)
    # the liquid beside a start's panels must know of the coat: Newton's linearization reckons from there
    begin = None if start is None else resumed(lifted, start)
    state = yield from solve(lifted, drive, begin, tolerance=tolerance)
    return replace(cell, raised=lift(state.j)), state


def evenly(surface: Surface, panels: Panels, j: Array) -> Array:
    """(m,) A/m2 of the surface's triangles, of j (n,), constant on each panel: linear in j, as `refine.on_faces` is
    not."""
    return np.where(surface.plated, panels.part.cover.mean(a_side(panels, j)), 0.0)


def _on_panels(cell: Cell, panels: Panels, drop: Array) -> Array:
    """(n,) V of the panels of every copy of the part, from a drop (m,) on its faces."""
    lift = np.zeros(cell.influence.n)
    known = np.where(np.isfinite(drop), drop, 0.0)
    for rows in panels.bodies[: len(panels.arrangement.poses)]:
        lift[rows] = panels.part.cover.to_pieces(known)
    return np.where(cell.role == Role.PART, lift, 0.0)
