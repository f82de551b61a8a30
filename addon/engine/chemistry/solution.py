"""Density of the solutions that a bath is mixed from: sulfuric acid, and salts in water."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..units import ZERO_CELSIUS

# Sulfuric acid in water at 20 C, kg/m3 by weight percent: the classic chemical engineers' table, from memory;
# within 0.1 % of the fit of Myhre and others (1998) at 10, 20, 30, 37 and 50 %.
_ACID_PERCENT = (0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 98)
_ACID_DENSITY = (
    998.2,
    1031.7,
    1066.1,
    1102.0,
    1139.4,
    1178.3,
    1218.5,
    1259.9,
    1302.8,
    1347.6,
    1395.1,
    1445.3,
    1498.3,
    1553.3,
    1610.5,
    1669.2,
    1727.2,
    1778.6,
    1814.4,
    1833.7,
    1836.1,
)


@dataclass(frozen=True)
class Solute:
    """A substance as it is weighed, and the dissolved salt in it.

    share : kg of the salt without its crystal water in 1 kg of the substance
    coefficients : c0..c4 of the apparent density (Laliberte 2009); a single number is a constant one, kg/m3
    """

    share: float
    coefficients: tuple[float, ...]

    def apparent_density(self, solutes: float, celsius: float) -> float:
        """kg/m3 of the dissolved salt, where `solutes` is the mass fraction of all salts."""
        if len(self.coefficients) == 1:
            return self.coefficients[0]
        c0, c1, c2, c3, c4 = self.coefficients
        return (c0 * solutes + c1) / (solutes + c2 + c3 * celsius) * math.exp(1e-6 * (celsius + c4) ** 2)


# Coefficients: Laliberte, J. Chem. Eng. Data 54 (2009) 1725. Boric acid is not in that paper: a constant from its
# apparent molar volume, 39 cm3/mol (from memory). Nickel sulfamate neither: from the concentrate that is sold, 180 g/L
# of nickel at 1.54 g/mL (from memory), 769 g of salt and 771 g of water a liter. Shares: molar masses without and with
# crystal water.
SOLUTES = {
    "copper sulfate pentahydrate": Solute(
        159.609 / 249.685, (-1.1207829e-06, 6.0685059e-07, -0.11886323, 0.0037805008, 4763.960740)
    ),
    "sulfuric acid": Solute(1.0, (70.839515, 142.352694, 0.68779460, 0.0064929968, 1667.238646)),
    "nickel sulfate hexahydrate": Solute(
        154.756 / 262.848, (-0.040141024, 0.22274368, -0.14433682, 0.00098651783, 3072.837623)
    ),
    "nickel chloride hexahydrate": Solute(
        129.599 / 237.691, (639.415869, 424.594017, 0.10403367, 0.00074999874, 1235.744524)
    ),
    "nickel sulfamate tetrahydrate": Solute(250.87 / 322.93, (3380.0,)),
    "boric acid": Solute(1.0, (1585.0,)),
}


def water_density(temperature: float) -> float:
    """kg/m3 of water at a temperature in K (Kell's form, as used by Laliberte)."""
    t = temperature - ZERO_CELSIUS
    cubic = ((-2.8054253e-10 * t + 1.0556302e-7) * t - 4.6170461e-5) * t - 0.0079870401
    return ((cubic * t + 16.945176) * t + 999.83952) / (1.0 + 0.01687985 * t)


def acid_density(strength: float) -> float:
    """kg/m3 of sulfuric acid at 20 C; strength 0..0.98 by weight. Error within 0.1 %."""
    return float(np.interp(100 * strength, _ACID_PERCENT, _ACID_DENSITY))


def density(content: Mapping[str, float], temperature: float) -> float:
    """kg/m3 of water with `content` (substance -> kg/m3 of solution) at a temperature in K.

    The mixing rule of Laliberte and Cooper, J. Chem. Eng. Data 49 (2004) 1141: volumes of water and of each
    dissolved salt add. Substances not in `SOLUTES` (traces) add mass but no volume.
    """
    celsius = temperature - ZERO_CELSIUS
    water = water_density(temperature)
    salts = {name: content[name] * SOLUTES[name].share for name in content if name in SOLUTES}
    solids = sum(salts.values())
    rho = water + 0.6 * solids
    for _ in range(60):  # fixed point: the apparent densities depend weakly on the result
        salt_volumes = [salt / SOLUTES[n].apparent_density(solids / rho, celsius) for n, salt in salts.items()]
        before, rho = rho, solids + water * (1.0 - sum(salt_volumes))
        if rho == before:
            break
    return rho + sum(content[name] for name in content if name not in SOLUTES)
