"""Short cautions repeated at a step, and lines for special jobs. One row per sentence."""

from __future__ import annotations

from .instructions import (
    ACID_INTO_WATER,
    COMPUTED,
    ICSC_HYDROGEN,
    MASKING,
    NICKEL_CLASS,
    OFF_FIRST,
    PRACTICE,
    RECESSES,
    WET_SANDING,
    Instruction,
    Instructions,
)


class AtStep(Instructions):
    """Short cautions, repeated at the step that they belong to."""

    SOLVENT = Instruction(
        "Solvent is flammable and harmful: outdoors or under extraction, mask for organic vapor, no flame.",
        "data sheets",
    )
    DUST = Instruction("Dust mask; sand wet only.", WET_SANDING)
    ACID = Instruction("Acid burns: goggles, gloves, apron. Acid into water, never water into acid.", ACID_INTO_WATER)
    NICKEL = Instruction("No skin contact, no mist, no dust: nickel salts sensitize and cause cancer.", NICKEL_CLASS)
    TAPE_OFF = Instruction(
        "When the coat is dry, cut it along the edge of the tape and pull the tape off: plastic without a coat takes no"
        " metal.",
        PRACTICE,
    )
    LACQUER_WIRES = Instruction(
        "Lacquer each wire from the part to above the liquid; let it dry.",
        "current of a bare wire: computed; lacquer: " + MASKING,
    )
    NO_BALLAST = Instruction("Weigh it without its ballast.")
    UNCOVER = Instruction("After weighing take off the lacquer or tape that covers the bare faces.", MASKING)
    MORE_WIRES = Instruction(
        "Best places for {count}: {places}. Name all in the job and make this plan again.",
        "ranking of places by what the coat loses, computed",
    )
    CARRIER = Instruction(
        "Tie one more wire at {places}: only with it does the part stay as it hangs. Connect it to MINUS as well.",
        "statics, computed (docs/theory-hanging.md)",
    )
    CARRIERS = Instruction(
        "Tie more wires, of equal length, at {places}: only with them does the part stay as it hangs."
        " Connect them to MINUS as well.",
        "statics, computed (docs/theory-hanging.md)",
    )
    SHIELD = Instruction("Hang the shields where the job places them.", COMPUTED)
    THIEF = Instruction(
        "Hang the thieves where the job places them and connect them to MINUS too. They take {share}"
        " % of the current: every current in this plan is for part and thieves together.",
        COMPUTED,
    )
    OWN_WIRE = Instruction(
        "For the printed hanger fix one more bare copper wire of {diameter} mm at {place}; connect it"
        " to MINUS as well.",
        "places reached from straight above, computed (docs/theory-hanging.md)",
    )
    HANGER = Instruction(
        "Or set it in the printed hanger, with neither rigid wire nor ballast: lead the wire at"
        " {place} up the groove, pull it with {pull} g or more until the part sits on {count}"
        " fingers, wind it around the notches.",
        "statics of three supports and a pull, computed (docs/theory-hanging.md)",
    )
    CAGE = Instruction(
        "Or lay it between the bars of the printed hanger, with neither rigid wire nor ballast: push"
        " the second plate onto the ends of the bars and tie it there; lead the wire at {place} out"
        " between the bars and up, and wind it around the notches.",
        "bars that the part cannot leave, computed (docs/theory-hanging.md)",
    )
    ROD_ON_RODS = Instruction(
        "Lay the {rod} mm rod of the hanger across the two others, and lash it to them where they cross.", COMPUTED
    )
    HOOK = Instruction("In the printed hanger: hook it over the {rod} mm rod.", COMPUTED)
    HOOK_LASHED = Instruction(
        "In the printed hanger: hook it over the {rod} mm rod, and lash it to the rod crosswise,"
        " because the part floats.",
        COMPUTED,
    )
    MIND = Instruction("Mind {which}.", COMPUTED)
    PLUG = Instruction(
        "Then push the printed plug of {top} mm, thin end first, tight into the hole of {hole} mm at {place}; pull it"
        " out once the part is rinsed.",
        RECESSES + "; taper of 1 in 20: " + PRACTICE,
    )
    LIFTED = Instruction(
        "Its weight is unknown: if it floats, tie copper below it until its wires are taut.", "Archimedes"
    )
    BASE_METAL = Instruction(
        "Do not plate bare steel, aluminum or other base metals: copper deposits on them without"
        " current, and loosely. They need a strike from another bath first.",
        "steel: Products Finishing, Peeling Copper; zinc: Lainer, Copper Plating (encyclopedia); aluminum: zincate and"
        " copper strike, Metal Finishing Guidebook 2013, table XVIII",
    )
    HANDS = Instruction("No hand in the bath while the supply is on.", OFF_FIRST)
    AIR = Instruction("Ventilate, no flames.", ICSC_HYDROGEN)
