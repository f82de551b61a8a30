"""Trade units in SI. Multiply to enter the engine, divide to leave it."""

from __future__ import annotations

from collections.abc import Iterable

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
    """A length in meters as errors give it: mm, with this many significant digits."""
    return f"{length / MM:.{digits}g} mm"


def in_m_or_mm(length: float, digits: int = 3) -> str:
    """The same in meters from one meter on."""
    return f"{length:.{digits}g} m" if length >= 1 else in_mm(length, digits)


def mm(length: float, decimals: int = 1, *, padded: bool = False) -> str:
    """A length in meters as a number of mm: "12.5", "12"; padded with zeros to all its decimals: "12.0"."""
    text = f"{length / MM:.{decimals}f}"
    if decimals and not padded:
        text = text.rstrip("0").removesuffix(".")
    return text.removeprefix("-") if float(text) == 0 else text


def point_mm(point: Iterable[float], decimals: int = 1) -> str:
    """A point in meters: "(12, -3.5, 40)", in mm."""
    return "(" + ", ".join(mm(float(x), decimals) for x in point) + ")"
