"""Every sentence of the plan's first pages that tells someone to do something, each with its source.

One row a sentence; docs/checklist.md is made from these rows and those of `instructions_after` (`checklist`).
A figure stands in braces and is set by the page that says the sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from .filled import filled

PRACTICE = "common practice, no source"
WATER_BREAK = "water-break test: ASTM F22 (scope)"
WET_SANDING = "wet, with a mask: OSHA, Nuisance Dust"
PLASTIC = "preparation of plastics: ASTM B727 (scope)"
SEALING = "porous models are made tight with varnish or wax before they conduct: Workshop Receipts, Metallisation"
SOLID = "stiffness computed for solid plastic, nothing overhangs beyond 45 degrees (docs/theory-hanging.md)"
COMPUTED = "computed for this job"
LAPLACE = "pressure that a meniscus bears in a round bore: Young and Laplace, computed for this job"
LOCKOUT = "moist skin lowers the body's impedance: IEC TS 60479-1 (abstract); else common practice"
OFF_FIRST = "off before hands are in the bath: " + LOCKOUT
SLOWLY = "slowly, drained over the tank: Ohio EPA, Pollution Prevention for Metal Finishing; " + OFF_FIRST
TWICE_LOCAL = "twice the local thickness on a diameter: geometry; threads: ASME B1.1, section 7"
STRIP = "thickness of data/coats.toml; strip: ohms = sheet resistance times length over width"
CLEANING = "cleaning of metals before plating: ASTM B322 (scope)"
DIP_STRENGTH = "3 to 8 % by volume, 5 % by weight is 3: Metal Finishing Guidebook 2011-2012, acid dips"
ACID_DIP = "acid dip before the bath: ASTM B322, 1.3 (scope); strength: " + DIP_STRENGTH + "; time: " + PRACTICE
RECESSES = "deep and narrow recesses: Anti-Corrosion Methods and Materials 28 (1981) no. 6, 12 (abstract)"
PASSIVE = "nickel without current turns passive, more of it peels: Products Finishing, Peeling and Chipping Nickel"
RAMP = "ramp under the limits of wire, coat and bath, computed (docs/theory-coat.md)"

# How several rows see that it worked
MATES = "the mating part goes in."
STRIP_READS = "100 mm of the scrap read about {strip} ohm; if far off, enter your reading and make this plan again."
HYDROMETER = "{density} g/mL on the hydrometer, of a sample at 20 C; clear, no crystals."
CLINGS = "liquid clings everywhere, no beads."
FAST = "no wire turns or slides under a finger."
NO_BUBBLES = "no bubbles on the undersides; no dry spot."
STOPS_DRIPPING = "the meters read zero; it stops dripping."


@dataclass(frozen=True)
class Instruction:
    """text : what to do; source : where that comes from; check : how to see that it worked, "" where it shows itself"""

    text: str
    source: str = PRACTICE
    check: str = ""


class Instructions(Enum):
    """A table of instructions; each member's value is its row."""

    def say(self, **figures: object) -> str:
        """The sentence with its figures. Raises KeyError where one is missing."""
        return filled(self.value.text, **figures)

    def check(self, **figures: object) -> str:
        """How to see that it worked, with its figures."""
        return filled(self.value.check, **figures)


