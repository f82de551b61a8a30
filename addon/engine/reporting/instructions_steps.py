"""The instructions of the numbered steps, in working order. One row per sentence."""

from __future__ import annotations

from .instructions import (
    CLEANING,
    COMPUTED,
    DIP_STRENGTH,
    LOCKOUT,
    MASKING,
    OFF_FIRST,
    PLASTIC,
    PRACTICE,
    SEALING,
    WET_SANDING,
    Instruction,
    Instructions,
)

WATER_BREAK = "water-break test: ASTM F22 (scope)"
SLOWLY = "slowly, drained over the tank: Ohio EPA, Pollution Prevention for Metal Finishing; " + OFF_FIRST
STRIP = "thickness of data/coats.toml; strip: ohms = sheet resistance times length over width"
ACID_DIP = "acid dip before the bath: ASTM B322, 1.3 (scope); strength: " + DIP_STRENGTH + "; time: " + PRACTICE
PASSIVE = "nickel without current turns passive, more of it peels: Products Finishing, Peeling and Chipping Nickel"
RAMP = "ramp under the limits of wire, coat and bath, computed (docs/theory-coat.md)"
STRIP_READS = "100 mm of the scrap read about {strip} ohm; if far off, enter your reading and make this plan again."
HYDROMETER = "{density} g/mL on the hydrometer, of a sample at 20 C; clear, no crystals."
CLINGS = "liquid clings everywhere, no beads."
FAST = "no wire turns or slides under a finger."
NO_BUBBLES = "no bubbles on the undersides; no dry spot."
STOPS_DRIPPING = "the meters read zero; it stops dripping."


