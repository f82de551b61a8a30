"""Reasons in words: why a place for a wire is suggested."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from ..findings import Quantity as Of
from ..reasons import Reason, ReasonCode
from .plan_text import figure


def text(reason: Reason) -> str:
    """One reason in a few words, without a capital or a stop."""
    return TEMPLATES[reason.code](reason)


def texts(reasons: Iterable[Reason]) -> list[str]:
    """Reasons in words, in order."""
    return [text(one) for one in reasons]


def _volts(reason: Reason, quantity: Of = Of.VOLTAGE) -> str:
    return f"{figure(reason.shown(quantity), 2)} V"


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
}
