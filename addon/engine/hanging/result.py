"""The result of the analysis of how a part hangs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..copper_wire import bearing
from ..findings import Finding
from .balance import Balance
from .mass import Body
from .suggestion import Pair, Suggestion


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the part hangs.

    body : what it weighs, None where the mesh is open; start, end : net load before and after plating
    deposit : kg; ballast : kg of copper that leaves a flexible wire a pull of `MIN_PULL_SHARE` of the print's weight at
        the start; 0 on a rigid hook
    rigid_wire : m, diameter of a copper wire that holds down, without ballast, a part that floats, or that may for all
        that is known of its weight; None where it sinks, and where no wire that hands bend would do
    lifted : kg that its wire bears in air at the most: print, deposit and ballast; of a metal that nobody names as if
        it were the heaviest; 0 where nobody knows
    unknown_lift : kg that a part of unknown weight floats by at most; 0 where the weight is known
    settles_up : (3,) the way up that it turns to on the first contact, None where it floats or is unknown
    sinks : kg of deposit from which a floating part sinks; 0 where it sinks anyway, None where unknown
    sinks_thickness : m, mean thickness of that deposit
    findings : what is wrong with weight or wires
    full : net load at the start with the gas that `settles_up` traps; swing : radians that this turns the part
    as_set : the way up that the job sets, judged as the suggestions are; None where none was named
    fill_up : (3,) the way up nearest to the one that is hung in which the part goes under without gas, to be turned
        there; None where it takes no gas anyway, or always some
    swept : triangles of the aggregated surface on which ways up were tried before the best were looked at on the whole;
        None where all were; sampling_error : share of the plated surface by which its gas and undersides were off
    """

    body: Body | None
    start: Balance | None
    end: Balance | None
    deposit: float
    ballast: float
    settles_up: NDArray[np.float64] | None
    suggestions: tuple[Suggestion, ...]
    pair: Pair | None
    findings: tuple[Finding, ...]
    sinks: float | None = None
    sinks_thickness: float | None = None
    full: Balance | None = None
    swing: float | None = None
    as_set: Suggestion | None = None
    fill_up: NDArray[np.float64] | None = None
    rigid_wire: float | None = None
    lifted: float = 0.0
    unknown_lift: float = 0.0
    swept: int | None = None
    sampling_error: float = 0.0

    def wire(self, for_current: float) -> float:
        """m, diameter of the copper wire to take: it bears the current, the part in air, and holds down what floats.
        for_current : m, the thinnest that bears the current"""
        return max(for_current, self.bearing_wire or 0.0, self.rigid_wire or 0.0)

    @property
    def bearing_wire(self) -> float | None:
        """m, the thinnest wire that bears the part in air; None where nobody knows its weight."""
        return bearing(self.lifted) if self.lifted > 0 else None
