"""The first minutes: how the current may rise as metal grows over the coat.

The deposit lies beside the coat as a second conductor, 1/Rs = 1/Rs0 + t / resistivity. It grows first near the wire, so
the current spreads from there; the current allowed at any time is the one at which the face that gets most still plates
soundly. Quasi-steady: at each step the potential is in balance with the films as they are.
Source of the effect: R. Alkire, J. Electrochem. Soc. 118 (1971) 1935.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..sparse import Vector
from ..steps import Step, Steps
from ..units import MINUTE, UM
from .proxy import Proxy
from .spread import Spread

# common practice, no source: a deposit this thick is closed; one this thin is still islands, and conducts nothing
COVERED = 1.0 * UM
ISLANDS = 0.2 * UM
GROWTH = 0.15 * UM  # of film on the face that is plated fastest and not yet covered, in one step
RAISE = 1.6  # the current is raised when so many times as much is allowed
HOLD = 1 * MINUTE  # a current is held so long at least
LIMIT = 800  # steps

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
    heat : A at which the bare coat at the wire becomes too warm, inf if never; flux : W/m2 too warm anywhere
    rate : m3/C of metal; resistivity : ohm m of the metal
    """

    target: float
    charge: float
    top: float
    heat: float
    flux: float
    rate: float
    resistivity: float


def run(
    patches: Proxy,
    pads: list[tuple[Vector, float]],
    sheet_resistance: float,
    resistance: Callable[[float], Vector],
    drive: Drive,
    *,
    voltage: float = 0.0,
    film: float = 0.0,
) -> Steps[Ramp]:
    """Walk through the first minutes on the coarse copy of a coat.

    pads : centre (3,) and diameter of each wire, metres; sheet_resistance : ohm per square, above 0
    resistance : mean density A/m2 -> (n,) ohm m2 between each patch and the bath
    voltage : V between wire and bath for an ampere at the target's density, from the coat itself; 0: as the copy has it
    film : metres of metal that lie on the coat before the current is on
    """
    spread = Spread.of(patches, pads)
    area, total = spread.area, float(patches.area.sum())
    thick = np.full(len(area), film)
    bare = 1.0 / sheet_resistance

    def sheet() -> Vector:
        return bare + np.maximum(thick - ISLANDS, 0.0) / drive.resistivity

    def bath(current: float) -> Vector:
        return resistance(current / float(area.sum()))[spread.own]

    first = float(sheet()[spread.held].min())
    spread = spread.fitted(sheet(), bath(drive.target), voltage)
    stages: list[Stage] = []
    current, since, now, passed = 0.0, 0.0, 0.0, 0.0
    covered_after: float | None = None
    limited = "target"
    for count in range(LIMIT):
        closed = (thick >= COVERED) | (film > 0)
        share = float(area[closed].sum()) / total
        if closed.all() and covered_after is None:
            covered_after = now
        found = spread.share(sheet(), bath(current or drive.target))
        warm = drive.heat * math.sqrt(float(sheet()[spread.held].min()) / first)
        if found.warmth > 0:
            warm = min(warm, math.sqrt(drive.flux / found.warmth))
        burn = drive.top / max(found.rim, float(found.density.max()))
        allowed = min(drive.target, burn, warm)
        if current == 0.0:
            current = rounded_down(allowed, drive.target)
            limited = "target" if current >= drive.target else "burn" if burn < warm else "warmth"
        elif current < drive.target and now - since >= HOLD and allowed >= min(RAISE * current, drive.target):
            stages.append(Stage(current, now - since, share))
            current, since = rounded_down(allowed, drive.target), now
        left = (drive.charge - passed) / current
        if left <= 0.0 or (closed.all() and current >= drive.target):
            break
        density = current * found.density
        fastest = float(density[~closed].max()) if not closed.all() else math.inf
        step = min(GROWTH / (drive.rate * fastest) if fastest > 0 else math.inf, left)
        step = min(step, max(HOLD / 4, 0.2 * now)) if current < drive.target else step
        thick = thick + drive.rate * density * step
        now, passed = now + step, passed + current * step
        yield Step(max(share, count / LIMIT), f"Covering the coat: {now / MINUTE:.0f} minutes, {share:.0%} covered")
    rest = max(drive.charge - passed, 0.0) / current
    thick = thick + drive.rate * current * found.density * rest
    closed = (thick >= COVERED) | (film > 0)
    stages.append(Stage(current, now - since + rest, float(area[closed].sum()) / total))
    full = np.zeros(len(patches.area))
    full[spread.own] = thick
    return Ramp(tuple(stages), limited, covered_after, full)


def rounded_down(current: float, most: float) -> float:
    """A current that a supply's knob can be set to: two digits, never above `current`; all of it at the target."""
    if current >= most:
        return most
    digit = 10.0 ** (math.floor(math.log10(current)) - 1)
    return float(f"{math.floor(current / digit * (1 + 1e-9)) * digit:.2g}")
