"""The first minutes: how the current may rise as metal grows over the coat.

The deposit lies beside the coat as a second conductor, 1/Rs = 1/Rs0 + t / resistivity. It grows first near the wire, so
the current spreads from there. The current allowed at any time is the one at which no place gets more than the bath's
highest sound density, the rim of the wires' pads included, and the plastic stays cool. Quasi-steady: at each step the
potential is in balance with the films as they are.
Source of the effect: R. Alkire, J. Electrochem. Soc. 118 (1971) 1935.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..sparse import Vector
from ..steps import Step, Steps, between
from ..units import MINUTE, UM
from . import rim
from .bathside import Bath
from .spread import Share, Spread

# common practice, no source: a deposit this thick is closed; one this thin is still islands, and conducts nothing
COVERED = 1.0 * UM
ISLANDS = 0.2 * UM
GROWTH = 0.15 * UM  # of film on the face that is plated fastest and not yet covered, in one step
RAISE = 1.6  # the current is raised when so many times as much is allowed
HOLD = 1 * MINUTE  # a current is held so long at least
LIMIT = 800  # steps
TRIES, SETTLED = 4, 0.1  # of finding the first current, and the change between two of them that is small enough

# ohm m at 20 C; copper IEC 60028, the others handbook values, from memory. Bright deposits are somewhat higher.
RESISTIVITY = {
    "copper": 1.7241e-8,
    "nickel": 6.99e-8,
    "silver": 1.59e-8,
    "zinc": 5.9e-8,
    "tin": 1.15e-7,
    "gold": 2.2e-8,
}


@dataclass(frozen=True)
class Stage:
    """Hold a current (A) for so long (s); covered : share of the plated area that is closed over at its end."""

    current: float
    seconds: float
    covered: float


@dataclass(frozen=True, eq=False)
class Ramp:
    """stages : in order, the last at the full current until the wanted charge has passed
    limited : what holds the first current down: "target" (nothing does), "burn" or "warmth"
    covered_after : s until everything that a wire reaches is covered; None if never
    film : (n,) metres on each patch when the charge has passed, 0 where no wire reaches
    """

    stages: tuple[Stage, ...]
    limited: str
    covered_after: float | None
    film: Vector


@dataclass(frozen=True)
class Drive:
    """What limits the current, and what it does.

    target : A in the end; charge : C in all; top : A/m2, the highest density of a sound deposit
    conductivity : S/m of the bath; polarisation : ohm m2, slope of the kinetics at `top`
    heat : A at which the bare coat at the wire becomes too warm, inf if never; flux : W/m2 too warm anywhere
    rate : m3/C of metal; resistivity : ohm m of the metal
    """

    target: float
    charge: float
    top: float
    conductivity: float
    polarisation: float
    heat: float
    flux: float
    rate: float
    resistivity: float


@dataclass(frozen=True, eq=False)
class _Now:
    """The coat at one moment. found : for an ampere; allowed : A; burn : whether density is what limits it"""

    found: Share
    allowed: float
    burn: bool


def run(spread: Spread, bath: Bath, sheet_resistance: float, drive: Drive, *, film: float = 0.0) -> Steps[Ramp]:
    """Walk through the first minutes on the coarse copy of a coat.

    spread : of the coat with its wires; sheet_resistance : ohm per square, above 0
    bath : asked at the start, whenever the current is raised, and as often as the time has doubled
    film : metres of metal that lie on the coat before the current is on
    """
    area, total = spread.area, float(spread.patches.area.sum())
    thick = np.full(len(area), film)
    stages: list[Stage] = []
    since, now, passed, asked = 0.0, 0.0, 0.0, 0.0
    covered_after: float | None = None
    first = float(_conductance(thick, sheet_resistance, drive)[0])
    resistance, current = yield from _first(spread, bath, _conductance(thick, sheet_resistance, drive), drive, first)
    limited = ""
    for count in range(LIMIT):
        sheet = _conductance(thick, sheet_resistance, drive)
        closed = (thick >= COVERED) | (film > 0)
        share = float(area[closed].sum()) / total
        if closed.all() and covered_after is None:
            covered_after = now
        state = _judged(spread, sheet, resistance, drive, first)
        if not limited:
            limited = "target" if current >= drive.target else "burn" if state.burn else "warmth"
        rises = current < drive.target and now - since >= HOLD and state.allowed >= min(RAISE * current, drive.target)
        if rises or (now > 2 * max(asked, HOLD) and not closed.all()):
            wanted = state.allowed if rises else current
            resistance, asked = (yield from bath.seen(spread, sheet, wanted)), now
            state = _judged(spread, sheet, resistance, drive, first)
            rises = rises and state.allowed >= min(RAISE * current, drive.target)
        if rises:
            stages.append(Stage(current, now - since, share))
            current, since = rounded_down(state.allowed, drive.target), now
        left = (drive.charge - passed) / current
        if left <= 0.0 or (closed.all() and current >= drive.target):
            break
        density = current * state.found.density
        fastest = float(density[~closed].max()) if not closed.all() else math.inf
        step = min(GROWTH / (drive.rate * fastest) if fastest > 0 else math.inf, left)
        step = min(step, max(HOLD / 4, 0.2 * now)) if current < drive.target else step
        thick = thick + drive.rate * density * step
        now, passed = now + step, passed + current * step
        yield Step(max(share, count / LIMIT), f"Covering the coat: {now / MINUTE:.0f} minutes, {share:.0%} covered")
    rest = max(drive.charge - passed, 0.0) / current
    thick = thick + drive.rate * current * state.found.density * rest
    closed = (thick >= COVERED) | (film > 0)
    stages.append(Stage(current, now - since + rest, float(area[closed].sum()) / total))
    full = np.zeros(len(spread.patches.area))
    full[spread.own] = thick
    return Ramp(tuple(stages), limited, covered_after, full)


def _conductance(thick: Vector, sheet_resistance: float, drive: Drive) -> Vector:
    """(n,) siemens a square of the coat with its film."""
    return 1.0 / sheet_resistance + np.maximum(thick - ISLANDS, 0.0) / drive.resistivity


def _first(
    spread: Spread, bath: Bath, sheet: Vector, drive: Drive, first: float
) -> Steps[tuple[Vector, float]]:
    """What the bath is to each patch at the current to start with, and that current in A."""
    current = drive.target
    for turn in range(TRIES):
        resistance = yield from between(turn / TRIES * 0.2, (turn + 1) / TRIES * 0.2, bath.seen(spread, sheet, current))
        allowed = _judged(spread, sheet, resistance, drive, first).allowed
        settled = abs(allowed - current) <= SETTLED * current
        current = allowed
        if settled:
            break
    return resistance, rounded_down(current, drive.target)


def _judged(spread: Spread, sheet: Vector, resistance: Vector, drive: Drive, first: float) -> _Now:
    """How the current spreads, and how much of it there may be. first : siemens a square of the bare coat"""
    found = spread.share(sheet, resistance)
    under = np.array([float(sheet[c.held].mean()) for c in spread.contacts])
    warm = drive.heat * math.sqrt(float(under.min()) / first)
    if found.warmth > 0:
        warm = min(warm, math.sqrt(drive.flux / found.warmth))
    length = drive.conductivity * drive.polarisation
    rims = [
        ring + drive.conductivity * wire / (2 * math.pi * c.round * siemens) * rim.excess(length, c.radius, c.away)
        for c, ring, wire, siemens in zip(spread.contacts, found.rings, found.wires, under, strict=True)
    ]
    bare = spread.bare
    burn = drive.top / max(*rims, float(found.density[bare].max()) if bare.any() else 0.0)
    return _Now(found, min(drive.target, burn, warm), burn < warm)


def rounded_down(current: float, most: float) -> float:
    """A current that a supply's knob can be set to: two digits, never above `current`; all of it at the target."""
    if current >= most:
        return most
    digit = 10.0 ** (math.floor(math.log10(current)) - 1)
    return float(f"{math.floor(current / digit * (1 + 1e-9)) * digit:.2g}")
