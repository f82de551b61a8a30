"""Numbers as they are read at the bench: two digits, three for weighed amounts, always with the unit."""

from __future__ import annotations

import math
import re

from ..engine.chemistry import deposit
from ..engine.reporting import plan_text
from ..engine.reporting.filled import filled
from ..engine.units import ML

MIN_SHOWN_ML = 0.01  # smaller volumes are shown as this

NO_BREAK = "\N{NO-BREAK SPACE}"
# What stands behind a number as its unit; a space before it is none at which a line ends
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:[mcdnuµ]?m[23²³]?|[mµ]?[Lg]|kg|m?[AV]|m?Ah?|[WhsCKNS%]|min|in2?|ft2?|mil|°C?|ohm|Ω|wt|mol)"
    r"(?:$|[^\w²³]))|(?<=\bwt) (?=%)"
)
_UNITS = {"C": "°C", "um": "µm", "ohm/sq": "Ω/□", "ohm m2": "Ω·m²", "deg": "°", "wt%": "wt %"}


TITLES = {  # what each analysis is called on the screen
    "deposit": "current and time",
    "gas": "trapped gas",
    "drainage": "drag-out",
    "vents": "vents and drains",
    "hung": "recommended hanging",
    "gas_hung": "trapped gas as recommended",
    "drainage_hung": "drag-out as recommended",
    "preparation": "print preparation",
    "fits": "bores and shafts",
    "orientation": "print directions",
    "purpose": "thickness for the purpose",
    "narrow": "small holes",
    "openness": "shielded areas",
    "field_at_target": "thickness at the target current",
    "field": "thickness",
    "contacts": "wire positions",
    "coat": "voltage drop in coat",
    "hanging": "hanging positions",
    "ranges": "ranges of the figures",
    "layouts": "layouts",
    "rack": "rack spacing",
    "hanger": "printed hanger",
    "plugs": "plugs",
    "plugged": "thickness with plugs",
    "masks": "printed masks",
    "masks_shade": "thickness beside the masks",
    "hanger_shade": "thickness beside the hanger",
    "rack_holder": "printed rack",
    "rack_shade": "thickness beside the printed rack",
    "anode_holder": "anode holders",
    "anode_holder_shade": "thickness beside the anode holders",
    "shield": "shields",
    "shield_shade": "thickness behind the shields",
    "thief": "thief",
    "thief_shade": "thickness beside the thief",
    "helpers_field": "thickness beside all helpers",
    "potential": "voltage in the bath",
    "cut": "cross-section",
}


def work_text(sentence: str) -> str:
    """The text of a progress step: for an analysis that only begins, its title."""
    return TITLES.get(sentence, sentence)


def unit_text(unit: str) -> str:
    """A unit as it is printed on screen."""
    return _UNITS.get(unit) or plan_text.typeset(unit)


def unparted(text: str) -> str:
    """A text whose numbers are tied to their units by spaces at which no line breaks."""
    return _BEFORE_UNIT.sub(NO_BREAK, text)


def figure(value: float, unit: str = "", *, digits: int = 2) -> str:
    """Significant digits and the unit: "84 cm²", "1200 mL", "0 mL"; a dash for no number."""
    if math.isinf(value):
        return "unlimited"
    return f"{plan_text.figure(value, digits)} {unit_text(unit)}".rstrip()


def milliliters(volume: float, *, narrow: bool = False) -> str:
    """m3 in mL: "13 mL", "under 0.01 mL"; in a narrow column "<0.01 mL"."""
    if not 0 < volume < MIN_SHOWN_ML * ML:
        return figure(volume / ML, "mL")
    least = f"{MIN_SHOWN_ML:g}"
    return filled("<{volume} mL", volume=least) if narrow else filled("under {volume} mL", volume=least)


def duration(seconds: float) -> str:
    """ "1 h 20 min"; "never" for no end."""
    return deposit.duration(seconds) if math.isfinite(seconds) else "never"