class Model(Instructions):
    """What to change in the model and how to print it."""

    SIZE = Instruction("Check the size against your part.", "area goes with the square of the scale: geometry")
    TILT = Instruction(
        "No vent is needed if you dip it {way}, where it takes no gas along, turn it under the bath to the way that it"
        " hangs, and do not lift it out on the way.",
        COMPUTED,
        "no bubble leaves it when you rock it.",
    )
    BORES = Instruction(
        "Of other holes at {where}, each leaves: {bores}; less where water with a drop of wetting agent has wetted it.",
        LAPLACE,
    )
    WAY = Instruction(
        "Its straight way out: from {start} to {end}, through {length} mm of plastic. The panel and --vented cut it.",
        COMPUTED,
    )
    WAY_SHOWN = Instruction(
        "Its straight way out: from {start} to {end}, through {length} mm of plastic, OUT THROUGH A"
        " VISIBLE FACE, because no other way is left. The panel and --vented cut it.",
        COMPUTED,
    )
    VENT = Instruction("Cut a vent of {bore} mm at {where}: of {volume} mL of gas it leaves {left}.", LAPLACE)
    DRAIN = Instruction(
        "Tip the part empty, or cut a drain of {bore} mm at {where}: of {volume} mL of bath it leaves {left}.", LAPLACE
    )
    FIT = Instruction(
        "Where {what} must fit, take {growth} um off each face, or mask it: holes lose {bore} mm of diameter and shafts"
        " gain it. Nine tenths of it grow by {low} to {high} um.",
        "twice the thickness on a diameter: geometry; threads: ASME B1.1, section 7",
    )
    FIT_EVEN = Instruction(
        "Where {what} must fit, take about {growth} um off each face, or mask it: holes lose {bore} mm of diameter and"
        " shafts gain it.",
        "twice the thickness on a diameter: geometry; threads: ASME B1.1, section 7",
    )
    PRINT_UP = Instruction(
        "Print it {way} (model direction {up} up): {rough} of steps to sand in place of {rough_now}, and supports touch"
        " {support} in place of {support_now}.",
        "height of the steps: Dolenc and Makela, Computer-Aided Design 26 (1994) 119; support below 45 degrees:"
        " Intro to 3D Printing and Overhangs (learn.3dorchard.com)",
    )
    FITS = Instruction(
        "Model the {kind} of {diameter} mm at {model} mm: as it is, it comes out at {finished} mm.",
        TWICE_LOCAL,
        MATES,
    )
    FITS_MORE = Instruction(
        "Model the {kind} of {diameter} mm at {model} mm: as it is, it comes out at {finished} mm;"
        " {more} in appendix {letter}.",
        TWICE_LOCAL,
        MATES,
    )
    SAND = Instruction(
        "Sand or fill {area} whose layer steps are above {least} um: the deposit follows them.",
        "height of the steps: Dolenc and Makela, Computer-Aided Design 26 (1994) 119; 25 um: " + PRACTICE,
    )
    HANGER = Instruction("Print the hanger solid, in {plastic}, on its flat back: no support is needed.", SOLID)
    CAGE = Instruction(
        "Print both plates of the hanger solid, in {plastic}, each on its flat outer side: no support is needed.",
        SOLID,
    )
    PLUGS = Instruction(
        "Print {plugs} solid, in {plastic}, standing on the wide end.",
        "wide end down, nothing overhangs: geometry; solid: " + PRACTICE,
    )


