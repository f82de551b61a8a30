"""Uncertainty of a plan's figures: of the current distribution, and of everything set or weighed by hand."""

from __future__ import annotations

from collections.abc import Mapping

from . import schedule
from .faraday import METALS
from .study import Study
from .units import AMPERE_HOUR, GRAM, HOUR, LITER, ML, MM

# relative; common practice, no source
METER_ERROR = 0.01  # of a current reading
PRINT_ERROR = 0.05  # of a print's weight: scatter of walls and infill
BATH_ERROR = 0.01  # of a bath's density
VESSEL_ERROR, RULER_ERROR = 0.1, 0.02  # of a volume: of a vessel as sold, and of a measured one
EFFICIENCY_ERROR = 0.02  # of the current's share that deposits metal, no more than all of it
PRINT_ACCURACY_M = 0.1 * MM  # of a hollow's walls

Span = tuple[float, float]


def of_study(study: Study) -> Mapping[str, Span]:
    """Key of the report -> (low, high), in the key's unit."""
    spans: dict[str, Span] = {}
    if study.results.ranges is not None:
        spans |= study.results.ranges.spans
    return {**spans, **_current(study), **_weight(study), **_volumes(study)}


def _current(study: Study) -> dict[str, Span]:
    """Figures set and read at the supply, and the metal deposited."""
    deposit = study.results.deposit
    if deposit is None:
        return {}
    step = study.job.supply.step / deposit.copies
    share = METER_ERROR + 0.5 * step / deposit.current
    off = min(share, 0.5)
    efficiency = deposit.efficiency
    low, high = (min(efficiency + way * EFFICIENCY_ERROR, 1.0) / efficiency for way in (-1, 1))
    spans = {
        "deposit.current_A": _about(deposit.current, off),
        "deposit.total_current_A": _about(deposit.copies * deposit.current, off),
        "deposit.charge_Ah": _about(deposit.charge / AMPERE_HOUR, METER_ERROR),
        "deposit.time_h": _about(deposit.time / HOUR, off),
        "deposit.metal_g": (
            deposit.mass / GRAM * low * (1 - METER_ERROR),
            deposit.mass / GRAM * high * (1 + METER_ERROR),
        ),
    }
    timetable = schedule.of_study(study)
    if timetable is not None:
        spans["schedule.full_current_A"] = _about(timetable.full_current, off)
        spans["schedule.charge_Ah"] = _about(timetable.charge / AMPERE_HOUR, METER_ERROR)
        spans["schedule.time_h"] = _about(timetable.time / HOUR, off)
    return spans


def _weight(study: Study) -> dict[str, Span]:
    """Ballast, for the scatter of the print's weight and the bath's density."""
    hung = study.results.hanging
    if hung is None or hung.body is None:
        return {}
    body, bath = hung.body, study.job.bath
    metal = METALS[bath.metal].density
    off = PRINT_ERROR * body.mass + BATH_ERROR * bath.density * body.displaced
    off /= 1.0 - bath.density / metal  # a metal ballast is buoyant too
    low, high = max(hung.ballast - off, 0.0), hung.ballast + off
    return {
        "hanging.mass_g": _about(body.mass / GRAM, PRINT_ERROR),
        "hanging.ballast_g": (low / GRAM, high / GRAM) if hung.ballast > 0 else (0.0, 0.0),
    }


def _volumes(study: Study) -> dict[str, Span]:
    """Gas in an inexactly printed hollow, and the bath in a vessel of nominal volume."""
    spans: dict[str, Span] = {}
    for key, gas in (("gas", study.results.gas), ("gas_hung", study.results.gas_hung)):
        if gas is not None:
            off = PRINT_ACCURACY_M * gas.trapped_area
            low, high = max(gas.trapped_volume - off, 0.0), gas.trapped_volume + off
            spans[f"{key}.trapped_mL"] = (low / ML, high / ML)
    tank = study.in_tank.tank
    if tank.shape == "box":
        length, width, _ = tank.size
        error = VESSEL_ERROR if tank.assumed else RULER_ERROR
        spans["tank.volume_L"] = _about(length * width * tank.level / LITER, error)
    return spans


def _about(value: float, error: float) -> Span:
    """The value plus and minus a relative share."""
    return value * (1.0 - error), value * (1.0 + error)
