"""Shielding of a plane wave by a metal sheet: skin depth, attenuation, reflection, and the loss against bulk metal.

The sheet is a piece of a transmission line (S. A. Schelkunoff, Electromagnetic Waves (1943), from memory): with the
metal's impedance eta = (1 + j) / (sigma delta), gamma = (1 + j) / delta and the impedance of free space eta0 it passes

    T = 4 eta0 eta / ((eta0 + eta)^2 exp(gamma t) - (eta0 - eta)^2 exp(-gamma t))

The shielding effectiveness, -20 log10 |T| (the field without over that with the sheet, as in IEEE Std 299), is the sum
of absorption, reflection and re-reflection. A permeability is in
delta alone, for eta = sqrt(j omega mu / sigma). Docs: theory-purpose.md.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

MU0 = 4e-7 * math.pi  # H/m
LIGHT = 299_792_458.0  # m/s, exact
ETA0 = MU0 * LIGHT  # ohm
MAX_THICKNESS_M = 5e-3


def skin_depth(resistivity: float, frequency: float, permeability: float = 1.0) -> float:
    """m, sqrt(rho / (pi f mu0 mur)). resistivity : ohm m; frequency : Hz; permeability : relative"""
    return math.sqrt(resistivity / (math.pi * frequency * MU0 * permeability))


def effectiveness(
    thickness: ArrayLike, resistivity: float, frequency: float, permeability: float = 1.0
) -> NDArray[np.float64]:
    """dB, of a closed sheet (m) against a plane wave that meets it squarely."""
    delta = skin_depth(resistivity, frequency, permeability)
    eta = (1 + 1j) * resistivity / delta
    way = (1 + 1j) * np.asarray(thickness, dtype=np.float64) / delta
    back = ((ETA0 - eta) / (ETA0 + eta)) ** 2
    passed = 4 * ETA0 * eta / (ETA0 + eta) ** 2 / (1 - back * np.exp(-2 * way))
    return np.asarray(20 * np.real(way) / math.log(10) - 20 * np.log10(np.abs(passed)))


def needed(decibels: float, resistivity: float, frequency: float, permeability: float = 1.0) -> float | None:
    """m of metal for a shielding effectiveness; None where `MAX_THICKNESS_M` is not enough."""
    low, high = 0.0, MAX_THICKNESS_M
    if effectiveness(high, resistivity, frequency, permeability) < decibels:
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        enough = effectiveness(middle, resistivity, frequency, permeability) >= decibels
        low, high = (low, middle) if enough else (middle, high)
    return high


def loss_against_bulk(
    thickness: ArrayLike, resistivity: float, frequency: float, permeability: float = 1.0
) -> NDArray[np.float64]:
    """Resistance of a sheet that carries a wave's current on one side, over that of thick metal.

    (sinh 2x + sin 2x) / (cosh 2x - cos 2x), x the thickness in skin depths: the real part of (1 + j) coth((1 + j) x).
    """
    x = np.minimum(np.asarray(thickness, dtype=np.float64) / skin_depth(resistivity, frequency, permeability), 50.0)
    return np.asarray((np.sinh(2 * x) + np.sin(2 * x)) / (np.cosh(2 * x) - np.cos(2 * x)))


def largest_opening(decibels: float, frequency: float) -> float:
    """m, the longest slot that still gives this effectiveness: wavelength / 2 x 10^(-dB / 20), the rule for one
    slot shorter than half a wavelength (as in C. Vitek, IEEE National Symposium on EMC (1989) 27, abstract read)."""
    return 0.5 * LIGHT / frequency * 10 ** (-decibels / 20)
