"""The cautions in full at the end of a plan, each with its source. One row per sentence."""

from __future__ import annotations

from .instructions import (
    ACID_INTO_WATER,
    ICSC_COPPER,
    ICSC_HYDROGEN,
    LOCKOUT,
    NICKEL_CLASS,
    PRACTICE,
    WET_SANDING,
    Instruction,
    Instructions,
)


class Caution(Instructions):
    """Cautions in full."""

    FIRST = Instruction("Safety data sheets, your local codes and licensed practice come before this plan.", "law")
    PROTECTION = Instruction(
        "Goggles or a face shield, {gloves}, apron; water to rinse eyes within reach. Label the"
        " vessels, keep children and animals away.",
        "ILO ICSC 0362 and 1416",
    )
    COPPER_SULFATE = Instruction("Copper sulfate is harmful if swallowed and seriously damages eyes.", ICSC_COPPER)
    SULFURIC_ACID = Instruction(
        "Sulfuric acid burns skin and eyes; always acid into water, slowly, never water into acid.", ACID_INTO_WATER
    )
    NICKEL_SALTS = Instruction(
        "Nickel salts cause cancer when breathed in, may harm the unborn child, and sensitize skin and lungs: no mist,"
        " no dust, no skin contact. In the EU they are not supplied to the general public.",
        NICKEL_CLASS,
    )
    BORIC_ACID = Instruction(
        "Boric acid may harm fertility and the unborn child: no dust, no handling when pregnant.",
        "substance of very high concern for its CMR properties: ECHA, support document for boric acid (2010)",
    )
    UNKNOWN = Instruction("What is in the bath burns, harms or sensitizes: follow its data sheet.", "data sheets")
    HYDROGEN = Instruction(
        "Ventilate, no flames: about {amount} mL of hydrogen form in each A h, with a mist of the bath.",
        "0.456 L of hydrogen an ampere hour at 25 C: Faraday's law; " + ICSC_HYDROGEN,
    )
    VENTILATE = Instruction(
        "Ventilate, no flames: too much current makes hydrogen and carries a mist of the bath into the air.",
        ICSC_HYDROGEN + "; mist: " + PRACTICE,
    )
    SUPPLY = Instruction(
        "An isolated low-voltage supply behind a ground-fault breaker, dry and away from the tank; switch it off before"
        " you reach into the bath.",
        "local electrical codes; " + LOCKOUT,
    )
    COPPER_WATER = Instruction("Copper is very toxic to life in water: nothing of it goes down the drain.", ICSC_COPPER)
    NICKEL_WATER = Instruction(
        "Nickel is toxic to life in water. Plated nickel releases nickel on skin and causes allergy: nothing that is"
        " worn or held for long without a sealing coat over it.",
        "release on skin: Regulation (EC) 1907/2006, Annex XVII, entry 27; life in water: a data sheet of"
        " nickel sulfate hexahydrate (R50/53)",
    )
    OTHER_WATER = Instruction(
        "Metal salts are toxic to life in water: nothing of it goes down the drain.", "data sheets"
    )
    SOLVENT = Instruction(
        "Coats with solvent give off flammable and harmful vapor: spray outdoors or under extraction,"
        " with a mask for organic vapor, away from flames. Try it on a scrap: solvent can attack ABS"
        " and polycarbonate.",
        "data sheets of coats; mask while spraying: Jahangiri and others, J. Environ. Health Sci. Eng. 12 (2014) 41;"
        " ABS: Products Finishing, Paint Attacking ABS Parts; polycarbonate: Chemical Resistance of Polycarbonate"
        " Products (docslib.org)",
    )
    DUST = Instruction(
        "Sand wet, with a dust mask. The part is not for food, drink or the mouth.",
        WET_SANDING + "; food: copper with food below pH 6, California Health and Safety Code 114133; else " + PRACTICE,
    )
