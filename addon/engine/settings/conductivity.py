"""The bath's conductivity from the user's own measurement: two plates, a current and a voltage at several
settings.

U = U0 + I R: the plates' polarization hardly changes with the current, so it does not enter the slope R, and kappa =
gap / (area R) for plates that fill the cross-section between them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity
from ..units import CM2, in_mm
from .bath import Measured

RULER_UNCERTAINTY = 0.02  # relative uncertainty of a gap and an area measured by ruler: common practice, no source
METER_UNCERTAINTY = 0.01  # relative uncertainty of a hand-held meter's reading: common practice, no source


@dataclass(frozen=True)
class Conductivity:
    """value : S/m; uncertainty : S/m, one standard deviation
    resistance : ohm between the plates; offset : V at no current, the plates' polarization
    findings : reasons for doubt
    """

    value: float
    uncertainty: float
    resistance: float
    offset: float
    findings: tuple[Finding, ...] = ()


def of(readings: Measured, where: str = "conductivity") -> Conductivity:
    """From the readings of a job. Raises InputError, beginning with `where`, where they cannot give a slope."""
    return measured(readings.area, readings.gap, readings.currents, readings.voltages, where)


def measured(
    area: float, gap: float, currents: Sequence[float], voltages: Sequence[float], where: str = "conductivity"
) -> Conductivity:
    """From plates of `area` (m2, one side, facing each other) a `gap` apart (m), at two or more settings (A,
    V).

    The uncertainty adds the scatter about the line (of the readings where there are only two) to that of the
    ruler. Raises InputError, beginning with `where`, where the settings cannot give a slope.
    """
    i, u = np.asarray(currents, dtype=float), np.asarray(voltages, dtype=float)
    if len(i) != len(u):
        raise InputError(
            filled(
                "{path}: {currents} currents for {voltages} voltages; give one of each a setting",
                path=where,
                currents=len(i),
                voltages=len(u),
            )
        )
    if not area > 0 or not gap > 0:
        raise InputError(
            filled(
                "{path}: plates of {area} cm2, {gap} apart; give sizes above zero",
                path=where,
                area=f"{area / CM2:g}",
                gap=in_mm(gap),
            )
        )
    if not (np.isfinite(i).all() and np.isfinite(u).all()):
        raise InputError(filled("{path}: the readings must be finite numbers", path=where))
    if len(i) < 2 or np.ptp(i) < 0.05 * np.abs(i).max():
        raise InputError(filled("{path}: read current and voltage at two settings at least, clearly apart", path=where))
    away = i - i.mean()
    spread = float(away @ away)
    slope = float(away @ u) / spread
    if not slope > 0:
        raise InputError(filled("{path}: the voltage does not rise with the current; check the readings", path=where))
    offset = float(u.mean() - slope * i.mean())
    left = u - offset - slope * i
    scatter = float(left @ left) / (len(i) - 2) if len(i) > 2 else 0.0
    reading = float((away**2) @ (METER_UNCERTAINTY * u) ** 2) / spread  # the meter's own error
    error = math.sqrt(max(scatter, reading) / spread) / slope
    value = gap / (area * slope)
    return Conductivity(
        value,
        value * math.sqrt(error**2 + 2 * RULER_UNCERTAINTY**2),
        slope,
        offset,
        tuple(_doubts(area, gap, offset, u, error)),
    )


def _doubts(area: float, gap: float, offset: float, voltages: np.ndarray, error: float) -> list[Finding]:
    """Reasons to doubt the result."""
    again = Remedy(RemedyCode.MEASURE_AGAIN)
    doubts = []
    if gap > math.sqrt(area):
        quantities = {Quantity.GAP: gap, Quantity.WIDTH: math.sqrt(area)}
        doubts.append(Finding(Code.PLATES_FAR_APART, Severity.COSTS, quantities, remedy=again))
    if offset < -0.05 * float(np.abs(voltages).max()):
        doubts.append(Finding(Code.READINGS_NEGATIVE, Severity.COSTS, {Quantity.VOLTAGE: offset}, remedy=again))
    if error > 0.1:
        doubts.append(Finding(Code.READINGS_SCATTER, Severity.COSTS, {Quantity.ERROR: error}, remedy=again))
    return doubts
