"""A way up that is offered, what it costs, what keeps it so, and the reasons that are given for it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..findings import Quantity as Of
from ..findings import spot
from ..reasons import Reason, ReasonCode
from ..units import CM2, ML
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
    reasons: tuple[Reason, ...]
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


def comparison_reasons(
    suggestion: Suggestion, other: Suggestion, plated: float, displaced: float
) -> tuple[Reason, ...]:
    """What a way up gains and loses against the next. plated : m2; displaced : m3, both of the part"""
    area, volume = max(0.01 * plated, 0.1 * CM2), max(0.01 * displaced, 0.1 * ML)
    found = []
    for name, code, quantity, least in (
        ("dry", ReasonCode.BESIDE_IN_GAS, Of.AREA, area),
        ("underside", ReasonCode.BESIDE_UNDERSIDE, Of.AREA, area),
        ("held", ReasonCode.BESIDE_CARRIED_OUT, Of.VOLUME, volume),
        ("visible_spoilt", ReasonCode.BESIDE_SHOW, Of.AREA, area),
        ("thin_spoilt", ReasonCode.BESIDE_THIN, Of.AREA, area),
    ):
        more = (getattr(suggestion, name) or 0.0) - (getattr(other, name) or 0.0)
        if abs(more) > least:
            found.append(Reason(code, {quantity: more}))
    if suggestion.hold is not None and other.hold is not None and suggestion.hold.wires != other.hold.wires:
        simpler = _is_simpler(suggestion.hold, other.hold)
        found.append(Reason(ReasonCode.BESIDE_SIMPLER if simpler else ReasonCode.BESIDE_HARDER))
    if suggestion.hold is not None and other.hold is not None and suggestion.hold.show != other.hold.show:
        found.append(Reason(ReasonCode.BESIDE_MARK if suggestion.hold.show else ReasonCode.BESIDE_NO_MARK))
    if suggestion.fits and not other.fits:
        found.append(Reason(ReasonCode.BESIDE_FITS))
    return tuple(found) or (Reason(ReasonCode.BESIDE_NO_BETTER),)


def with_hold(suggestion: Suggestion, kept: Hold) -> Suggestion:
    """The same way up on these wires."""
    assert suggestion.hold is not None
    before = hold_reasons(suggestion.hold, "one wire")
    start = next(
        (n for n in range(len(suggestion.reasons)) if list(suggestion.reasons[n : n + len(before)]) == before), None
    )
    reasons = suggestion.reasons
    if start is not None:
        reasons = (*reasons[:start], *hold_reasons(kept, "one wire"), *reasons[start + len(before) :])
    return replace(suggestion, hold=kept, contact=kept.points[0] if kept.wires == 1 else None, reasons=reasons)


def _is_simpler(hold: Hold, other: Hold) -> bool:
    return hold.wires > 0 and (other.wires == 0 or hold.wires < other.wires)


def hold_reasons(kept: Hold | None, hook: str) -> list[Reason]:
    """What keeps the part this way up, and whether that marks a show face."""
    if hook == "rigid":
        return [Reason(ReasonCode.RIGID_HOOK)]
    if kept is None:
        return [Reason(ReasonCode.HOLD_UNKNOWN)]
    at = tuple(spot(point) for point in kept.points)
    mark = [Reason(ReasonCode.MARKS_SHOW)] if kept.show else []
    if kept.tether:
        return [Reason(ReasonCode.ON_BALLAST, places=at), *mark]
    if kept.wires:
        code = (ReasonCode.ON_ONE_WIRE, ReasonCode.ON_TWO_WIRES, ReasonCode.ON_THREE_WIRES)[kept.wires - 1]
        return [Reason(code, places=at), *mark]
    return [Reason(ReasonCode.NEEDS_HOOK)]
