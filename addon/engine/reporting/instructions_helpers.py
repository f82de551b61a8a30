"""The plan's sentences on printed helpers for the tank and on printed masks, each with its source."""

from __future__ import annotations

from .instructions import COMPUTED, MASKING, PRACTICE, SOLID, Instruction, Instructions


class Printing(Instructions):
    """How the helpers of the tank are printed."""

    RACK = Instruction("Print the rack solid, in {plastic}, flat on its back: no support is needed.", SOLID)
    ANODE_HOLDER = Instruction(
        "Print the {count} strips of the anode holders solid, in {plastic}, lying on their sides.", SOLID
    )
    SHIELD = Instruction("Print the shields solid, in {plastic}, flat on their backs: {count} of them.", SOLID)
    THIEF = Instruction("Print the former of the thief solid, in {plastic}, flat on its back.", SOLID)


class Standing(Instructions):
    """How the helpers are set up."""

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


class Masking(Instructions):
    """How printed masks are printed, put on and taken off."""

    PRINT = Instruction(
        "Print {masks} solid, in {plastic}, caps on the closed end and plugs on the wide end.",
        "nothing overhangs so: geometry; solid: " + PRACTICE,
    )
    PRINT_TWICE = Instruction(
        "Print {masks} solid, in {plastic}, caps on the closed end, plugs on the wide end; twice: a mask"
        " that was coated is plated.",
        "nothing overhangs so: geometry; solid: " + PRACTICE,
    )
    CAP = Instruction(
        "Push a printed cap of {outer} mm over the end of {shaft} mm at {place} until it stops.",
        MASKING + "; its place: computed",
    )
    PLUG = Instruction(
        "Push a printed plug of {top} mm, thin end first, tight into the hole of {hole} mm at {place}.",
        MASKING + "; taper of 1 in 20: " + PRACTICE,
    )
    BY_HAND = Instruction(
        "No printed mask covers {area} cm2 at {place}, because {why}: use lacquer or tape there.", COMPUTED
    )
    BY_HAND_TAPE = Instruction("No printed mask covers {area} cm2 at {place}, because {why}: use tape there.", COMPUTED)
    MORE_BY_HAND_TAPE = Instruction("Cover {count} smaller regions with tape as well.", COMPUTED)
    MORE_BY_HAND = Instruction("Cover {count} smaller regions with lacquer or tape as well.", COMPUTED)
    COAT_OFF = Instruction(
        "When it is dry, cut the coat along the edge of each printed mask, and pull the mask off.", PRACTICE
    )
    CLEAN_ON = Instruction(
        "Then push clean printed masks on, and close their edges with a ring of stop-off lacquer; cut along it"
        " and pull them off once the part is rinsed.",
        MASKING,
    )
    SEAL = Instruction(
        "Close the edges of the printed masks with a ring of stop-off lacquer; cut along it and pull them"
        " off once the part is weighed after the bath.",
        MASKING,
    )
