"""The coat in its tank: field and coat solved together, so that the coat learns what the bath is to each of its patches.

On a poor coat the current crowds at the wire; the liquid spreads it again over a few millimetres, which no resistance of
the bath taken place by place can show. The field's operators are built once on a coarse level; each solution then takes
the coat along.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .. import kinetics
from ..field.clearance import check
from ..field.coupling import coupled, evenly
from ..field.panels import Panels, cell, lay
from ..field.problem import Cell, Drive, State, resumed
from ..job import Job
from ..part import Part
from ..sparse import Vector
from ..steps import Steps, between
from ..surface import Surface
from ..tank import arrange
from .bathside import LEAST
from .spread import Spread

PANELS = 2000
TOLERANCE = 1e-3  # of the spread of potential


class Immersed:
    """A part among its anodes, ready for any coat.

    resolution : metres, of its panels; copies : of the part in the tank
    """

    def __init__(self, surface: Surface, panels: Panels, made: Cell) -> None:
        self._surface, self._panels, self._cell = surface, panels, made
        self._last: State | None = None
        self.copies = len(panels.arrangement.poses)
        self.resolution = float(np.sqrt(np.median(made.influence.area[panels.bodies[0]])))

    @classmethod
    def build(cls, surface: Surface, job: Job, meshes: Mapping[str, Part] | None) -> Steps[Immersed]:
        """Raises Fault, one line, where something in the tank cannot be as it is."""
        arrangement = arrange(surface, job, meshes)
        count = min(PANELS, job.effort.panels)
        panels = yield from between(0.0, 0.6, lay(surface, arrangement, count))
        check(surface, panels)
        made = yield from between(0.6, 1.0, cell(panels, *kinetics.laws(job.bath), job.bath.conductivity))
        return cls(surface, panels, made)

    def seen(self, spread: Spread, conductance: Vector, current: float) -> Steps[Vector]:
        """(n,) ohm m2 between each patch and the supply: what is left of its voltage there, over the density.

        conductance : (n,) siemens a square of the coat as it is; current : A in all, of each copy
        """
        loss = spread.loss(conductance)
        start = None if self._last is None else resumed(self._cell, self._last)
        drive = Drive(current=current * self.copies)
        _, self._last = yield from coupled(
            self._surface, self._cell, self._panels, drive, loss.at_faces, start, tolerance=TOLERANCE
        )
        density = spread.collected(evenly(self._surface, self._panels, self._last.j)) / spread.area
        mean = float(spread.area @ density) / float(spread.area.sum())
        left = self._last.voltage - loss.at_patches(density)
        return np.maximum(left, LEAST * self._last.voltage) / np.maximum(density, LEAST * mean)
