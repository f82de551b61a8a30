"""The instructions of the plan's appendix: mixing, what comes after, care of the bath, waste. One row per sentence.

The metal and the substances of the actual bath decide which of them a plan contains.
"""

from __future__ import annotations

from .instructions import ACID_INTO_WATER, COMPUTED, ICSC_COPPER, PRACTICE, Instruction, Instructions

SOLUBLE = "solubilities of docs/theory-deposit.md, checked step by step"
GUIDE = "Rosenstein and Hirsch, Chemical Analysis of Plating Solutions (Metal Finishing Guidebook); details from memory"
FILM = "film: Soderberg, Proc. AES 24 (1936) 233, from memory; a tenth: " + PRACTICE
ROUGH = "data/baths.toml; particles, rough deposit: Metal Finishing Guidebook 2013, table X"
SULFIDES = "no contact with acids: ILO ICSC 1038 (a polysulfide)"


class Mixing(Instructions):
    """The batch, step by step."""

    VESSEL = Instruction(
        "Take a vessel of {vessel} or more, of polypropylene or glass, kept for this alone and labeled: it makes"
        " {volume} of '{bath}'.",
        "glass or polypropylene: Nichols, Electroforming Workshop Preparation (2003); room to stir: " + PRACTICE,
    )
    POUR = Instruction("Pour {amount} of distilled water.", SOLUBLE)
    POUR_WARM = Instruction("Pour {amount} of distilled water, warmed to {temperature}.", SOLUBLE)
    DISSOLVE = Instruction("Stir in {amount} of {substance} until it is clear.", SOLUBLE)
    COOL = Instruction("Filter through a coffee filter if it is cloudy. Let it cool to {temperature}.", PRACTICE)
    ACID = Instruction(
        "Goggles and gloves on. ACID INTO WATER, a little at a time, stirring: {amount} of {strength} % sulfuric acid."
        " Wait whenever it gets warmer than 45 C (113 F).",
        ACID_INTO_WATER + "; 45 C: " + PRACTICE,
    )
    FILL = Instruction(
        "Rinse the measuring vessels into it with {amount} of distilled water; bring it to {temperature}.", COMPUTED
    )
    WARM = Instruction("Warm it to {temperature}.", SOLUBLE)
    CHECK = Instruction(
        "Check: nothing lies on the bottom, and a hydrometer reads {density} g/mL at 20 C.",
        "density: Laliberte and Cooper, J. Chem. Eng. Data 49 (2004) 1141",
    )
    KEEP_WARM = Instruction(
        "Keep the bath above {temperature}, or crystals form; warm and stir until they are gone.", SOLUBLE
    )
    ADD = Instruction(
        "Then stir in {amount} of {substance}: its maker's data sheet decides.", "make-up of data/baths.toml"
    )
    PH = Instruction(
        "Bring the pH to {low} to {high}: {lower} lowers it, {higher} raises it; a drop at a time, stirring.",
        "pH range of data/baths.toml; acid and carbonate: " + PRACTICE,
    )
    WORK_IN = Instruction(
        "Condition new anodes before the first part: {time} at {density} on the anodes, with a piece"
        " of {metal} sheet as the part, until they are black all over.",
        "film from phosphorus, chloride and current: Products Finishing, Copper Anode Filming and Sludge Formation;"
        " time: data/baths.toml",
    )
    HEAT = Instruction("Keep it warm with {heating}.", "data/baths.toml")
    CONDUCTIVITY = Instruction(
        "Measure the conductivity ({taken} S/m is assumed): two clean plates of the anode's metal,"
        " facing each other a few cm apart; read the voltage at two or more currents, well apart. The"
        " job takes area, gap and readings under [bath.measured]; the panel has Enter Conductivity"
        " Readings.",
        "slope of voltage over current: Ohm's law",
    )