class Step(Instructions):
    """The steps, in working order."""

    SAND = Instruction(
        "Sand wet, 240 then 400 grit; wash with soap, rinse, dry. From now on clean gloves only.",
        PLASTIC + "; " + WET_SANDING + "; " + WATER_BREAK,
        "water runs off in one sheet, without beads.",
    )
    DEGREASE = Instruction(
        "Degrease and brush the part, rinse. From now on clean gloves only.",
        CLEANING + "; " + WATER_BREAK,
        "water runs off in one sheet, without beads.",
    )
    SEAL = Instruction(
        "Seal the print with two thin coats of clear lacquer, also into hollows; let each dry.",
        SEALING,
        "a minute under water: no bubble rises, and it weighs no more when wiped dry.",
    )
    MASK = Instruction(
        "Cover the faces that stay bare with stop-off lacquer or tape.",
        MASKING,
        "no edge lifts under a fingernail.",
    )
    MASK_SPRAY = Instruction(
        "Tape over the faces that stay bare, so that no coat gets there.",
        MASKING,
        "no edge lifts under a fingernail.",
    )
    MASK_PRINTED = Instruction(
        "Cover the faces that stay bare with the printed masks.",
        MASKING,
        "no edge lifts under a fingernail.",
    )
    WIRES = Instruction("Fix {wires}, tight.", COMPUTED, FAST)
    WIRES_EACH = Instruction("To each of the {copies} parts fix {wires}, tight.", COMPUTED, FAST)
    COAT = Instruction(
        "Coat the whole part and the wire joints with {coat}, about {thickness} um dry in two thin"
        " coats; let it dry well below {softens} C. Coat a scrap 10 mm wide with it.",
        STRIP,
        STRIP_READS,
    )
    COAT_RUBBED = Instruction(
        "Coat the whole part and the wire joints with {coat}, about {thickness} um dry in two thin"
        " coats; let it dry well below {softens} C. {finish} Coat a scrap 10 mm wide with it.",
        STRIP,
        STRIP_READS,
    )
    COAT_ELECTROLESS = Instruction(
        "Give it, its wire and a scrap 10 mm wide {coat}, about {thickness} um, by its maker's data sheets: cleaned,"
        " etched, catalyzed, plated, rinsed.",
        "data sheets; thickness of data/coats.toml; strip: ohms = sheet resistance times length over width",
        STRIP_READS,
    )
    BURNISH_GRAPHITE = Instruction(
        "Burnish it with a soft brush until it shines.",
        "brushed until the surface is bright: Threlfall, On Laboratory Arts (1898), section 142",
    )
    BURNISH_COPPER = Instruction("Rub it with a fine pad until copper color shows.", PRACTICE)
    WEIGH_EACH = Instruction(
        "Weigh each dry, wired, and tell them apart: ________ g.", PRACTICE, "the reading stands still for a minute."
    )
    WEIGH = Instruction("Weigh it dry, wired: ________ g.", PRACTICE, "the reading stands still for a minute.")
    BATH = Instruction(
        "Bring the bath to {temperature}; hang the anodes, liquid {level}. Agitation: {agitation}.",
        "data/baths.toml",
        HYDROMETER,
    )
    BATH_APART = Instruction(
        "Bring the bath to {temperature}; hang the anodes {distance} mm from where the part will be,"
        " liquid {level}. Agitation: {agitation}.",
        "data/baths.toml",
        HYDROMETER,
    )
    BATH_APART_EACH = Instruction(
        "Bring the bath to {temperature}; hang the anodes {distance} mm from where the parts will be,"
        " liquid {level}. Agitation: {agitation}.",
        "data/baths.toml",
        HYDROMETER,
    )
    DIP_ACID = Instruction(
        "Dip it 10 s in the 5 % acid, all wet, no dry spot. Do not let it dry any more.",
        ACID_DIP,
        CLINGS,
    )
    DIP_ACID_RINSE = Instruction(
        "Dip it 10 s in the 5 % acid, all wet, no dry spot, then rinse. Do not let it dry any more.",
        ACID_DIP,
        CLINGS,
    )
    DIP_WET = Instruction(
        "Wet it: distilled water with a drop of dish soap, then plain water. No acid dip. Do not let it dry any more.",
        PRACTICE,
        CLINGS,
    )
    CONNECT = Instruction(
        "Output of the supply OFF. Anodes to PLUS, part to MINUS. Set the limits: {current} A and {voltage} V.",
        "lower of what wire, coat and bath bear, computed; " + LOCKOUT,
        "the meters read zero.",
    )
    CONNECT_HOLD = Instruction(
        "Output of the supply OFF. Anodes to PLUS, part to MINUS. Set {voltage} V to hold, and the current limit to"
        " {current} A.",
        "lower of what wire, coat and bath bear, computed; " + LOCKOUT,
        "the meters read zero.",
    )
    ENTER = Instruction(
        "Hang it {way}, the wire's contact under the liquid; rock it until no bubble rises; switch the output ON at"
        " once.",
        "way: computed; off while hands are in the bath: " + LOCKOUT,
        "{amperes} A flow at once; none means no contact.",
    )
    ENTER_WIRES = Instruction(
        "Hang it {way}, the contacts of all wires under the liquid; rock it until no bubble rises; switch the output ON"
        " at once.",
        "way: computed; off while hands are in the bath: " + LOCKOUT,
        "{amperes} A flow at once; none means no contact.",
    )
    ENTER_EACH = Instruction(
        "Hang the {copies} parts {places}, each {way}, the contacts of all wires under the liquid; rock them until no"
        " bubble rises; switch the output ON at once.",
        "way: computed; off while hands are in the bath: " + LOCKOUT,
        "{amperes} A flow at once; none means no contact.",
    )
    START = Instruction(
        "Start: {steps}. Raise by color as well as by clock.",
        RAMP,
        "{metal} color spreads from the wire.",
    )
    START_TIMED = Instruction(
        "Start: {steps}. Raise by color as well as by clock.",
        RAMP,
        "{metal} color spreads from the wire: {milestones}.",
    )
    NONE = Instruction(
        "Do not start: there is no schedule while {what} stands. Put it right and make this plan again.", COMPUTED
    )
    PLATE = Instruction(
        "Set {current} until {charge} A h have passed since the start, about {time}.",
        "Faraday's law",
        "{volts} V on the meter. If higher, first find out why: a poor contact, then a small or worn"
        " anode, then a cold or weak bath.",
    )
    PLATE_BLIND = Instruction(
        "Set {current} until {charge} A h have passed since the start, about {time}.",
        "Faraday's law",
        "the voltage stays where it settled.",
    )
    PLATE_HOLD = Instruction(
        "Leave the voltage as it is until {charge} A h have passed since the start, about {time} at {current}.",
        "Faraday's law",
        "the current stays near that. If lower, first find out why: a poor contact, then a small or worn anode, then a"
        " cold or weak bath.",
    )
    MOVE = Instruction(
        "Every 10 min shake it gently under the liquid. After any pause: rinse, {again}, start again at {current} A.",
        PRACTICE,
        NO_BUBBLES,
    )
    MOVE_HALF = Instruction(
        "Every 10 min shake it gently under the liquid. {half} After any pause: rinse, {again}, start again at"
        " {current} A.",
        PRACTICE,
        NO_BUBBLES,
    )
    MOVE_NICKEL = Instruction(
        "Every 10 min shake it gently under the liquid, with the current on and no hand in the bath."
        " A pause of more than seconds ends the run: nickel that was without current takes no more"
        " nickel.",
        PASSIVE,
        NO_BUBBLES,
    )
    MOVE_NICKEL_HALF = Instruction(
        "Every 10 min shake it gently under the liquid, with the current on and no hand in the bath."
        " {half} A pause of more than seconds ends the run: nickel that was without current takes no"
        " more nickel.",
        PASSIVE,
        NO_BUBBLES,
    )
    LIFT = Instruction(
        "At {charge} A h switch the output OFF. Only then lift it out, slowly, over the bath.",
        SLOWLY,
        STOPS_DRIPPING,
    )
    LIFT_TIP = Instruction(
        "At {charge} A h switch the output OFF. Only then lift it out, slowly, over the bath, and tip out what it"
        " holds.",
        SLOWLY,
        STOPS_DRIPPING,
    )
    RINSE = Instruction(
        "Rinse {count} times, each in a fresh tub; 1 min in soda water; rinse again. Keep the first"
        " rinse (appendix {letter}).",
        "dilution of the drag-out, computed; soda: it fizzes until the acid is gone, 2 NaHCO3 + H2SO4",
        "no {color} runs off; no fizz in the soda.",
    )
    DRY = Instruction(
        "Dry it cool and weigh it: ________ g. Wanted: {gain} g more than before. If over {slack} g"
        " are missing, {again} and plate {more} A h for each missing g.",
        "Faraday's law; one tenth as the slack: " + PRACTICE,
        "much heavier than that: see appendix {letter}.",
    )
    DRY_EACH = Instruction(
        "Dry them cool and weigh each: ________ g. Wanted: {gain} g more than before on each. If over"
        " {slack} g are missing, {again} and plate {more} A h for each missing g.",
        "Faraday's law; one tenth as the slack: " + PRACTICE,
        "much heavier than that: see appendix {letter}.",
    )
    DRY_NICKEL_EACH = Instruction(
        "Dry them cool and weigh each: ________ g. Wanted: {gain} g more than before on each. If over {slack} g"
        " are missing, plate the next ones longer, by {more} A h for each missing g on each; these take no more"
        " nickel.",
        "Faraday's law; " + PASSIVE,
        "much heavier than that: see appendix {letter}.",
    )
    DRY_NICKEL = Instruction(
        "Dry it cool and weigh it: ________ g. Wanted: {gain} g more than before. If over {slack} g"
        " are missing, plate the next one longer, by {more} A h for each missing g; this one takes no"
        " more nickel.",
        "Faraday's law; " + PASSIVE,
        "much heavier than that: see appendix {letter}.",
    )