class Ready(Instructions):
    """What to buy, measure out, lay ready and put on."""

    BATH = Instruction("Bath, {volume}: {amounts}. Mix it as appendix {letter} says.", COMPUTED)
    ADDITIONS = Instruction("For the finished bath: {additions}.", "make-up of data/baths.toml")
    BATH_THERE = Instruction("Bath, {volume}, mixed by its maker's data sheet ({why}).", COMPUTED)
    TANK = Instruction(
        "Tank: {vessel}, {size} mm inside, filled to {level} mm; measure yours and write it into the job.",
        "smallest vessel of data/vessels.toml that fits the part, computed",
    )
    TANK_ASSUMED = Instruction(
        "Tank: {size} mm inside, filled to {level} mm; measure yours and write it into the job.",
        "smallest tank that fits the part, computed",
    )
    TANK_GIVEN = Instruction("Tank: {size} mm inside, filled to {level} mm.", "as the job gives it")
    PLATES = Instruction(
        "Anodes: {anode}, {plates}, at the tank's long sides; in all {least} or more.",
        "area ratio and current limit of data/baths.toml",
    )
    PLATES_SHORT = Instruction(
        "Anodes: {anode}, {plates}, at the tank's short sides; in all {least} or more.",
        "area ratio and current limit of data/baths.toml",
    )
    ANODE = Instruction(
        "Anode: {anode}, {least} to {most} in all, half on either side of the part.",
        "area ratio and current limit of data/baths.toml",
    )
    WIRE = Instruction("Bare copper wire {diameter} mm (gauge {gauge}), lacquer for what stays under the bath.")
    RIGID_WIRE = Instruction(
        "Bare copper wire {diameter} mm or more, rigid: it holds the part down; lacquer for what stays under the bath.",
        "Archimedes and bending of a wire, computed",
    )
    RIGID_WIRE_UNKNOWN = Instruction(
        "Bare copper wire {diameter} mm or more, rigid: an open mesh has no weight, and the part may float by up to"
        " {lift}; lacquer for what stays under the bath.",
        "Archimedes and bending of a wire, computed; weight of the walls alone",
    )
    BALLAST = Instruction(
        "{ballast} of copper as ballast, lacquered all over.", "Archimedes; pull of a fifth of the weight: " + PRACTICE
    )
    BALLAST_UNKNOWN = Instruction(
        "Copper as ballast, lacquered all over: an open mesh has no weight, and the part may float by up to {lift}. Try"
        " it in water once it is sealed.",
        "Archimedes, computed; weight of the walls alone",
    )
    PLAIN_WIRE = Instruction("Bare copper wire, lacquer for what stays under the bath.")
    COAT = Instruction(
        "{coat}, clear lacquer to seal the print, wet-or-dry sandpaper of 240 and 400 grit, soap.",
        PLASTIC + "; " + SEALING,
    )
    METAL = Instruction("Degreaser that is safe for the part, clean brush.", CLEANING)
    HEATER = Instruction("To keep the bath warm: {heating}.", "data/baths.toml")
    ACIDITY = Instruction(
        "Strips or a meter for a pH of {low} to {high}; {lower} and {higher} to set it.", "pH range of data/baths.toml"
    )
    DIP = Instruction(
        "For the acid dip, {volume} of 5 % sulfuric acid: {water} of distilled water, then {acid} of {strength} % acid"
        " into it.",
        "dilution, computed; " + DIP_STRENGTH,
    )
    RINSES = Instruction(
        "{count} rinse tubs of {volume} distilled water; a spoon of baking soda in a cup, for the last dip and for"
        " spills.",
        "number: dilution of the drag-out, computed; film: Soderberg, Proc. AES 24 (1936) 233, from memory",
    )
    TOOLS = Instruction(
        "Supply that shows amperes and volts, multimeter, scale to {scale} g, measuring cylinder, stirring rod,"
        " thermometer, hydrometer, clock.",
        PRACTICE,
    )
    PROTECTION = Instruction(
        "Put on before you open a bottle: {wear}. Water to rinse eyes within reach.",
        "ILO ICSC 0362 and 1416; data sheets",
    )


class Step(Instructions):
    """The steps, in the order of the hands."""

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
        "Altmayer, Masking for Surface Finishing (Products Finishing)",
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
    DRY_NICKEL = Instruction(
        "Dry it cool and weigh it: ________ g. Wanted: {gain} g more than before. If over {slack} g"
        " are missing, plate the next one longer, by {more} A h for each missing g; this one takes no"
        " more nickel.",
        "Faraday's law; " + PASSIVE,
        "much heavier than that: see appendix {letter}.",
    )


# Remedies that findings name, and where they come from (reporting.finding_text says them)
REMEDY_SOURCES = {
    "scale-import": "area goes with the square of the scale: geometry",
    "mend-mesh": "a volume needs a closed surface: geometry",
    "hang-otherwise": COMPUTED,
    "vent": LAPLACE,
    "drain": LAPLACE,
    "shake": PRACTICE,
    "widen-or-plug": RECESSES,
    "add-ballast": "Archimedes, computed",
    "seal-print": SEALING,
    "move-wire": COMPUTED,
    "change-plastic": "softening temperatures of data/plastics.toml; margin of 10 K: " + PRACTICE,
    "limit-current": COMPUTED,
    "keep-under-liquid": "free convection of gases and of liquids: Cengel, Heat Transfer (notes); computed",
    "better-coat": COMPUTED,
    "add-wires": COMPUTED,
    "join-pieces": PRACTICE,
    "plug-holes": COMPUTED,
    "larger-supply": "Faraday's law",
    "finer-supply": "Faraday's law",
    "lower-density": "plating range of data/baths.toml",
    "raise-density": "plating range of data/baths.toml",
    "larger-anode": "anode limit of data/baths.toml",
    "move-anode": COMPUTED,
    "change-temperature": "temperature range and solubility, data/baths.toml",
    "change-bath": "Regulation (EU) 2019/1148",
    "measure-again": "straight line through the readings: statistics",
    "raise-panels": "two levels compared: numerics",
}
