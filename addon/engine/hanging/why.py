"""Reasons for a suggested way up: gas, bubbles and bath on the part, how it stands, and what holds it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..findings import Quantity as Of
from ..findings import spot
from ..reasons import Reason, ReasonCode
from ..settings.tank import Tank
from ..trapping.bores import MIN_UNDERSIDE_M2
from ..units import CM2, ML
from .fit import Fit
from .hold import Hold
from .suggestion import Suggestion

MIN_SPOILT_SHARE = 1e-3  # of the plated surface: less counts as none
MIN_REPORTED_SWING_RAD = np.radians(2)  # of the part on its wire
MIN_REPORTED_HELD_M3 = 0.05 * ML  # m3 of bath carried out: less is a drop
# Of the part's plated area or volume: least difference between two ways up that is reported
MIN_DIFFERENCE_SHARE = 0.01


def spoilt_reasons(suggestion: Suggestion, plated: float, *, floats_while_full: bool) -> tuple[Reason, ...]:
    """Reasons about gas, bubbles and bath in this way up.

    plated : m2 of the part; floats_while_full : whether it sinks, but not while its pockets are full of gas
    """
    trifle = MIN_SPOILT_SHARE * plated
    reasons = []
    if suggestion.dry > trifle:
        reasons.append(Reason(ReasonCode.TRAPS_GAS, {Of.VOLUME: suggestion.trapped, Of.AREA: suggestion.dry}))
        if floats_while_full and suggestion.net_full is not None:
            reasons.append(Reason(ReasonCode.FLOATS_WHILE_FULL, {Of.MASS: -suggestion.net_full}))
        elif suggestion.swing is not None and suggestion.swing > MIN_REPORTED_SWING_RAD:
            reasons.append(Reason(ReasonCode.SWINGS_WHILE_FULL, {Of.SWING: suggestion.swing}))
    else:
        reasons.append(Reason(ReasonCode.TRAPS_NO_GAS))
    bubbles = Reason(ReasonCode.BUBBLES_CLING, {Of.AREA: suggestion.underside})
    clings = suggestion.underside > max(trifle, MIN_UNDERSIDE_M2)
    reasons.append(bubbles if clings else Reason(ReasonCode.NO_UNDERSIDES))
    if suggestion.visible_spoilt > trifle:
        reasons.append(Reason(ReasonCode.SPOILS_SHOW, {Of.AREA: suggestion.visible_spoilt}))
    if suggestion.thin_spoilt is not None and suggestion.thin_spoilt > trifle:
        reasons.append(Reason(ReasonCode.SPOILS_THIN, {Of.AREA: suggestion.thin_spoilt}))
    carried = Reason(ReasonCode.CARRIES_OUT, {Of.VOLUME: suggestion.held})
    reasons.append(carried if suggestion.held > MIN_REPORTED_HELD_M3 else Reason(ReasonCode.DRAINS))
    return tuple(reasons)


def standing_reasons(suggestion: Suggestion, room: Fit, tank: Tank, hook: str) -> tuple[Reason, ...]:
    """How the part stands in the tank this way up, and what keeps it so. hook : what holds it, as of `hold.find`"""
    reasons = []
    if suggestion.facing is not None:
        reasons += [Reason(ReasonCode.TURNED, {Of.SWING: room.yaw})] * bool(room.yaw)
        reasons.append(Reason(ReasonCode.SHOWS_TO_ANODES, {Of.SHARE: suggestion.facing}))
    elif room.yaw and room.fits:
        less = ReasonCode.TURNED_FOR_LESS_BATH if tank.shape == "open" else ReasonCode.TURNED_TO_FIT
        reasons.append(Reason(less, {Of.SWING: room.yaw}))
    if not room.fits:
        reasons.append(Reason(ReasonCode.TOO_LARGE, {Of.DISTANCE: -room.slack}))
    return (*reasons, *hold_reasons(suggestion.hold, hook))


def hold_reasons(hold: Hold | None, hook: str) -> list[Reason]:
    """What keeps the part this way up, and whether that marks a show face."""
    if hook == "rigid":
        return [Reason(ReasonCode.RIGID_HOOK)]
    if hold is None:
        return [Reason(ReasonCode.HOLD_UNKNOWN)]
    at = tuple(spot(point) for point in hold.points)
    mark = [Reason(ReasonCode.MARKS_SHOW)] if hold.show else []
    if hold.tether:
        return [Reason(ReasonCode.ON_BALLAST, places=at), *mark]
    if hold.wires:
        code = (ReasonCode.ON_ONE_WIRE, ReasonCode.ON_TWO_WIRES, ReasonCode.ON_THREE_WIRES)[hold.wires - 1]
        return [Reason(code, places=at), *mark]
    return [Reason(ReasonCode.NEEDS_HOOK)]


def comparison_reasons(
    suggestion: Suggestion, other: Suggestion, plated: float, displaced: float
) -> tuple[Reason, ...]:
    """What a way up gains and loses against the next. plated : m2; displaced : m3, both of the part"""
    area, volume = max(MIN_DIFFERENCE_SHARE * plated, 0.1 * CM2), max(MIN_DIFFERENCE_SHARE * displaced, 0.1 * ML)
    reasons = []
    for name, code, quantity, least in (
        ("dry", ReasonCode.BESIDE_IN_GAS, Of.AREA, area),
        ("underside", ReasonCode.BESIDE_UNDERSIDE, Of.AREA, area),
        ("held", ReasonCode.BESIDE_CARRIED_OUT, Of.VOLUME, volume),
        ("visible_spoilt", ReasonCode.BESIDE_SHOW, Of.AREA, area),
        ("thin_spoilt", ReasonCode.BESIDE_THIN, Of.AREA, area),
    ):
        more = (getattr(suggestion, name) or 0.0) - (getattr(other, name) or 0.0)
        if abs(more) > least:
            reasons.append(Reason(code, {quantity: more}))
    if suggestion.hold is not None and other.hold is not None and suggestion.hold.wires != other.hold.wires:
        simpler = _is_simpler(suggestion.hold, other.hold)
        reasons.append(Reason(ReasonCode.BESIDE_SIMPLER if simpler else ReasonCode.BESIDE_HARDER))
    if suggestion.hold is not None and other.hold is not None and suggestion.hold.show != other.hold.show:
        reasons.append(Reason(ReasonCode.BESIDE_MARK if suggestion.hold.show else ReasonCode.BESIDE_NO_MARK))
    if suggestion.fits and not other.fits:
        reasons.append(Reason(ReasonCode.BESIDE_FITS))
    return tuple(reasons) or (Reason(ReasonCode.BESIDE_NO_BETTER),)


def with_hold(suggestion: Suggestion, hold: Hold) -> Suggestion:
    """The same way up on these wires."""
    before = hold_reasons(suggestion.hold, "one wire")
    start = next(
        (n for n in range(len(suggestion.reasons)) if list(suggestion.reasons[n : n + len(before)]) == before), None
    )
    reasons = suggestion.reasons
    if start is not None:
        reasons = (*reasons[:start], *hold_reasons(hold, "one wire"), *reasons[start + len(before) :])
    return replace(suggestion, hold=hold, contact=hold.points[0] if hold.wires == 1 else None, reasons=reasons)


def _is_simpler(hold: Hold, other: Hold) -> bool:
    return hold.wires > 0 and (other.wires == 0 or hold.wires < other.wires)
