"""The bath's conductivity from the user's own measurement: two plates, a current and a voltage at several
settings.

U = U0 + I R: what the plates' polarization costs hardly changes with the current, so the slope R leaves it
out, and kappa = gap / (area R) for plates that fill the cross-section between them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..settings.bath import Measured
from ..units import CM2, MM

SLACK = 0.02  # relative uncertainty of a gap and an area measured by ruler: common practice, no source
READING = 0.01  # relative uncertainty of a hand-held meter's reading: common practice, no source


@dataclass(frozen=True)
class Conductivity:
    """value : S/m; uncertainty : S/m, one standard deviation
    resistance : ohm between the plates; offset : V at no current, the plates' polarization
    warnings : sentences
    """

    value: float
    uncertainty: float
    resistance: float
    offset: float
    warnings: tuple[str, ...] = ()


def of(readings: Measured, where: str = "conductivity") -> Conductivity:
    """From the readings of a job. Raises InputError, beginning with `where`, where they cannot give a slope."""
    try:
        return measured(readings.area, readings.gap, readings.currents, readings.voltages)
    except InputError as fault:
        raise InputError(f"{where}: {str(fault).removeprefix('conductivity: ')}") from None


def measured(area: float, gap: float, currents: Sequence[float], voltages: Sequence[float]) -> Conductivity:
    """From plates of `area` (m2, one side, facing each other) a `gap` apart (m), at two or more settings (A,
    V).

    The uncertainty adds the scatter about the line (of the readings where there are only two) to that of the
    ruler. Raises InputError where the settings cannot give a slope.
    """
    i, u = np.asarray(currents, dtype=float), np.asarray(voltages, dtype=float)
    if len(i) != len(u):
        raise InputError(f"conductivity: {len(i)} currents for {len(u)} voltages; give one of each a setting")
    if not area > 0 or not gap > 0:
        raise InputError(f"conductivity: plates of {area / CM2:g} cm2, {gap / MM:g} mm apart; give sizes above zero")
    if not (np.isfinite(i).all() and np.isfinite(u).all()):
        raise InputError("conductivity: the readings must be finite numbers")
    if len(i) < 2 or np.ptp(i) < 0.05 * np.abs(i).max():
        raise InputError("conductivity: read current and voltage at two settings at least, clearly apart")
    away = i - i.mean()
    spread = float(away @ away)
    slope = float(away @ u) / spread
    if not slope > 0:
        raise InputError("conductivity: the voltage does not rise with the current; check the readings")
    offset = float(u.mean() - slope * i.mean())
    left = u - offset - slope * i
    scatter = float(left @ left) / (len(i) - 2) if len(i) > 2 else 0.0
    reading = float((away**2) @ (READING * u) ** 2) / spread  # what the meter alone may be off
    error = math.sqrt(max(scatter, reading) / spread) / slope
    value = gap / (area * slope)
    return Conductivity(
        value,
        value * math.sqrt(error**2 + 2 * SLACK**2),
        slope,
        offset,
        tuple(_warnings(area, gap, offset, u, error)),
    )


def _warnings(area: float, gap: float, offset: float, voltages: np.ndarray, error: float) -> list[str]:
    found = []
    if gap > math.sqrt(area):
        found.append(
            "the plates are further apart than they are wide: current bulges out beside them and the"
            " conductivity comes out too high, unless they fill the vessel from wall to wall"
        )
    if offset < -0.05 * float(np.abs(voltages).max()):
        found.append("the line does not point to a positive voltage at no current: check the readings")
    if error > 0.1:
        found.append("the readings scatter about the line by more than 10 %: read more settings, further apart")
    return found
