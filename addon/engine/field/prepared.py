"""A tank that is set up once and solved at several densities: with some of its anodes, with and without its bodies."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ..chemistry import kinetics
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.job import Job
from ..tank.arrange import Arrangement
from ..tank.body import Body, Role
from .clearance import check
from .newton import solve
from .panels import Panels, PartPieces, cell, lay
from .pieces import Array
from .problem import Cell, Drive, State, resumed

TRIAL_PANELS = 2500
TRIAL_TOLERANCE = 1e-4  # residual: layouts closer than `trials.MIN_UNIFORMITY_GAIN` count as equal anyway


@dataclass(frozen=True, eq=False)
class Distribution:
    """density : (copies, p) A/m2 on the pieces of each copy; voltage : V; load : A/m2, of the anode that gives most"""

    density: Array
    voltage: float
    load: float


@dataclass(frozen=True, eq=False)
class PreparedCell:
    """Panels and their operators, to be solved at any density.

    latest : the last solution, a first guess for the next; None before the first
    """

    panels: Panels
    cell: Cell
    latest: list[State] = field(default_factory=list)

    @classmethod
    def build(
        cls, surface: Surface, job: Job, arrangement: Arrangement, part: PartPieces | None = None
    ) -> Progress[PreparedCell]:
        """part : pieces to use again, so that densities can be added up.

        Raises InputError where the arrangement cannot stand.
        """
        count = min(TRIAL_PANELS, job.effort.panels)
        panels = yield from subrange(0.0, 0.3, lay(surface, arrangement, count, part=part))
        check(surface, panels)
        panel_cell = yield from subrange(0.3, 1.0, cell(panels, *kinetics.laws(job.bath), job.bath.conductivity))
        return cls(panels, panel_cell)

    def solved(self, current: float) -> Progress[Distribution]:
        """current : A, of each copy"""
        panels = self.panels
        copies = panels.bodies[: len(panels.arrangement.poses)]
        start = resumed(self.cell, self.latest.pop()) if self.latest else None
        drive = Drive(current=current * len(copies))
        state = yield from solve(self.cell, drive, start, tolerance=TRIAL_TOLERANCE)
        self.latest.append(state)
        density = np.array([state.j[rows] / panels.sides[rows] for rows in copies])
        return Distribution(density, state.voltage, self._largest_load(state))

    def with_anodes(self, *names: str) -> PreparedCell:
        """The cell with current from these anodes only; the others must be sheets."""
        idle = self._rows({body.name for body in self._bodies(Role.ANODE)} - set(names))
        return replace(self, cell=replace(self.cell, active=self.cell.active & ~idle))

    def without(self, names: Collection[str]) -> PreparedCell:
        """The cell without these bodies."""
        gone = self._rows(names)
        left = self.cell.influence.without(gone)
        return PreparedCell(
            self.panels, replace(self.cell, influence=left, active=self.cell.active & ~gone, schwarz=None)
        )

    @property
    def removable(self) -> list[str]:
        """The names of the thieves and shields."""
        return [body.name for body in self._bodies(Role.THIEF, Role.INSULATOR) if not body.wall]

    def _largest_load(self, state: State) -> float:
        """A/m2 of the anode that gives most, a sheet's counted on one side."""
        area = self.cell.influence.area
        anodes = [self._rows({body.name}) & self.cell.active for body in self._bodies(Role.ANODE)]
        return max(float(-(area[rows] @ state.j[rows]) / area[rows].sum()) for rows in anodes if rows.any())

    def _bodies(self, *roles: Role) -> list[Body]:
        return [body for body in self.panels.arrangement.bodies if body.role in roles]

    def _rows(self, names: Collection[str]) -> NDArray[np.bool_]:
        """(n,) the panels of these bodies."""
        chosen, copies = np.zeros(self.cell.influence.n, bool), len(self.panels.arrangement.poses)
        for body, rows in zip(self.panels.arrangement.bodies, self.panels.bodies[copies:], strict=True):
            chosen[rows] = body.name in names
        return chosen
