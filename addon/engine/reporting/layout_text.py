"""Layouts in words: trials, their effect on the deposit, and what was not tried."""

from __future__ import annotations

from ..field.trials import LayoutKind, Remark, RemarkCode, Trial
from ..units import A_PER_DM2, mm
from . import reason_text
from .filled import filled, joined

NAMES = {
    LayoutKind.AS_SET: "as it is",
    LayoutKind.NOT_TURNED: "as it is, but not turned",
    LayoutKind.TURNED: "as it is, turned at half time",
    LayoutKind.OTHER_DENSITY: "as it is, at {density} A/dm2",
    LayoutKind.DENSITY_BELOW_WINDOW: "as it is, at {density} A/dm2, below the bath's plating range",
    LayoutKind.DENSITY_ABOVE_WINDOW: "as it is, at {density} A/dm2, above the bath's plating range",
    LayoutKind.ONE_SIDE: "a plate on one side, {far} mm away",
    LayoutKind.TWO_SIDES: "plates on two sides, {far} mm away",
    LayoutKind.RING: "a ring of {count} plates",
}
REMARKS = {
    RemarkCode.TURN_REFUSED: "a turn at half time was not tried: {why}",
    RemarkCode.NO_ROOM_AT_SIDES: ("plates on the sides were not tried: there is no room between the part and the wall"),
    RemarkCode.SIDES_REFUSED: "plates on the sides were not tried: {why}",
    RemarkCode.NO_ROOM_FOR_RING: "a ring of plates was not tried: there is no room for one around the part",
    RemarkCode.RING_REFUSED: "a ring of plates was not tried: {why}",
    RemarkCode.OUT_OF_REACH: (
        "no other anodes reach the thinnest place: it lies in a hollow or a slot; open it, hang a small anode into it,"
        " or leave it out and judge by what all but the thinnest 5 % of the area get"
    ),
}


def name(trial: Trial) -> str:
    """The layout's name, without a capital or a stop."""
    layout = trial.layout
    if layout.kind is LayoutKind.WITHOUT_BODIES:
        if len(layout.without) > 1:
            return "without any thief or shield"
        return filled("without {name}", name=layout.without[0])
    text = filled(
        NAMES[layout.kind],
        density=f"{trial.density / A_PER_DM2:.3g}",
        far=mm(layout.gap, 0),
        count=len(layout.anodes or ()),
    )
    if layout.kind is LayoutKind.ONE_SIDE and layout.half_turn:
        return filled("{layout}, turned at half time", layout=text)
    return text


def why(trial: Trial) -> str:
    """Its effect on the deposit, compared with the unchanged job."""
    return joined(reason_text.texts(trial.reasons), "; ")


def remark(note: Remark) -> str:
    """What was not tried and why, or what no layout changes; without a capital or a stop."""
    return filled(REMARKS[note.code], why=note.fault)