class After(Instructions):
    """From the last rinse to the finished part."""

    TURN = Instruction(
        "At half time switch OFF, lift it out, rinse, and hang it {way}; dip it again and go on.", COMPUTED
    )
    TURN_WIRED = Instruction(
        "At half time switch OFF, lift it out, rinse, and hang it {way}, wires at {wires}; dip it again and go on.",
        COMPUTED,
    )
    NEUTRAL = Instruction(
        "Bath that stays in pores comes out as {color} spots within days: after the soda dip leave"
        " the part in distilled water for an hour, then dry it cool.",
        PRACTICE,
    )
    LEAK = Instruction(
        "Much heavier than wanted: bath has crept inside. Prop the part up to drain, dry it cool for"
        " a day and weigh it again; bath that stays inside lifts the deposit later.",
        PRACTICE,
    )
    OVERWEIGHT = Instruction(
        "Much heavier than wanted: more charge has passed than you noted, or bath stays in a hollow. Check clock and"
        " ammeter, let the part drain, dry it and weigh it again.",
        "Faraday's law; " + PRACTICE,
    )
    POLISH = Instruction(
        "Sand wet from 600 to 2000 grit, lightly; edges wear through first. Sanding and polishing"
        " take about {loss} um; stop where another color shows.",
        PRACTICE,
    )
    POLISH_WORN = Instruction(
        "Sand wet from 600 to 2000 grit, lightly; edges wear through first. Sanding and polishing"
        " take about {loss} um; on {share} % of the area the deposit is thinner than that: stop where"
        " another color shows.",
        PRACTICE,
    )
    COOL = Instruction(
        "Polish slowly and keep it cool to the touch: {material} softens from {softens} C, and heat lifts the film.",
        "softening temperatures of data/plastics.toml; lifting: " + PRACTICE,
    )
    COOL_METAL = Instruction("Polish slowly and wipe off the paste.", PRACTICE)
    PROTECT_COPPER = Instruction(
        "Protect it within the hour, because fingerprints show: clear lacquer, or wax, or a dip in 1"
        " % benzotriazole and then lacquer. Benzotriazole is harmful if swallowed and harms life in"
        " water: wear gloves, keep it out of the drain.",
        "benzotriazole, then lacquer: Madsen, Studies in Conservation 12 (1967) 163 (abstract; 3 % in alcohol); harm:"
        " Casaletto and Basilissi, Artistry in Bronze (Getty); 1 %: " + PRACTICE,
    )
    PROTECT_NICKEL = Instruction("Wipe it dry and wax it; lacquer it where skin touches it.", PRACTICE)
    PATINA = Instruction(
        "A patina is optional and comes before lacquer or wax. Brown to black with a sulfide (liver"
        " of sulfur): only on a part free of acid, because sulfide and acid give off hydrogen"
        " sulfide, which is deadly; outdoors, and never near the bath.",
        SULFIDES,
    )
    PATINA_GREEN = Instruction(
        "Blue to green with ammonia vapor and salt, in a closed box outdoors: the vapor burns eyes"
        " and lungs. Never use bleach near ammonia or acid: it gives off poisonous chloramine or"
        " chlorine.",
        "bleach: US EPA, household hazardous waste, ammonia (archived 2008); West Virginia LTAP, Dangerous Cleaning"
        " Concoctions; ammonia: ILO ICSC 0215",
    )
    MARKS = Instruction("Touch up the wire's mark with a drop of the bath on a swab, or with copper wax.", PRACTICE)


