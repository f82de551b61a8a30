"""The instructions of the plan's first page: what to change in the model, what to have ready. One row per sentence."""

from __future__ import annotations

from .instructions import (
    CLEANING,
    COMPUTED,
    DIP_STRENGTH,
    LAPLACE,
    MASKING,
    PLASTIC,
    PRACTICE,
    SEALING,
    SOLID,
    Instruction,
    Instructions,
)

TWICE_LOCAL = "twice the local thickness on a diameter: geometry; threads: ASME B1.1, section 7"
MATES = "the mating part goes in."


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
        " Mazlan and others, J. Advanced Industrial Technology and Application (2020) 38 (abstract)",
    )
    PRINT_UP_SUPPORTS = Instruction(
        "Print it {way} (model direction {up} up): supports touch {support} in place of {support_now}.",
        "support below 45 degrees: Mazlan and others, J. Advanced Industrial Technology and Application (2020) 38"
        " (abstract)",
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
    ANODES_PLACED = Instruction("Anodes: {anode}, {bodies}, where the job places them.", "as the job gives them")
    ANODE_PLACED = Instruction("Anode: {anode}, {bodies}, where the job places it.", "as the job gives it")
    ANODE_THICKNESS = Instruction(
        "They lose {loss} in this run: plates of {thickness} mm or more.",
        "Faraday's law; twice what dissolves: " + PRACTICE,
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
    TAPE = Instruction(
        "Masking tape that the solvent of the coat does not lift, for the faces that stay bare.", MASKING
    )
    STOP_OFF = Instruction("Stop-off lacquer or plater's tape for the faces that stay bare.", MASKING)
    SEAL_MASKS = Instruction("Stop-off lacquer for the edges of the printed masks.", MASKING)
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
