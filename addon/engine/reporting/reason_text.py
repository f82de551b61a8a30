"""Reasons in words: why a place for a wire, a way up or a first current is suggested, and what a layout does."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import reduce

from ..findings import Quantity as Of
from ..reasons import Reason, ReasonCode
from ..units import point_mm
from .filled import filled
from .plan_text import figure
from .words import listed


def text(reason: Reason) -> str:
    """One reason in a few words, without a capital or a stop."""
    return TEMPLATES[reason.code](reason)


def texts(reasons: Iterable[Reason]) -> list[str]:
    """Reasons in words, in order."""
    return [text(reason) for reason in reasons]


def _volts(reason: Reason, quantity: Of = Of.VOLTAGE) -> str:
    return figure(reason.shown(quantity), 2)


def _area(reason: Reason) -> str:
    return figure(abs(reason.shown(Of.AREA)), 2)


def _volume(reason: Reason) -> str:
    return figure(abs(reason.shown(Of.VOLUME)), 2)


def _swing(reason: Reason) -> str:
    return f"{reason.shown(Of.SWING):.0f}"


def _share(reason: Reason) -> str:
    return f"{100 * reason.shown(Of.SHARE):.0f}"


def _at(reason: Reason) -> str:
    """Places to a whole millimeter: a wire needs no more."""
    places = [point_mm(place, 0) for place in reason.places]
    return reduce(lambda a, b: listed((a, b)), places)


def _beside(less: str, more: str, describe: Callable[[Reason], str], quantity: Of) -> Callable[[Reason], str]:
    """A difference from the next suggestion."""
    return lambda r: filled(less if r.quantities[quantity] < 0 else more, figure=describe(r))


TEMPLATES: Mapping[ReasonCode, Callable[[Reason], str]] = {
    ReasonCode.IN_VIEW: lambda r: "in view: the wire leaves a mark there",
    ReasonCode.HIDDEN_OFF_SHOW: lambda r: "hidden: not on a face that shows",
    ReasonCode.HIDDEN_HOLLOW: lambda r: "hidden: in a hollow",
    ReasonCode.HIDDEN_UNDERSIDE: lambda r: "hidden: on the underside",
    ReasonCode.PART_CONDUCTS: lambda r: "no loss: the part itself conducts",
    ReasonCode.LEAST_LOSS: lambda r: filled(
        "loses {voltage} V along the coat at the far end, the least of any place", voltage=_volts(r)
    ),
    ReasonCode.MORE_LOSS: lambda r: filled(
        "loses {voltage} V along the coat at the far end; the best place of all loses {best} V",
        voltage=_volts(r),
        best=_volts(r, Of.LIMIT_VOLTAGE),
    ),
    ReasonCode.HARD_TO_REACH: lambda r: filled(
        "hard to reach: sees {share} % of the bath, and no place here sees enough", share=_share(r)
    ),
    ReasonCode.IN_GAS: lambda r: "gas stays there, and no place here is clear of it: turn the part or vent the pocket",
    ReasonCode.ON_SHOW: lambda r: "on a face that shows: no other place is left",
    ReasonCode.FULL_IS_SAFE: lambda r: "the full current is safe from the start",
    ReasonCode.METAL_IS_SAFE: lambda r: "the part itself conducts: the full current is safe from the start",
    ReasonCode.WOULD_WARM: lambda r: "more would warm the coat at the wire towards the plastic's softening",
    ReasonCode.WOULD_BURN: lambda r: filled(
        "with more current the faces at the wire would get over {density} A/dm2, the most for a sound deposit",
        density=figure(r.shown(Of.HIGH_DENSITY), 2),
    ),
    ReasonCode.PLASTIC_IS_SOFT: lambda r: "the plastic is soft in this bath",
    ReasonCode.COAT_TOO_POOR: lambda r: "the coat conducts too little for any start",
    ReasonCode.SUPPLY_TOO_COARSE: lambda r: "no supply sets so small a current",
    ReasonCode.COAT_SHORT_LIVED: lambda r: "the coat does not last until metal covers it",
    ReasonCode.LEAST_GAS: lambda r: "of all ways up the least in gas",
    ReasonCode.LEAST_BUBBLES: lambda r: "of all ways up the least that keeps bubbles",
    ReasonCode.LEAST_CARRIED_OUT: lambda r: "of all ways up the least bath carried out in hollows",
    ReasonCode.TRAPS_GAS: lambda r: filled(
        "traps {volume} mL of gas over {area} cm2", volume=_volume(r), area=_area(r)
    ),
    ReasonCode.TRAPS_NO_GAS: lambda r: "traps no gas",
    ReasonCode.FLOATS_WHILE_FULL: lambda r: filled(
        "floats up until its pockets are vented, {mass} g too light", mass=figure(r.shown(Of.MASS), 2)
    ),
    ReasonCode.SWINGS_WHILE_FULL: lambda r: filled(
        "swings {swing} degrees while its pockets are full", swing=_swing(r)
    ),
    ReasonCode.BUBBLES_CLING: lambda r: filled("bubbles cling to {area} cm2 of undersides", area=_area(r)),
    ReasonCode.NO_UNDERSIDES: lambda r: "no level undersides",
    ReasonCode.SPOILS_SHOW: lambda r: filled("{area} cm2 of that on show faces", area=_area(r)),
    ReasonCode.SPOILS_THIN: lambda r: filled("{area} cm2 of that where the deposit is thin anyway", area=_area(r)),
    ReasonCode.CARRIES_OUT: lambda r: filled("carries {volume} mL of bath out in hollows", volume=_volume(r)),
    ReasonCode.DRAINS: lambda r: "drains by itself",
    ReasonCode.TURNED: lambda r: filled("turned {swing} degrees about the vertical", swing=_swing(r)),
    ReasonCode.TURNED_TO_FIT: lambda r: filled(
        "turned {swing} degrees about the vertical to fit the tank", swing=_swing(r)
    ),
    ReasonCode.TURNED_FOR_LESS_BATH: lambda r: filled(
        "turned {swing} degrees about the vertical to fit a smaller tank", swing=_swing(r)
    ),
    ReasonCode.SHOWS_TO_ANODES: lambda r: filled("{share} % of the show faces look to the anodes", share=_share(r)),
    ReasonCode.TOO_LARGE: lambda r: filled(
        "too large for the tank by {distance} mm this way", distance=f"{r.shown(Of.DISTANCE):.0f}"
    ),
    ReasonCode.RIGID_HOOK: lambda r: "a rigid hook keeps it so",
    ReasonCode.HOLD_UNKNOWN: lambda r: "what holds it so is not known, for the mesh is open",
    ReasonCode.ON_BALLAST: lambda r: filled("on a flexible wire its ballast, tied at {at} mm, keeps it so", at=_at(r)),
    ReasonCode.ON_ONE_WIRE: lambda r: filled("hangs so on one wire by itself, at {at} mm", at=_at(r)),
    ReasonCode.ON_TWO_WIRES: lambda r: filled(
        "hangs so on two wires of equal length, at {at} mm; it swings about the line between them only", at=_at(r)
    ),
    ReasonCode.ON_THREE_WIRES: lambda r: filled("hangs so on three wires of equal length, at {at} mm", at=_at(r)),
    ReasonCode.NEEDS_HOOK: lambda r: "needs a rigid hook to stay so",
    ReasonCode.MARKS_SHOW: lambda r: "that leaves a mark on a show face",
    ReasonCode.ALIKE: lambda r: "any side that looks like this one does as well",
    ReasonCode.BESIDE_IN_GAS: _beside(
        "{figure} cm2 less in gas than the next", "{figure} cm2 more in gas than the next", _area, Of.AREA
    ),
    ReasonCode.BESIDE_UNDERSIDE: _beside(
        "{figure} cm2 less of level undersides than the next",
        "{figure} cm2 more of level undersides than the next",
        _area,
        Of.AREA,
    ),
    ReasonCode.BESIDE_CARRIED_OUT: _beside(
        "{figure} mL less carried out in hollows than the next",
        "{figure} mL more carried out in hollows than the next",
        _volume,
        Of.VOLUME,
    ),
    ReasonCode.BESIDE_SHOW: _beside(
        "{figure} cm2 less of spoilt show faces than the next",
        "{figure} cm2 more of spoilt show faces than the next",
        _area,
        Of.AREA,
    ),
    ReasonCode.BESIDE_THIN: _beside(
        "{figure} cm2 less spoilt where the deposit is thin anyway than the next",
        "{figure} cm2 more spoilt where the deposit is thin anyway than the next",
        _area,
        Of.AREA,
    ),
    ReasonCode.BESIDE_SIMPLER: lambda r: "held more simply than the next",
    ReasonCode.BESIDE_HARDER: lambda r: "harder to hold than the next",
    ReasonCode.BESIDE_MARK: lambda r: "marks a show face, the next does not",
    ReasonCode.BESIDE_NO_MARK: lambda r: "no mark on a show face, as the next leaves",
    ReasonCode.BESIDE_FITS: lambda r: "fits the tank, the next does not",
    ReasonCode.BESIDE_NO_BETTER: lambda r: "no better than the next",
    ReasonCode.JOB_AS_SET: lambda r: "the job's own anodes and density",
    ReasonCode.BACK_STAYS_BEHIND: lambda r: "what faces away stays there",
    ReasonCode.BACK_COMES_FORWARD: lambda r: "what faces away comes to the front for half of the time",
    ReasonCode.BACK_GETS_LITTLE: lambda r: "the side that faces away gets little",
    ReasonCode.BOTH_SIDES_FACE: lambda r: "both sides face an anode",
    ReasonCode.CURRENT_FROM_ALL_SIDES: lambda r: "current comes from all around",
    ReasonCode.CURRENT_UNGUIDED: lambda r: "the current goes where it would by itself",
    ReasonCode.SLOWER: lambda r: "slower",
    ReasonCode.SLOWER_AND_EVENER: lambda r: "slower; polarization evens out more at less current",
    ReasonCode.QUICKER: lambda r: "quicker",
    ReasonCode.QUICKER_AND_LESS_EVEN: lambda r: "quicker; polarization evens out less at more current",
    ReasonCode.ANODE_OVERLOADED: lambda r: filled(
        "an anode gives {load} A/dm2, above its limit of {limit}",
        load=f"{r.shown(Of.HIGH_DENSITY):.2g}",
        limit=f"{r.shown(Of.LIMIT_DENSITY):.2g}",
    ),
    ReasonCode.THINNEST_GETS_MORE: lambda r: filled(
        "the thinnest place gets {percent} % more for the same mean", percent=_share(r)
    ),
    ReasonCode.THINNEST_GETS_LESS: lambda r: filled(
        "the thinnest place gets {percent} % less for the same mean", percent=_share(r)
    ),
    ReasonCode.THINNEST_GETS_SOME: lambda r: "the thinnest place gets some deposit",
    ReasonCode.THINNEST_GETS_NONE: lambda r: "the thinnest place gets none, as now",
    ReasonCode.AS_EVEN: lambda r: "as even as now",
}