class Care(Instructions):
    """Care of the bath."""

    ADDITIVE = Instruction(
        "Add {amount} mL of the bath's additive for this run; its maker's data sheet decides.",
        "use per ampere hour of data/baths.toml",
    )
    ADDITIVE_LITTLE = Instruction(
        "The run uses up {amount} mL of the bath's additive, too little to measure: add 1 mL after {charge} A h in all;"
        " its maker's data sheet decides.",
        "use per ampere hour of data/baths.toml",
    )
    LOST = Instruction(
        "One lift carries out about {volume} mL of bath, as a film and in hollows. After {lifts} lifts a tenth of"
        " the bath is gone: measure, then top up with fresh bath, not with water alone.",
        FILM,
    )
    LOST_WITH = Instruction(
        "One lift carries out about {volume} mL of bath, as a film and in hollows, with {what}. After {lifts} lifts a"
        " tenth of the bath is gone: measure, then top up with fresh bath, not with water alone.",
        FILM,
    )
    EVAPORATED = Instruction(
        "Replace what evaporates with distilled water, up to the mark.",
        "deionized water for make-up: Products Finishing, Water Quality",
    )
    COPPER_BALANCE = Instruction(
        "The anodes dissolve a little more copper than is plated, so copper rises slowly where little"
        " bath is carried out. When the hydrometer reads high, take out some bath and fill up with"
        " acid and water. Take the anodes out after the run, because copper dissolves in the bath"
        " while it stands.",
        "efficiencies: Metal Finishing Guidebook; drift: Products Finishing, A Growing Copper Bath; standing anodes: "
        + PRACTICE,
    )
    NICKEL_BALANCE = Instruction(
        "The anodes dissolve {gain} g more than is plated, and the pH rises: check it before each run"
        " and bring it down with a little {acid}.",
        "cathode efficiency of data/baths.toml, anode taken as 100 %; pH: " + PRACTICE,
    )
    TITRATE_COPPER = Instruction(
        "Titration in outline. Copper: 1 mL of bath, water, 2 g potassium iodide, 0.1 mol/L thiosulfate, starch until"
        " the blue goes; each mL is 6.35 g/L. Acid: 5 mL of bath, water, methyl orange, 1 mol/L sodium hydroxide until"
        " yellow; each mL is 9.8 g/L of acid. Chloride: a laboratory.",
        GUIDE + "; copper, a published method: 1 mL, 2 g of iodide, 0.1 mol/L (application E11, 2019); equivalents from"
        " atomic weights",
    )
    TITRATE_NICKEL = Instruction(
        "Titration in outline. Nickel: 1 mL of bath, water, ammonia, murexide, 0.1 mol/L EDTA from yellow to violet;"
        " each mL is 5.87 g/L. Boric acid: mannitol and 0.1 mol/L sodium hydroxide, bromocresol purple. Additives: a"
        " laboratory.",
        GUIDE + "; equivalents from atomic weights",
    )
    FILTER = Instruction("Filter it {how}, and whenever it is cloudy or the deposit turns rough.", ROUGH)
    FILTER_MESH = Instruction(
        "Filter it {how}, {mesh} um, and whenever it is cloudy or the deposit turns rough.", ROUGH
    )
    AIR = Instruction("Aeration: {air}.", "data/baths.toml")
    PH = Instruction("Check the pH before each run: {low} to {high}.", "pH range of data/baths.toml")
    CARBON = Instruction(
        "If the deposit is dull or brittle though the figures are right: stir in 1 to 2.5 g/L of"
        " activated carbon for an hour, filter it off, then replace the additives.",
        "Metal Finishing Guidebook 2013, batch treatment: 10 lb to 500 to 1000 US gal, sixty minutes",
    )
    STOP = Instruction(
        "Discard the bath when carbon no longer helps, when {metal} or another substance in it is off"
        " by a quarter, or when other metals have got in; it goes to a licensed waste collector.",
        PRACTICE,
    )


class Waste(Instructions):
    """What leaves the bench."""

    LOCAL = Instruction(
        "Local rules come first: ask your waste collector before you start. Nothing goes down the drain or into soil.",
        ICSC_COPPER + "; local law",
    )
    FIRST = Instruction(
        "The first rinse, {volume}, holds about {content} g/L of {metal}: use it to replace what"
        " evaporates from the bath, or keep it for the collector.",
        COMPUTED + "; first rinse back to the bath: Ohio EPA, Pollution Prevention for Metal Finishing",
    )
    LATER = Instruction(
        "The other rinses, {volume} in all, the dip, sludge, filters, wipes and sanding water: collect them, label them"
        " with what is in them, hand them over.",
        "sludge of copper and nickel plating is hazardous waste (F006): 40 CFR 261.31, US; data sheets; local law",
    )
    BATH = Instruction("A spent bath: {volume}, labeled, to a licensed waste collector.", "data sheets; local law")
