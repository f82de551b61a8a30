"""Numbers as a person at the bench reads them: three digits, and the unit always beside."""

from __future__ import annotations

import math

_UNITS = {
    "um": "µm",
    "A/dm2": "A/dm²",
    "C": "°C",
    "ohm/sq": "Ω/□",
    "ohm m2": "Ω·m²",
    "A/m2": "A/m²",
    "dm2": "dm²",
    "cm2": "cm²",
    "cm3": "cm³",
    "mm2": "mm²",
    "deg": "°",
    "wt%": "wt %",
}


def unit_text(unit: str) -> str:
    """A unit as it is printed on screen."""
    return _UNITS.get(unit, unit)


def figure(value: float, unit: str = "") -> str:
    """Three significant digits and the unit: "0.843 dm²", "1240 mL", "0 mL"; a dash for no number."""
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "unlimited"
    decimals = 0 if value == 0 else max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 6)}f} {unit_text(unit)}".rstrip()
