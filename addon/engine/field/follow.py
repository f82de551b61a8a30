"""Nonlinear elimination: a Newton step that follows the kinetics themselves instead of their tangents.

The linear step relates voltages and densities. The nonlinear kinetics are then solved exactly: for each panel by
itself, or, where a coat's network is known, for all panels of the part behind the coat they share.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..chemistry.kinetics import density_behind
from ..tank.body import Role
from .problem import Array, Cell, Shunt

# of the liquid before a panel, by its own density alone: only half of what surrounds it is liquid, which doubles this,
# and neighbors that change alike add to it. As measured: docs/theory-field.md
SERIES_RESISTANCES = 6.0
LIQUID_RESISTANCES = 2.0  # the same without the neighbors, for panels whose currents the coat keeps together
# Relative change of a density up to which the tangent is used: it preserves the sums of the currents
MAX_PLAIN_CHANGE = 0.1
MIN_COAT_E_FOLDS = 0.02  # e-folds of the kinetics: smaller changes of the coat's loss are ignored
MAX_TURNS = 20  # of Newton's method on coat and kinetics, shortened ones among them
INNER_E_FOLDS = 1e-3  # of the kinetics, root mean square over the panels, that it ends at
SHORTER = 0.4  # a step that does not help, over the one before


def followed(cell: Cell, j: Array, step: Array, *, behind_coat: bool = True) -> Array:
    """Current densities after a step of Newton's, (n,) A/m2, from those before and their changes: the same to first
    order.

    behind_coat : whether panels are followed together where the coat would lose other volts than the step has it
    """
    alone = _alone(cell, j, step, SERIES_RESISTANCES)
    if not behind_coat or cell.shunt is None or cell.lift is None or not cell.cathode.is_nonlinear:
        return alone
    coated = cell.rows(Role.PART)
    missed = float(np.abs(cell.lift(np.where(coated, alone - j - step, 0.0))).max())
    if missed <= MIN_COAT_E_FOLDS * cell.cathode.e_fold:
        return alone
    return np.where(coated, _behind_coat(cell, cell.shunt, coated, _Volts.of(cell, j, step), alone), alone)


def _alone(cell: Cell, j: Array, step: Array, resistances: float) -> Array:
    """Each panel by itself.

    Seen from one panel, the linearized rest is a series resistance that fixes eta + resistance j; the kinetics then
    give the density exactly. A single step can so cross many e-folds, or change sign. Small changes follow the
    tangent.
    resistances : in series, over that of the panel's own density in liquid all round
    """
    out = j + step
    series = resistances * cell.influence.diagonal / cell.conductivity
    for law, rows in ((cell.cathode, cell.role <= Role.THIEF), (cell.anode, cell.role == Role.ANODE)):
        if law.is_nonlinear:
            large = np.flatnonzero(rows & cell.electrode & (np.abs(step) > MAX_PLAIN_CHANGE * np.abs(j)))
            sides = cell.sides[large]
            before, change, behind = j[large] / sides, step[large] / sides, series[large] * sides
            volts = law.overpotential(before) + law.resistance(before) * change + behind * (before + change)
            out[large] = density_behind(law, volts, behind) * sides
    return out


class _Volts:
    """What each panel's overpotential, the coat's loss and the liquid right before the panel take together.

    series : (n,) ohm m2 of that liquid; volts : (n,) V, as the linear step has them
    """

    def __init__(self, cell: Cell, series: Array, volts: Array) -> None:
        self._cell, self.series, self._volts = cell, series, volts

    @classmethod
    def of(cls, cell: Cell, j: Array, step: Array) -> _Volts:
        series = LIQUID_RESISTANCES * cell.influence.diagonal / cell.conductivity
        eta, slope = cell.drops(j)
        return cls(cell, series, eta + slope * step + _linear(cell, series, j + step))

    def left(self, j: Array) -> tuple[Array, Array]:
        """(n,) V that a density does not take, and the slope of the kinetics there, (n,) ohm m2."""
        eta, slope = self._cell.drops(j)
        return self._volts - eta - _linear(self._cell, self.series, j), slope


def _linear(cell: Cell, series: Array, j: Array) -> Array:
    return series * j + (0.0 if cell.lift is None else cell.lift(j))


def _behind_coat(cell: Cell, shunt: Shunt, coated: NDArray[np.bool_], volts: _Volts, start: Array) -> Array:
    """All panels of the part together: (n,) A/m2 at which no volts are left on these.

    Newton's method again, which costs no product: its matrix is the coat's network with what the panels take of it.
    """
    enough = INNER_E_FOLDS * cell.cathode.e_fold * np.sqrt(np.count_nonzero(coated))
    trial, best, least, length = start, start, np.inf, 1.0
    change = np.zeros_like(start)
    for _ in range(MAX_TURNS):
        left, slope = volts.left(trial)
        left = np.where(coated, left, 0.0)
        size = float(np.linalg.norm(left))
        if size < least:
            best, least, length = trial, size, 1.0
            if size <= enough:
                break
            conductance = np.where(coated, 1.0 / (slope + volts.series), 0.0)
            change = conductance * (left - shunt.shunted(conductance)(left))
        else:
            length *= SHORTER
        trial = _alone(cell, best, length * change, LIQUID_RESISTANCES)
    return best
