"""Reasons in words: why a place for a wire, a way up or a first current is suggested."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from ..findings import Quantity as Of
from ..reasons import Reason, ReasonCode
from ..units import point_mm
from .plan_text import figure


def text(reason: Reason) -> str:
    """One reason in a few words, without a capital or a stop."""
    return TEMPLATES[reason.code](reason)


def texts(reasons: Iterable[Reason]) -> list[str]:
    """Reasons in words, in order."""
    return [text(one) for one in reasons]


def _volts(reason: Reason, quantity: Of = Of.VOLTAGE) -> str:
    return f"{figure(reason.shown(quantity), 2)} V"


def _area(reason: Reason) -> str:
    return f"{figure(abs(reason.shown(Of.AREA)), 2)} cm2"


def _volume(reason: Reason) -> str:
    return f"{figure(abs(reason.shown(Of.VOLUME)), 2)} mL"


def _at(reason: Reason) -> str:
    """Places to a whole millimeter: a wire needs no more."""
    return " and ".join(point_mm(place, 0) for place in reason.places) + " mm"


def _turned(reason: Reason) -> str:
    return f"turned {reason.shown(Of.SWING):.0f} degrees about the vertical"


def _beside(what: str, told: Callable[[Reason], str], quantity: Of) -> Callable[[Reason], str]:
    """A difference from the next suggestion."""
    return lambda r: f"{told(r)} {'less' if r.quantities[quantity] < 0 else 'more'} {what} than the next"


TEMPLATES: Mapping[ReasonCode, Callable[[Reason], str]] = {
    ReasonCode.IN_VIEW: lambda r: "in view: the wire leaves a mark there",
    ReasonCode.HIDDEN_OFF_SHOW: lambda r: "hidden: not on a face that shows",
    ReasonCode.HIDDEN_HOLLOW: lambda r: "hidden: in a hollow",
    ReasonCode.HIDDEN_UNDERSIDE: lambda r: "hidden: on the underside",
    ReasonCode.PART_CONDUCTS: lambda r: "no loss: the part itself conducts",
    ReasonCode.LEAST_LOSS: lambda r: f"loses {_volts(r)} along the coat at the far end, the least of any place",
    ReasonCode.MORE_LOSS: lambda r: (
        f"loses {_volts(r)} along the coat at the far end; the best place of all loses {_volts(r, Of.LIMIT_VOLTAGE)}"
    ),
    ReasonCode.HARD_TO_REACH: lambda r: (
        f"hard to reach: sees {100 * r.shown(Of.SHARE):.0f} % of the bath, and no place here sees enough"
    ),
    ReasonCode.IN_GAS: lambda r: "gas stays there, and no place here is clear of it: turn the part or vent the pocket",
    ReasonCode.ON_SHOW: lambda r: "on a face that shows: no other place is left",
    ReasonCode.FULL_IS_SAFE: lambda r: "the full current is safe from the start",
    ReasonCode.METAL_IS_SAFE: lambda r: "the part itself conducts: the full current is safe from the start",
    ReasonCode.WOULD_WARM: lambda r: "more would warm the coat at the wire towards the plastic's softening",
    ReasonCode.WOULD_BURN: lambda r: (
        f"with more the faces at the wire would get over {figure(r.shown(Of.HIGH_DENSITY), 2)} A/dm2, the most for a"
        " sound deposit"
    ),
    ReasonCode.PLASTIC_IS_SOFT: lambda r: "the plastic is soft in this bath",
    ReasonCode.COAT_TOO_POOR: lambda r: "the coat conducts too little for any start",
    ReasonCode.SUPPLY_TOO_COARSE: lambda r: "no supply sets so small a current",
    ReasonCode.COAT_SHORT_LIVED: lambda r: "the coat does not last until metal covers it",
    ReasonCode.LEAST_GAS: lambda r: "of all ways up the least in gas",
    ReasonCode.LEAST_BUBBLES: lambda r: "of all ways up the least that keeps bubbles",
    ReasonCode.LEAST_CARRIED_OUT: lambda r: "of all ways up the least bath carried out",
    ReasonCode.TRAPS_GAS: lambda r: f"traps {_volume(r)} of gas over {_area(r)}",
    ReasonCode.TRAPS_NO_GAS: lambda r: "traps no gas",
    ReasonCode.FLOATS_WHILE_FULL: lambda r: (
        f"floats up until its pockets are vented, {figure(r.shown(Of.MASS), 2)} g too light"
    ),
    ReasonCode.SWINGS_WHILE_FULL: lambda r: f"swings {r.shown(Of.SWING):.0f} degrees while its pockets are full",
    ReasonCode.BUBBLES_CLING: lambda r: f"bubbles cling to {_area(r)} of undersides",
    ReasonCode.NO_UNDERSIDES: lambda r: "no level undersides",
    ReasonCode.SPOILS_SHOW: lambda r: f"{_area(r)} of that on show faces",
    ReasonCode.SPOILS_THIN: lambda r: f"{_area(r)} of that where the deposit is thin anyway",
    ReasonCode.CARRIES_OUT: lambda r: f"carries {_volume(r)} of bath out when lifted",
    ReasonCode.DRAINS: lambda r: "drains by itself",
    ReasonCode.TURNED: _turned,
    ReasonCode.TURNED_TO_FIT: lambda r: f"{_turned(r)} to fit the tank",
    ReasonCode.TURNED_FOR_LESS_BATH: lambda r: f"{_turned(r)} to fit a smaller tank",
    ReasonCode.SHOWS_TO_ANODES: lambda r: f"{100 * r.shown(Of.SHARE):.0f} % of the show faces look to the anodes",
    ReasonCode.TOO_LARGE: lambda r: f"too large for the tank by {r.shown(Of.DISTANCE):.0f} mm this way",
    ReasonCode.RIGID_HOOK: lambda r: "a rigid hook keeps it so",
    ReasonCode.HOLD_UNKNOWN: lambda r: "what holds it so is not known, for the mesh is open",
    ReasonCode.ON_BALLAST: lambda r: f"on a flexible wire its ballast, tied at {_at(r)}, keeps it so",
    ReasonCode.ON_ONE_WIRE: lambda r: f"hangs so on one wire by itself, at {_at(r)}",
    ReasonCode.ON_TWO_WIRES: lambda r: (
        f"hangs so on two wires of equal length, at {_at(r)}; it swings about the line between them only"
    ),
    ReasonCode.NEEDS_HOOK: lambda r: "needs a rigid hook to stay so",
    ReasonCode.MARKS_SHOW: lambda r: "that leaves a mark on a show face",
    ReasonCode.ALIKE: lambda r: "any side that looks like this one does as well",
    ReasonCode.BESIDE_IN_GAS: _beside("in gas", _area, Of.AREA),
    ReasonCode.BESIDE_UNDERSIDE: _beside("of level undersides", _area, Of.AREA),
    ReasonCode.BESIDE_CARRIED_OUT: _beside("carried out", _volume, Of.VOLUME),
    ReasonCode.BESIDE_SHOW: _beside("of spoilt show faces", _area, Of.AREA),
    ReasonCode.BESIDE_THIN: _beside("spoilt where the deposit is thin anyway", _area, Of.AREA),
    ReasonCode.BESIDE_SIMPLER: lambda r: "held more simply than the next",
    ReasonCode.BESIDE_HARDER: lambda r: "harder to hold than the next",
    ReasonCode.BESIDE_MARK: lambda r: "marks a show face, the next does not",
    ReasonCode.BESIDE_NO_MARK: lambda r: "no mark on a show face, as the next leaves",
    ReasonCode.BESIDE_FITS: lambda r: "fits the tank, the next does not",
    ReasonCode.BESIDE_NO_BETTER: lambda r: "no better than the next",
}
