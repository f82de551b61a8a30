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

from .. import multigrid
from ..sparse import Graph, Index, Vector, added
from ..steps import Step, Steps, finish
from ..units import MINUTE, UM
from .proxy import Proxy
from .rank import PEACEMAN

# common practice, no source: a deposit this thick is closed; one this thin is still islands, and conducts nothing
COVERED = 1.0 * UM
ISLANDS = 0.2 * UM
GROWTH = 0.25 * UM  # of film on the face that is plated fastest and not yet covered, in one step
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
    film: float = 0.0,
) -> Steps[Ramp]:
    """Walk through the first minutes on the coarse copy of a coat.

    pads : centre (3,) and diameter of each wire, metres; sheet_resistance : ohm per square, above 0
    resistance : mean density A/m2 -> (n,) ohm m2 between each patch and the bath
    film : metres of metal that lie on the coat before the current is on
    """
    held, wire = _wires(patches, pads)
    served = np.isin(patches.piece, np.unique(patches.piece[held])) & (patches.area > 0)
    own = np.flatnonzero(served)
    number = np.full(len(served), -1)
    number[own] = np.arange(len(own))
    low, high = number[patches.graph.low], number[patches.graph.high]
    both = (low >= 0) & (high >= 0)
    graph = Graph(len(own), low[both], high[both], patches.graph.weight[both])
    area, total = patches.area[own], float(patches.area.sum())
    thick = np.full(len(own), film)
    bare = 1.0 / sheet_resistance
    stages: list[Stage] = []
    current, since, now, passed = 0.0, 0.0, 0.0, 0.0
    covered_after: float | None = None
    limited = "target"
    for count in range(LIMIT):
        closed = (thick >= COVERED) | (film > 0)
        share = float(area[closed].sum()) / total
        if closed.all() and covered_after is None:
            covered_after = now
        conductance = bare + np.maximum(thick - ISLANDS, 0.0) / drive.resistivity
        mean = (current or drive.target) / float(area.sum())
        per_ampere, warmth = _shape(graph, number[held], wire, conductance, area, resistance(mean)[own])
        # at the wire's rim the coarse copy sees too little, so its warmth is scaled; elsewhere, where the film ends, it
        # sees enough
        warm = drive.heat * math.sqrt(float(conductance[number[held]].min()) / bare)
        if warmth > 0:
            warm = min(warm, math.sqrt(drive.flux / warmth))
        burn = drive.top / float(per_ampere.max())
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
        density = current * per_ampere
        fastest = float(density[~closed].max()) if not closed.all() else math.inf
        step = min(GROWTH / (drive.rate * fastest) if fastest > 0 else math.inf, left)
        step = min(step, max(HOLD / 4, 0.2 * now)) if current < drive.target else step
        thick += drive.rate * density * step
        now, passed = now + step, passed + current * step
        yield Step(max(share, count / LIMIT), f"Covering the coat: {now / MINUTE:.0f} minutes, {share:.0%} covered")
    rest = max(drive.charge - passed, 0.0) / current
    thick = thick + drive.rate * current * per_ampere * rest
    closed = (thick >= COVERED) | (film > 0)
    stages.append(Stage(current, now - since + rest, float(area[closed].sum()) / total))
    full = np.zeros(len(served))
    full[own] = thick
    return Ramp(tuple(stages), limited, covered_after, full)


def rounded_down(current: float, most: float) -> float:
    """A current that a supply's knob can be set to: two digits, never above `current`; all of it at the target."""
    if current >= most:
        return most
    digit = 10.0 ** (math.floor(math.log10(current)) - 1)
    return float(f"{math.floor(current / digit * (1 + 1e-9)) * digit:.2g}")


def _wires(patches: Proxy, pads: list[tuple[Vector, float]]) -> tuple[Index, Vector]:
    """The patches that the wires hold, and the squares of sheet between each patch's middle and its wire."""
    held: list[Index] = []
    squares: list[Vector] = []
    for centre, diameter in pads:
        away = np.linalg.norm(patches.middle - centre, axis=1)
        away[patches.area <= 0] = np.inf
        nearest = int(away.argmin())
        under = np.flatnonzero((away <= diameter / 2) & (patches.piece == patches.piece[nearest]))
        if not len(under):
            under = np.array([nearest])
        disc = PEACEMAN * np.sqrt(patches.area[under])
        held.append(under)
        squares.append(np.maximum(np.log(2 * disc / diameter) / (2 * np.pi), 1e-3))
    return np.concatenate(held), np.concatenate(squares)


def _shape(
    graph: Graph, held: Index, squares: Vector, sheet: Vector, area: Vector, resistance: Vector
) -> tuple[Vector, float]:
    """(n,) A/m2 on each patch for one ampere in all, and W/m2 in the sheet where it is warmest away from the wires.

    sheet : (n,) sheet conductance, siemens; squares : of sheet between each held patch's middle and the wire
    """
    a, b = sheet[graph.low], sheet[graph.high]
    now = Graph(graph.count, graph.low, graph.high, graph.weight * (2 * a * b / (a + b)))
    ground = area / resistance
    ground[held] += sheet[held] / squares
    leak = area / resistance
    hierarchy = finish(multigrid.prepare(now, ground))
    lost = finish(multigrid.solve(hierarchy, leak, tolerance=1e-4)).x
    density = np.maximum(1.0 - lost, 0.0) / resistance
    volts = 1.0 / float(area @ density)
    step = lost[now.low] - lost[now.high]
    # half of each pair's power to either end, by the resistance of that half; next to a wire it is not resolved
    wired = np.zeros(now.count, dtype=bool)
    wired[held] = True
    power = np.where(wired[now.low] | wired[now.high], 0.0, now.weight * step * step / (a + b))
    warmth = (added(now.low, power * b, now.count) + added(now.high, power * a, now.count)) / area
    return volts * density, volts * volts * float(warmth.max(initial=0.0))
