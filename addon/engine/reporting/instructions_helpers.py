"""Every sentence of the plan on what is printed to stand in the tank, each with its source (`instructions`)."""

from __future__ import annotations

from .instructions import COMPUTED, PRACTICE, SOLID, Instruction, Instructions


class Printing(Instructions):
    """How the helpers of the tank are printed."""

    RACK = Instruction("Print the rack solid, in {plastic}, flat on its back: no support is needed.", SOLID)
    ANODE_HOLDER = Instruction(
        "Print the {count} strips of the anode holders solid, in {plastic}, lying on their sides.", SOLID
    )
    SHIELD = Instruction("Print the shields solid, in {plastic}, flat on their backs: {count} of them.", SOLID)
    THIEF = Instruction("Print the former of the thief solid, in {plastic}, flat on its back.", SOLID)


class Standing(Instructions):
    """How they are set up."""

    RODS = Instruction(
        "Lay two rods of {rod} mm across the tank, {apart} mm from its middle to either side, from"
        " anode side to anode side: the printed helpers hang on them.",
        COMPUTED,
    )
    RACK = Instruction(
        "In the printed rack: lead the wire of each copy up its groove, wind it twice around the bar,"
        " and connect all to MINUS; hook the rack over both rods.",
        "grooves straight over the copies, computed",
    )
    ANODE_HOLDER = Instruction(
        "In the printed holders: hang the strips over the rim, stand {anodes} on their feet, and wind"
        " the wire of each around the posts.",
        PRACTICE,
    )
    SHIELD = Instruction(
        "Hook the printed shields over both rods, {off} mm from the part, window to the part.", COMPUTED
    )
    THIEF = Instruction(
        "Bend {length} mm of bare {wire} mm copper wire into a rectangle around the fingers of the"
        " printed former, once around each; connect it to MINUS; hook the former over both rods, with"
        " the part in the middle of the rectangle.",
        "place of the wire, computed (docs/theory-helpers.md)",
    )
    TIED = Instruction("Tie down what the bath lifts: {what}.", "weight and lift, computed")
