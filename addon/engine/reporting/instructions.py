"""An instruction: a sentence of the plan that tells someone to do something, with its source.

The tables of them are the other files of this name; docs/checklist.md is made from all of them (`checklist`).
Figures are placeholders in braces, filled by the page that uses the sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from .filled import filled

# Sources that several tables cite
PRACTICE = "common practice, no source"
WET_SANDING = "wet, with a mask: OSHA, Nuisance Dust"
PLASTIC = "preparation of plastics: ASTM B727 (scope)"
MASKING = "Altmayer, Masking for Surface Finishing (Products Finishing)"
SOLID = "stiffness computed for solid plastic, nothing overhangs beyond 45 degrees (docs/theory-hanging.md)"
SEALING = "porous models are made tight with varnish or wax before they conduct: Workshop Receipts, Metallisation"
COMPUTED = "computed for this job"
LAPLACE = "pressure that a meniscus bears in a round bore: Young and Laplace, computed for this job"
LOCKOUT = "moist skin lowers the body's impedance: IEC TS 60479-1 (abstract); else common practice"
OFF_FIRST = "off before hands are in the bath: " + LOCKOUT
CLEANING = "cleaning of metals before plating: ASTM B322 (scope)"
DIP_STRENGTH = "3 to 8 % by volume, 5 % by weight is 3: Metal Finishing Guidebook 2011-2012, acid dips"
RECESSES = "deep and narrow recesses: Anti-Corrosion Methods and Materials 28 (1981) no. 6, 12 (abstract)"
ICSC_ACID = "ILO ICSC 0362 (sulfuric acid)"
ACID_INTO_WATER = ICSC_ACID + "; acid into water: Metal Finishing Guidebook 2012-2013, analysis of plating solutions"
ICSC_COPPER = "ILO ICSC 1416 (copper sulfate pentahydrate)"
NICKEL_CLASS = (
    "sensitizing: EU risk assessment of nickel sulfate (2009), as ECHA quotes it; cancer and unborn child: a data sheet"
    " of nickel sulfate hexahydrate (carcinogenic 1A, toxic for reproduction 1B); general public: REACH Annex XVII,"
    " entries 28 to 30"
)
ICSC_HYDROGEN = "hydrogen, no flames, ventilation: ILO ICSC 0001"


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
        """The check that it worked, with its figures."""
        return filled(self.value.check, **figures)


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
    "lower-density": "plating range of data/baths.toml; burning: Metal Finishing Guidebook 2013, table X",
    "raise-density": "plating range of data/baths.toml",
    "larger-anode": "anode limit of data/baths.toml; film stripped above it: Metal Finishing Guidebook 2011-2012",
    "move-anode": COMPUTED,
    "change-temperature": "temperature range and solubility, data/baths.toml",
    "change-bath": "Regulation (EU) 2019/1148",
    "measure-again": "straight line through the readings: statistics",
    "raise-panels": "two levels compared: numerics",
}
