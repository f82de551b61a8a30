"""Findings on how a part hangs: it floats, it holds air, another way up is better."""

from __future__ import annotations

import numpy as np

from ..findings import Code, Finding, Quantity, Remedy, RemedyCode, Severity
from .balance import Balance
from .mass import Body
from .suggestion import Suggestion


def floating(start: Balance, end: Balance, added: float, thickness: float, rigid: float | None) -> list[Finding]:
    """Findings about weight and buoyancy.

    start, end : of plating; added : kg of copper that sinks it; thickness : m of deposit that does; rigid : m, a wire's
    """
    if not start.floats:
        return []
    wire = {} if rigid is None else {Quantity.DIAMETER: rigid}
    return [
        Finding(
            Code.FLOATS,
            Severity.SPOILS,
            {Quantity.MASS: -start.net, Quantity.BALLAST: added, Quantity.THICKNESS: thickness, **wire},
            {"at_the_end": "floats" if end.floats else "sinks"},
            remedy=Remedy(RemedyCode.ADD_BALLAST, {Quantity.BALLAST: added, **wire}),
        )
    ]


def interior(body: Body, bath_density: float, infill: float, walls: float) -> list[Finding]:
    """Findings about the inside of the print: trapped air, walls that meet.

    bath_density : kg/m3; infill : 0..1; walls : m
    """
    findings = []
    creeping = body.air - body.void
    seal = Remedy(RemedyCode.SEAL_PRINT)
    if infill < 1 and creeping > 0.05 * body.displaced:
        quantities = {Quantity.VOLUME: creeping, Quantity.MASS: creeping * bath_density}
        findings.append(Finding(Code.INFILL_AIR, Severity.COSTS, quantities, remedy=seal))
    if body.void > 1e-3 * body.displaced:
        quantities = {Quantity.VOLUME: body.void, Quantity.MASS: body.void * bath_density}
        findings.append(Finding(Code.VOID_AIR, Severity.COSTS, quantities, remedy=seal))
    if infill < 1 and body.wall >= body.solid * (1 - 1e-9):
        findings.append(Finding(Code.WALLS_MEET, Severity.COSTS, {Quantity.WALLS: walls}))
    return findings


def better_way_up(as_set: Suggestion | None, suggestions: tuple[Suggestion, ...]) -> list[Finding]:
    """A finding where another way up is clearly better than the one that the job sets."""
    if as_set is None or not suggestions or np.array_equal(suggestions[0].up, as_set.up) or not suggestions[0].fits:
        return []
    best = suggestions[0]
    x, y, z = (float(value) for value in best.up)
    return [
        Finding(
            Code.BETTER_WAY_UP,
            Severity.COSTS,
            {
                Quantity.GAS_GAIN: as_set.trapped - best.trapped,
                Quantity.AREA_GAIN: as_set.dry + as_set.underside - best.dry - best.underside,
                Quantity.HELD_GAIN: as_set.held - best.held,
            },
            remedy=Remedy(RemedyCode.HANG_OTHERWISE, {Quantity.UP_X: x, Quantity.UP_Y: y, Quantity.UP_Z: z}),
        )
    ]


def gas_lift(full: Balance, swing: float | None) -> list[Finding]:
    """A finding where gas in the pockets lifts or turns the part. full : with all of it; swing : rad"""
    vent = Remedy(RemedyCode.VENT)
    if full.floats:
        return [Finding(Code.GAS_LIFTS, Severity.SPOILS, {Quantity.MASS: -full.net}, remedy=vent)]
    if swing is not None and swing > np.radians(5):
        return [Finding(Code.GAS_SWINGS, Severity.COSTS, {Quantity.SWING: swing}, remedy=vent)]
    return []
