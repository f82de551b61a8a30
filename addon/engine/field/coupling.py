"""The field coupled with the conductive coat, whose potential rises with the distance from the wire."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from ..mesh.surface import Surface
from ..progress import Progress
from ..tank.body import Role
from .cover import Cover
from .network import Network, OnPanels
from .newton import TOLERANCE, solve
from .panels import Panels
from .pieces import Array
from .problem import Cell, Drive, State, resumed
from .refine import a_side

Drop = Callable[[Array], Array]


@runtime_checkable
class Coat(Protocol):
    """A coat whose loss is linear in the density that it collects."""

    def onto(self, cover: Cover, twin: NDArray[np.intp]) -> Drop:
        """From densities (p,) A/m2 on the pieces of a part to V lost on each, (p,).

        twin : (p,) the piece whose density each has
        """
        ...

    def floating(self, cover: Cover) -> NDArray[np.bool_]:
        """(p,) the pieces that lie on coat without a wire."""
        ...


def raised(cell: Cell, panels: Panels, drop: Array) -> Cell:
    """The cell with the part's metal as far above the wire as the coat's drop (m,) on the faces says, in V."""
    return replace(cell, raised=_on_copies(cell, panels, _to_pieces(panels, drop)))


def coupled(
    surface: Surface,
    cell: Cell,
    panels: Panels,
    drive: Drive,
    drop: Drop | Coat,
    start: State | None,
    *,
    tolerance: float = TOLERANCE,
) -> Progress[tuple[Cell, State]]:
    """A consistent solution of field and coat: the drop that the field assumes is the drop that its current causes.

    drop : density of the faces (m,) A/m2 -> V lost (m,), linear, nan where nothing is plated; or a coat that gives
    the same on pieces. Newton's method applies it once per product, so it must be cheap. If its network is known as
    well, steps and preconditioner use it.
    """
    shunt = None
    if isinstance(drop, Coat):
        along = drop.onto(panels.part.cover, panels.part.twin)
        cell = _insulated(cell, panels, drop.floating(panels.part.cover))
        shunt = OnPanels(along, panels, cell.role == Role.PART) if isinstance(along, Network) else None
    else:
        of_faces = drop

        def along(density: Array) -> Array:
            return _to_pieces(panels, of_faces(np.where(surface.plated, panels.part.cover.mean(density), 0.0)))

    def lift(j: Array) -> Array:
        return _on_copies(cell, panels, along(a_side(panels, j)))

    lifted = replace(cell, lift=lift, shunt=shunt)
    # the first guess must include the coat's drop: Newton's method linearizes there
    begin = None if start is None else resumed(lifted, start)
    state = yield from solve(lifted, drive, begin, tolerance=tolerance)
    return replace(cell, raised=lift(state.j)), state


def evenly(surface: Surface, panels: Panels, j: Array) -> Array:
    """(m,) A/m2 of the surface's triangles, of j (n,), constant on each panel: linear in j, as `refine.on_faces` is
    not."""
    return np.where(surface.plated, panels.part.cover.mean(a_side(panels, j)), 0.0)


def _insulated(cell: Cell, panels: Panels, pieces: NDArray[np.bool_]) -> Cell:
    """The cell with some pieces (p,) of every copy of the part out of reach of the supply: they carry no current."""
    if not pieces.any():
        return cell
    role = cell.role.copy()
    for rows in panels.bodies[: len(panels.arrangement.poses)]:
        role[rows[pieces]] = Role.INSULATOR
    return replace(cell, role=role)


def _to_pieces(panels: Panels, drop: Array) -> Array:
    """(p,) V of the part's pieces, from a drop (m,) on its faces."""
    return panels.part.cover.to_pieces(np.where(np.isfinite(drop), drop, 0.0))


def _on_copies(cell: Cell, panels: Panels, drop: Array) -> Array:
    """(n,) V of the panels of every copy of the part, from a drop (p,) on its pieces."""
    lift = np.zeros(cell.influence.n)
    for rows in panels.bodies[: len(panels.arrangement.poses)]:
        lift[rows] = drop
    return np.where(cell.role == Role.PART, lift, 0.0)
