"""A suggested way up: its costs, what holds it, and the reasons for its rank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..reasons import Reason
from .hold import Hold


@dataclass(frozen=True, eq=False)
class Suggestion:
    """A way up with what it costs. Points in meters, in the part's axes.

    up : (3,) unit; euler : (3,) XYZ Euler angles, radians, that bring it upright and turn it in the tank
    trapped : m3 of gas; dry : m2 it keeps dry; underside : m2 that keeps bubbles; held : m3 carried out
    fits : whether the tank takes it; slack : m to spare
    contact : (3,) where one flexible wire would hold it so, or None: it needs more than that
    best : on the front, that is, no other way up beats it in every respect
    hold : what keeps it so, None where that is not known; facing : share of the show faces towards the anodes
    net_full : kg, net load at the start while all pockets are full; swing : radians that they turn the part
        on one wire, None where it hangs on none or floats then
    cost : weighted sum by which it is ranked
    turn : radians about the vertical, after the smallest turn that brings `up` upright; it is in `euler` as well
    visible_spoilt : m2 of show faces that gas or clinging bubbles spoil; thin_spoilt : m2 of thin places that they
        do, None where no current distribution says which these are
    """

    up: NDArray[np.float64]
    euler: NDArray[np.float64]
    trapped: float
    dry: float
    underside: float
    held: float
    fits: bool
    slack: float
    contact: NDArray[np.float64] | None
    best: bool
    reasons: tuple[Reason, ...] = ()
    hold: Hold | None = None
    facing: float | None = None
    net_full: float | None = None
    swing: float | None = None
    cost: float = 0.0
    turn: float = 0.0
    visible_spoilt: float = 0.0
    thin_spoilt: float | None = None


@dataclass(frozen=True, eq=False)
class Pair:
    """Two ways up to swap at half time.

    missed : m2 that both leave spoilt; gain : m2 that the best single way up leaves spoilt and these two do not
    pays : whether that is worth wires for a second way up
    """

    first: Suggestion
    second: Suggestion
    missed: float
    gain: float = 0.0
    pays: bool = False
