"""The coat in its tank: field and coat solved together, so that the coat learns what the bath is to each of its
patches.

On a poor coat the current crowds at the wire; the liquid spreads it again over a few millimeters, which no resistance
of
the bath taken place by place can show. The field's operators are built once on a coarse level; each solution then takes
the coat along.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..field.coupling import coupled, evenly
from ..field.panels import Panels
from ..field.problem import Cell, Drive, State, resumed
from ..field.solve import solved
from ..linalg.sparse import Vector
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress
from ..settings.job import Job
from .bathside import LEAST
from .spread import Spread

LEAST_DEPTH = 0.1  # of a panel: liquid that lies before every patch, also in a bath without polarization
TOLERANCE = 1e-4  # of the spread of potential: at ten times as much deep hollows get half too much


class Immersed:
    """A part among its anodes, ready for any coat.

    resolution : meters, of its panels; copies : of the part in the tank
    """

    def __init__(self, surface: Surface, panels: Panels, made: Cell, top: float) -> None:
        """top : A/m2, the highest density of a sound deposit"""
        self._surface, self._panels, self._cell = surface, panels, made
        self._last: State | None = None
        self.copies = len(panels.arrangement.poses)
        self.resolution = float(np.sqrt(np.median(made.influence.area[panels.bodies[0]])))
        kinetics = float(made.cathode.overpotential(np.array(top))) / top
        self._least = max(kinetics, LEAST_DEPTH * self.resolution / made.conductivity)

    @classmethod
    def build(cls, surface: Surface, job: Job, meshes: Mapping[str, Part] | None) -> Progress[Immersed]:
        """At a preview's resolution. Raises InputError, one line, where something in the tank cannot be as it is."""
        found = yield from solved(surface, job, meshes=meshes, level="preview")
        return cls(surface, found.panels, found.cell, min(job.bath.window[1], job.bath.limiting))

    def seen(self, spread: Spread, conductance: Vector, current: float) -> Progress[Vector]:
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
        # no less than the kinetics leave at the highest density, lest a place with little voltage left get too much
        # later
        return np.maximum(left / np.maximum(density, LEAST * mean), self._least)
