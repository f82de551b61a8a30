"""The metal, current and time that the plated area takes, and how much of it the supply can give."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from .. import faraday
from ..errors import InputError
from ..filled import filled
from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity
from ..mesh.surface import Surface
from ..settings.bath import SAFE_LIMITING_SHARE, Bath, Supply
from ..settings.schema import MAX_ROUNDING, specs
from ..settings.target import Target
from ..units import A_PER_DM2, DM2, HOUR, MINUTE, UM


@dataclass(frozen=True)
class Deposit:
    """The wanted deposit, in SI; per part where several hang in the tank.

    area : m2 that takes deposit; density : A/m2, mean; current : A; time : s; charge : C; mass : kg;
    thickness : m, mean; efficiency : share of the current that deposits metal
    copies : parts that share the supply; total_current : A of all of them
    supply_density : A/m2 that the supply can give, never more than wanted; supply_time : s at that density
    findings : on the supply, and on how the actual density suits the bath
    """

    metal: str
    area: float
    density: float
    current: float
    time: float
    charge: float
    mass: float
    thickness: float
    efficiency: float
    copies: int
    total_current: float
    supply_density: float
    supply_time: float
    findings: tuple[Finding, ...] = ()


def estimate(surface: Surface, target: Target, bath: Bath, supply: Supply, copies: int = 1) -> Deposit:
    """Faraday's law on the plated area. Raises InputError where nothing is plated.

    copies : equal parts in the same tank, on the same supply
    """
    area = surface.plated_total
    current = current_for(target.density, area)
    time = time_for(target.thickness, target.density, bath)
    charge = current * time
    supplied_density = min(target.density, density_of(supply.sets(copies * current), copies * area))
    longer = time_for(target.thickness, supplied_density, bath)
    return Deposit(
        metal=bath.metal,
        area=area,
        density=target.density,
        current=current,
        time=time,
        charge=charge,
        mass=faraday.mass(faraday.metal(bath.metal), charge, bath.efficiency),
        thickness=target.thickness,
        efficiency=bath.efficiency,
        copies=copies,
        total_current=copies * current,
        supply_density=supplied_density,
        supply_time=longer,
        findings=(
            *_supply_findings(copies * current, supplied_density, longer, target, supply),
            *_step_findings(copies * current, supplied_density, longer, target, supply),
            *window_findings(supplied_density, bath, supply, copies * area, copies),
        ),
    )


def thickness_after(time: float, density: float, bath: Bath) -> float:
    """m deposited in `time` s at `density` A/m2."""
    return faraday.thickness(faraday.metal(bath.metal), density, time, bath.efficiency)


def time_for(thickness: float, density: float, bath: Bath) -> float:
    """s for `thickness` m at `density` A/m2."""
    return faraday.time(faraday.metal(bath.metal), density, thickness, bath.efficiency)


def density_for(thickness: float, time: float, bath: Bath) -> float:
    """A/m2 for `thickness` m in `time` s."""
    return faraday.density(faraday.metal(bath.metal), thickness, time, bath.efficiency)


def current_for(density: float, area: float) -> float:
    """A for `density` A/m2 on `area` m2."""
    return density * area


def density_of(current: float, area: float) -> float:
    """A/m2 of `current` A on `area` m2. Raises InputError on no area."""
    if not area > 0:
        raise InputError("the plated area is zero; choose a part with faces that are plated")
    return current / area


def settled(target: Target, bath: Bath, area: float, stated: Collection[str]) -> Target:
    """The target with the density and thickness that follow from its fixed current or time.

    area : m2 of all parts together; stated : the fields that were written. A fixed time sets the density where
    only the thickness was written, else the thickness.
    Raises InputError where the settings contradict each other or lead to values outside their limits.
    """
    density, thickness, time = target.density, target.thickness, target.time
    if target.current is not None:
        density = density_of(target.current, area)
        if "density" in stated and not _alike(density, target.density):
            raise InputError(
                filled(
                    "target: current_A = {current} and density_A_dm2 = {density} contradict each other: on {area}"
                    " dm2 that current is {density_2} A/dm2; leave one of them out",
                    current=f"{target.current:.4g}",
                    density=f"{target.density / A_PER_DM2:.4g}",
                    area=f"{area / DM2:.4g}",
                    density_2=f"{density / A_PER_DM2:.3g}",
                )
            )
    if time is not None:
        fixed = target.current is not None or "density" in stated
        if "thickness" in stated and not fixed:
            density = density_for(thickness, time, bath)
        else:
            thickness = thickness_after(time, density, bath)
        if "thickness" in stated and not _alike(thickness, target.thickness):
            raise InputError(
                filled(
                    "target: thickness_um = {thickness} and time_h = {time} contradict each other: at {density}"
                    " A/dm2 that time gives {thickness_2} um; leave one of them out",
                    thickness=f"{target.thickness / UM:.4g}",
                    time=f"{time / HOUR:.4g}",
                    density=f"{density / A_PER_DM2:.3g}",
                    thickness_2=f"{thickness / UM:.3g}",
                )
            )
    for name, value in (("density", density), ("thickness", thickness)):
        spec = specs(Target)[name]
        if not spec.low <= value / spec.scale <= spec.high:
            raise InputError(
                filled(
                    "target: the fixed current or time asks for a {what} of {figure} {unit}; it must be {allowed}",
                    what=spec.label.lower(),
                    figure=f"{value / spec.scale:.3g}",
                    unit=spec.unit,
                    allowed=spec.allowed,
                )
            )
    return replace(target, density=density, thickness=thickness)


def choices(
    target: Target, bath: Bath, area: float, time: float | None, current: float | None
) -> tuple[tuple[str, Target], ...]:
    """The targets that follow from a fixed time (s), a fixed current (A) of all parts, or both: (what stays fixed,
    target) each.

    area : m2 of all parts. A time alone leaves the density as it is, or the thickness.
    """
    fixed = replace(target, time=time, current=current)
    stay = ("both",) if time and current else ("thickness",) if current else ("density", "thickness")
    return tuple((name, settled(fixed, bath, area, {name} if time and not current else ())) for name in stay)


def _alike(a: float, b: float) -> bool:
    return abs(a - b) <= MAX_ROUNDING * abs(b)


def window_findings(
    density: float, bath: Bath, supply: Supply | None = None, area: float = 0.0, copies: int = 1
) -> list[Finding]:
    """Whether a mean current density (A/m2) suits the bath.

    supply : what gives it, None while nobody asks; area : m2 of all copies
    """
    low, high = bath.window
    names = {"bath": bath.name}
    window = {Quantity.DENSITY: density, Quantity.LOW_DENSITY: low, Quantity.HIGH_DENSITY: high}
    if density > high:
        remedy = Remedy(RemedyCode.LOWER_DENSITY, {Quantity.DENSITY: max(low, bath.safe_density)})
        return [Finding(Code.ABOVE_WINDOW, Severity.SPOILS, window, names, spoilt_share=1.0, remedy=remedy)]
    if density < low * (1.0 - MAX_ROUNDING):
        needed = {Quantity.DENSITY: low, Quantity.CURRENT: current_for(low, area)}
        short = supply is not None and needed[Quantity.CURRENT] > supply.current
        remedy = Remedy(RemedyCode.LARGER_SUPPLY if short else RemedyCode.RAISE_DENSITY, needed)
        window[Quantity.COUNT] = copies
        return [Finding(Code.BELOW_WINDOW, Severity.SPOILS, window, names, spoilt_share=1.0, remedy=remedy)]
    if density > SAFE_LIMITING_SHARE * bath.limiting:
        limit = {Quantity.DENSITY: density, Quantity.LIMIT_DENSITY: bath.limiting}
        remedy = Remedy(RemedyCode.LOWER_DENSITY, {Quantity.DENSITY: SAFE_LIMITING_SHARE * bath.limiting})
        return [Finding(Code.NEAR_LIMITING, Severity.COSTS, limit, names, remedy=remedy)]
    return []


def _supply_findings(
    current: float, supplied_density: float, time: float, target: Target, supply: Supply
) -> list[Finding]:
    """Whether the supply gives what is wanted.

    current : A wanted in all; supplied_density : A/m2 that flow; time : s then"""
    if supplied_density >= target.density or current <= supply.current:
        return []
    return [
        Finding(
            Code.SUPPLY_TOO_SMALL,
            Severity.COSTS,
            {
                Quantity.CURRENT: current,
                Quantity.SUPPLY_CURRENT: supply.current,
                Quantity.DENSITY: supplied_density,
                Quantity.WANTED_DENSITY: target.density,
                Quantity.TIME: time,
            },
            remedy=Remedy(RemedyCode.LARGER_SUPPLY, {Quantity.CURRENT: current}),
        )
    ]


def _step_findings(
    current: float, supplied_density: float, time: float, target: Target, supply: Supply
) -> list[Finding]:
    """Whether the supply can set the wanted current: its smallest step is its smallest current. Arguments as for
    `_supply_findings`."""
    whole = supplied_density >= target.density and current >= (1.0 - MAX_ROUNDING) * supply.step
    if whole or supply.hold is not None or current > supply.current:
        return []
    quantities = {Quantity.CURRENT: current, Quantity.STEP_CURRENT: supply.step, Quantity.DENSITY: supplied_density}
    if current < supply.step:
        finer = Remedy(RemedyCode.FINER_SUPPLY, {Quantity.STEP_CURRENT: current})
        return [Finding(Code.SUPPLY_TOO_COARSE, Severity.STOPS, quantities, remedy=finer)]
    quantities |= {Quantity.LIMIT_CURRENT: current * supplied_density / target.density, Quantity.TIME: time}
    finer = Remedy(RemedyCode.FINER_SUPPLY, {Quantity.STEP_CURRENT: current})
    return [Finding(Code.SUPPLY_TOO_COARSE, Severity.COSTS, quantities, remedy=finer)]


def duration(time: float) -> str:
    """A time in words: "45 min", "1 h 20 min"."""
    minutes = round(time / MINUTE)
    if minutes < 1:
        return f"{time:.0f} s"
    if minutes < 60:
        return f"{minutes} min"
    if minutes >= 48 * 60:
        return f"{time / HOUR:.0f} h"
    return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"
