"""Copper wire as it is sold: its diameters, its gauge, and the one that bears a weight."""

from __future__ import annotations

import math

from .units import GRAVITY, MM

DIAMETERS_MM = (0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0)  # thinner ones tear
STIFFNESS_PA, YIELD_PA = 117e9, 70e6  # annealed (handbook values, from memory)
DENSITY_KG_M3 = 8960.0  # CRC Handbook value, from memory
SAFETY_FACTOR = 2.0


def gauge(diameter: float) -> int:
    """American wire gauge of a diameter in m: 36 is 0.127 mm, and 39 gauges are a factor of 92."""
    return round(36 - 39 * math.log(diameter / (0.127 * MM)) / math.log(92))


def bearing(mass: float) -> float:
    """m, the thinnest diameter that bears a mass (kg) in air at `YIELD_PA`, with `SAFETY_FACTOR`; the thickest there is
    where none does."""
    needed = math.sqrt(4.0 * SAFETY_FACTOR * mass * GRAVITY / (math.pi * YIELD_PA))
    return next((size * MM for size in DIAMETERS_MM if size * MM >= needed), DIAMETERS_MM[-1] * MM)
