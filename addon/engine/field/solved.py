"""A solution with everything it was computed from."""

from __future__ import annotations

from typing import NamedTuple

from ..findings import Finding
from .level import Level
from .panels import Panels
from .problem import Cell, State


class Solved(NamedTuple):
    """error : of the density, relative to its mean, None where nobody knows; findings : on how it was computed
    level : the one of the two levels that has about as many panels as a preview, None where neither has
    levels : both, coarse and fine, where they are kept for another current
    needed_voltage : V that the current would take that was asked for, where the supply has less; by the coarser level
    """

    panels: Panels
    cell: Cell
    state: State
    error: float | None
    findings: list[Finding]
    level: Level | None = None
    needed_voltage: float | None = None
    levels: tuple[Level, Level] | None = None
