"""Panels with their operators, integrated once and reused for further solutions in the same tank."""

from __future__ import annotations

from typing import NamedTuple

from .coupling import Coat, Drop
from .panels import Panels
from .pieces import Array
from .problem import Cell, State


class Level(NamedTuple):
    """One resolution of a tank.

    panels, cell : without any coat; state : of the last solution there, a start for the next; None before the first
    finer : (m,) A/m2 that the faces of the part get in that state by a finer level, where there is one
    coat : that the state reckons with, as it was given to the field
    """

    panels: Panels
    cell: Cell
    state: State | None = None
    finer: Array | None = None
    coat: Array | Drop | Coat | None = None
