"""How much of a bath's salts dissolves in water at a temperature, and how sulfuric acid lowers it.

Solubilities are those of the classic handbook tables, from memory, rounded down where tables differ; that of
copper sulfate at 0 and 20 C (14.3 and 20.3 g in 100 g) agrees with published pages. The share that acid leaves is
an estimate from remembered figures of refining electrolytes (some 40 g/L of copper in 200 g/L of acid at 25 C,
90 g/L without): uncertain by a fifth.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..units import ZERO_CELSIUS
from .solution import SOLUTES

ACID = "sulfuric acid"
SALTING_OUT_PER_ACID = 4.0  # 1/(kg acid / kg water): sulfates in sulfuric acid, see above


@dataclass(frozen=True)
class Solubility:
    """kg of a salt without crystal water that 1 kg of water takes up at temperatures in C; both ascending."""

    celsius: tuple[float, ...]
    content: tuple[float, ...]
    salted_out: bool  # whether sulfuric acid lowers it (common ion)

    def at(self, temperature: float, acid: float) -> float:
        """kg per kg of water at a temperature in K; acid : kg of sulfuric acid per kg of water."""
        pure = float(np.interp(temperature - ZERO_CELSIUS, self.celsius, self.content))
        return pure * math.exp(-SALTING_OUT_PER_ACID * acid) if self.salted_out else pure


SOLUBILITIES: Mapping[str, Solubility] = {
    "copper sulfate pentahydrate": Solubility(
        (0, 10, 20, 30, 40, 50, 60), (0.143, 0.172, 0.203, 0.242, 0.285, 0.333, 0.390), True
    ),
    "nickel sulfate hexahydrate": Solubility((0, 10, 20, 30, 40, 60), (0.265, 0.320, 0.377, 0.420, 0.460, 0.550), True),
    "nickel chloride hexahydrate": Solubility((0, 10, 20, 40, 60), (0.530, 0.560, 0.600, 0.700, 0.800), False),
    # the concentrate that is sold holds 769 g in 771 g of water and stays clear in a cold room; from memory
    "nickel sulfamate tetrahydrate": Solubility((0, 20, 60), (0.900, 1.000, 1.200), False),
    "boric acid": Solubility((0, 10, 20, 30, 40, 50, 60), (0.026, 0.036, 0.047, 0.064, 0.084, 0.110, 0.140), False),
}


def saturation(masses: Mapping[str, float], water: float, temperature: float) -> float:
    """The largest saturation, dissolved over soluble mass, of all substances.

    masses : substance as weighed -> kg, sulfuric acid as pure acid; water : kg poured, crystal water not counted;
    temperature : K. What has no entry (traces) does not count; 0 where nothing counts.
    """
    crystal = sum(mass * (1.0 - SOLUTES[name].share) for name, mass in masses.items() if name in SOLUTES)
    solvent = water + crystal
    acid = masses.get(ACID, 0.0) / solvent
    ratios = [
        mass * SOLUTES[name].share / (solvent * SOLUBILITIES[name].at(temperature, acid))
        for name, mass in masses.items()
        if name in SOLUBILITIES
    ]
    return max(ratios, default=0.0)
