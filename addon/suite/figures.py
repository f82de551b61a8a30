"""Numbers as a person at the bench reads them: three digits, and the unit always beside."""

from __future__ import annotations

import math

from ..engine.chemistry import deposit
from ..engine.reporting import plan_text
from ..engine.units import ML

LEAST_ML = 0.01  # smaller volumes are not told apart

_UNITS = {"C": "°C", "um": "µm", "ohm/sq": "Ω/□", "ohm m2": "Ω·m²", "deg": "°", "wt%": "wt %"}


def unit_text(unit: str) -> str:
    """A unit as it is printed on screen."""
    return _UNITS.get(unit) or plan_text.typeset(unit)


def figure(value: float, unit: str = "") -> str:
    """Three significant digits and the unit: "0.843 dm²", "1240 mL", "0 mL"; a dash for no number."""
    if math.isinf(value):
        return "unlimited"
    return f"{plan_text.figure(value)} {unit_text(unit)}".rstrip()


def milliliters(volume: float) -> str:
    """m3 in mL: "12.6 mL", "under 0.01 mL"."""
    return f"under {LEAST_ML:g} mL" if 0 < volume < LEAST_ML * ML else figure(volume / ML, "mL")


def duration(seconds: float) -> str:
    """ "1 h 20 min"; "never" for no end."""
    return deposit.duration(seconds) if math.isfinite(seconds) else "never"
