"""Trade units in SI. Multiply to enter the engine, divide to leave it."""

from __future__ import annotations

MM = 1e-3
UM = 1e-6
CM2 = 1e-4
DM2 = 1e-2
CM3 = 1e-6
ML = 1e-6
LITER = 1e-3
GRAM = 1e-3
MG = 1e-6
GRAM_PER_ML = 1e3
GRAM_PER_LITER = 1.0
A_PER_DM2 = 100.0
MINUTE = 60.0
HOUR = 3600.0
AMPERE_HOUR = 3600.0
INCH = 0.0254
FOOT2 = 0.3048**2
A_PER_FOOT2 = 1.0 / FOOT2
ZERO_CELSIUS = 273.15
GRAVITY = 9.80665  # m/s2, standard acceleration of free fall (ISO 80000-3)

LENGTH = {"mm": MM, "cm": 1e-2, "m": 1.0, "inch": INCH}


def in_mm(length: float, digits: int = 4) -> str:
    """A length in meters as a fault tells it: mm, to so many digits."""
    return f"{length / MM:.{digits}g} mm"
