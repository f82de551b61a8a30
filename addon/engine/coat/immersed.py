"""The coat in its tank: field and coat are solved together, which gives the bath's resistance at each patch of the
coat.

On a poor coat the current crowds at the wire; the liquid spreads it again over a few millimeters, which a local
resistance of the bath cannot represent. The field's operators are built once on a coarse level; each solution then
takes the coat along.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..field.coupling import coupled
from ..field.level import Level
from ..field.problem import Drive, scaled
from ..field.refine import a_side
from ..field.solve import solved
from ..linalg.sparse import Vector
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress
from ..settings.job import Job
from .bathside import MIN_DENSITY_SHARE
from .proxy import AggregatedNetwork
from .spread import Spread
from .transfer import Transfer

MIN_LIQUID_DEPTH_PANELS = 0.1  # of a panel: liquid that lies before every patch, also in a bath without polarization
MAX_CORRECTION = 4.0  # factor up and down: limit of a patch's correction from the finer level
POTENTIAL_TOLERANCE = 1e-5  # of the spread of potential: at ten times as much deep hollows get 1 % too much


class Immersed:
    """A part among its anodes, ready for any coat.

    resolution : meters, of its panels; copies : of the part in the tank
    """

    def __init__(self, surface: Surface, level: Level, top: float) -> None:
        """top : A/m2, the highest density that there is metal at"""
        self._surface, self._level, self._last, self._current = surface, level, level.state, 0.0
        panels, cell = level.panels, level.cell
        if level.state is not None:
            rows = np.concatenate(panels.bodies[: len(panels.arrangement.poses)])
            flow = cell.influence.area * level.state.j
            self._current = float(flow[rows].sum())
        self._known: tuple[AggregatedNetwork, Transfer, Vector] | None = None
        self.copies = len(panels.arrangement.poses)
        self.resolution = float(np.sqrt(np.median(cell.influence.area[panels.bodies[0]])))
        kinetics = float(cell.cathode.overpotential(np.array(top))) / top
        self._least = max(kinetics, MIN_LIQUID_DEPTH_PANELS * self.resolution / cell.conductivity)

    @classmethod
    def build(
        cls, surface: Surface, job: Job, meshes: Mapping[str, Part] | None, level: Level | None = None
    ) -> Progress[Immersed]:
        """On the level that a field left, or on one of its own. Raises InputError, one line, where something in the
        tank cannot be as it is."""
        if level is None:
            field = yield from solved(surface, job, meshes=meshes, level="preview")
            level = Level(field.panels, field.cell)
        return cls(surface, level, job.bath.limiting)

    def patch_resistance(self, spread: Spread, conductance: Vector, current: float) -> Progress[Vector]:
        """(n,) ohm m2 between each patch and the supply: the remaining voltage over the density.

        conductance : (n,) siemens a square of the coat as it is; current : A in all, of each copy
        """
        panels, total = self._level.panels, current * self.copies
        transfer, correction = self._transfer(spread)
        loss = replace(spread.loss(conductance), ready=transfer)
        start = None if self._last is None else scaled(self._last, total / self._current)
        _, self._last = yield from coupled(
            self._surface, self._level.cell, panels, Drive(current=total), loss, start, tolerance=POTENTIAL_TOLERANCE
        )
        self._current = total
        density = transfer.collected(a_side(panels, self._last.j)) / spread.area
        left = self._last.voltage - loss.at_patches(density)
        resistance = correction * left / _floored(spread, density)
        # no less than the kinetics need at the highest density, so that a place with little voltage left does not get
        # # too much later
        return np.maximum(resistance, self._least)

    def _transfer(self, spread: Spread) -> tuple[Transfer, Vector]:
        """The transfer between pieces and patches, and (n,) the ratio of each patch's resistance on the finer level
        to that on this one, in the state solved on both. This level errs most in deep hollows, by about the same
        factor for every coat."""
        if self._known is None or self._known[0] is not spread.patches:
            panels, state, finer = self._level.panels, self._level.state, self._level.finer
            transfer, correction = spread.transfer(panels.part.cover), np.ones(len(spread.own))
            if finer is not None and state is not None:
                coarse_density = _floored(spread, transfer.collected(a_side(panels, state.j)) / spread.area)
                fine_density = _floored(spread, spread.collected(finer) / spread.area)
                correction = np.clip(coarse_density / fine_density, 1.0 / MAX_CORRECTION, MAX_CORRECTION)
            self._known = spread.patches, transfer, correction
        return self._known[1:]


def _floored(spread: Spread, density: Vector) -> Vector:
    """Densities (n,) of patches, none less than MIN_DENSITY_SHARE of the mean."""
    return np.maximum(density, MIN_DENSITY_SHARE * float(spread.area @ density) / float(spread.area.sum()))
