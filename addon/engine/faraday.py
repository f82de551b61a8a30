"""Faraday's law: charge, mass, thickness and time of a deposit, for the metals that are plated.

    m = efficiency Q M / (z F)        thickness = efficiency j t M / (z F rho)

Every function takes numbers or arrays of one shape, in SI.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from .errors import InputError, nearest
from .filled import filled

FARADAY = 96485.33212  # C/mol, exact since the SI of 2019: e N_A = 1.602176634e-19 x 6.02214076e23

Q = TypeVar("Q", float, NDArray[np.float64])


@dataclass(frozen=True)
class Metal:
    """What Faraday's law needs to know.

    molar_mass : kg/mol (CIAAW); valence : electrons an ion; density : kg/m3 (handbook values)
    """

    name: str
    symbol: str
    molar_mass: float
    valence: int
    density: float

    @property
    def equivalent(self) -> float:
        """kg of metal a coulomb, at full efficiency."""
        return self.molar_mass / (self.valence * FARADAY)


# Atomic weights CIAAW, densities as in the CRC Handbook (from memory); the usual ion of each plating bath:
# acid copper, Watts nickel, cyanide silver, acid zinc, acid tin, cyanide gold.
METALS = {
    metal.name: metal
    for metal in (
        Metal("copper", "Cu", 63.546e-3, 2, 8960.0),
        Metal("nickel", "Ni", 58.6934e-3, 2, 8908.0),
        Metal("silver", "Ag", 107.8682e-3, 1, 10490.0),
        Metal("zinc", "Zn", 65.38e-3, 2, 7140.0),
        Metal("tin", "Sn", 118.710e-3, 2, 7287.0),
        Metal("gold", "Au", 196.96657e-3, 1, 19300.0),
    )
}


def metal(name: str) -> Metal:
    """The metal of that name. Raises InputError naming the nearest known one."""
    if name not in METALS:
        raise InputError(filled("metal '{name}' is not known; {help}", name=name, help=nearest(name, METALS)))
    return METALS[name]


def mass(metal: Metal, charge: Q, efficiency: float = 1.0) -> Q:
    """kg deposited by a charge in C."""
    return charge * (efficiency * metal.equivalent)


def charge(metal: Metal, mass: Q, efficiency: float = 1.0) -> Q:
    """C that deposit a mass in kg."""
    return mass / (efficiency * metal.equivalent)


def thickness(metal: Metal, density: Q, time: float, efficiency: float = 1.0) -> Q:
    """m deposited at a current density in A/m2 in a time in s."""
    return density * (time * efficiency * metal.equivalent / metal.density)


def time(metal: Metal, density: Q, thickness: float, efficiency: float = 1.0) -> Q:
    """s in which a current density in A/m2 deposits a thickness in m."""
    return thickness * metal.density / (density * (efficiency * metal.equivalent))


def density(metal: Metal, thickness: Q, time: float, efficiency: float = 1.0) -> Q:
    """A/m2 that deposit a thickness in m in a time in s."""
    return thickness * (metal.density / (time * efficiency * metal.equivalent))


def displaced(by: Metal, metal: Metal, volume: float) -> float:
    """kg of the baser metal `by` that dissolve for a volume in m3 of the nobler `metal` laid down without current."""
    return volume * metal.density * by.equivalent / metal.equivalent
