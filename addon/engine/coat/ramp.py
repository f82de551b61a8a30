"""The first minutes: how the current may rise as metal grows over the coat.

The deposit lies beside the coat as a second conductor, 1/Rs = 1/Rs0 + t / resistivity. It grows first near the wire, so
the current spreads from there. The current allowed at any time is the one at which no place gets more than the bath's
highest sound density, the rim of the wires' pads included, and the plastic stays cool. Quasi-steady: at each step the
potential is in balance with the films as they are.
Source of the effect: R. Alkire, J. Electrochem. Soc. 118 (1971) 1935.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..linalg.sparse import Vector
from ..progress import Progress, Step, subrange
from ..units import MINUTE, UM
from .bathside import Bath
from .rim import Front
from .spread import Share, Spread

# common practice, no source: a deposit this thick is closed; one this thin is still islands, and conducts nothing
COVERED = 1.0 * UM
ISLANDS = 0.2 * UM
GROWTH = 0.15 * UM  # of film on the face that is plated fastest and not yet covered, in one step
RAISE = 1.6  # the current is raised when so many times as much is allowed
HOLD = 1 * MINUTE  # a current is held so long at least
LITTLE = 0.97  # a coat that leaves every place so much of the voltage loses little: the bath need not be asked again
AGAIN = 2 * MINUTE  # after which the bath is asked again on the way to the full current
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
    """Hold a current (A) for so long (s); covered : share of the plated area that is closed over at its end
    voltage : V between wire and anodes at most meanwhile, 0 where nobody computed it
    """

    current: float
    seconds: float
    covered: float
    voltage: float = 0.0


@dataclass(frozen=True, eq=False)
class Ramp:
    """stages : in order, the last at the full current until the wanted charge has passed
    limited : what holds the first current down: "target" (nothing does), "burn" or "warmth"
    covered_after : s until everything that a wire reaches is covered; None if never
    film : (n,) meters on each patch when the charge has passed, 0 where no wire reaches
    """

    stages: tuple[Stage, ...]
    limited: str
    covered_after: float | None
    film: Vector


@dataclass(frozen=True)
class Drive:
    """What limits the current, and what it does.

    target : A in the end; charge : C in all; top : A/m2, the highest density of a sound deposit
    conductivity : S/m of the bath; polarization : ohm m2, slope of the kinetics at `top`
    heat : A at which the bare coat at the wire becomes too warm, inf if never; flux : W/m2 too warm anywhere
    rate : m3/C of metal; resistivity : ohm m of the metal
    """

    target: float
    charge: float
    top: float
    conductivity: float
    polarization: float
    heat: float
    flux: float
    rate: float
    resistivity: float

    @property
    def length(self) -> float:
        """m, the polarization length where the density is highest."""
        return self.conductivity * self.polarization


@dataclass(frozen=True, eq=False)
class _Now:
    """The coat at one moment. found : for an ampere; allowed : A; burn : whether density is what limits it"""

    found: Share
    allowed: float
    burn: bool


@dataclass(frozen=True, eq=False)
class _Walk:
    """What stays the same on the way. bare : siemens a square of the coat alone"""

    spread: Spread
    bath: Bath
    drive: Drive
    bare: float

    def conductance(self, thick: Vector) -> Vector:
        """(n,) siemens a square of the coat with its film."""
        return self.bare + np.maximum(thick - ISLANDS, 0.0) / self.drive.resistivity

    def judged(self, thick: Vector, fronts: Sequence[Front], resistance: Vector) -> _Now:
        """How the current spreads, and how much of it there may be."""
        spread, drive = self.spread, self.drive
        found = spread.share(self.conductance(thick), resistance)
        open_ = [
            (front, c.radius) for front, c in zip(fronts, spread.contacts, strict=True) if not front.through(ISLANDS)
        ]
        warm = drive.heat * min((front.radius(ISLANDS) / radius for front, radius in open_), default=math.inf)
        if found.warmth > 0:
            warm = min(warm, math.sqrt(drive.flux / found.warmth))
        rims = [
            ring + strength * front.excess(drive.length, ISLANDS)
            for front, ring, strength in zip(fronts, found.rings, self.strength(found), strict=True)
        ]
        free = spread.free
        burn = drive.top / max(*rims, float(found.density[free].max()) if free.any() else 0.0)
        return _Now(found, min(drive.target, burn, warm), burn < warm)

    def strength(self, found: Share) -> list[float]:
        """A/m for an ampere: kappa Rs I / (2 pi) at each wire, with the bare coat that is beyond the front."""
        return [
            self.drive.conductivity * wire / (2 * math.pi * c.round * self.bare)
            for c, wire in zip(self.spread.contacts, found.wires, strict=True)
        ]

    def grown(self, fronts: Sequence[Front], found: Share, charge: float) -> list[Front]:
        """The films at the rims after a charge in C."""
        return [
            front.grown(self.drive.length, ring, strength, self.drive.rate * charge)
            for front, ring, strength in zip(fronts, found.rings, self.strength(found), strict=True)
        ]

    def first(self, thick: Vector, fronts: Sequence[Front], current: float) -> Progress[tuple[Vector, float]]:
        """What the bath is to each patch at the current to start with, and that current in A, from a guess of it."""
        for turn in range(TRIES):
            low, high = 0.2 * turn / TRIES, 0.2 * (turn + 1) / TRIES
            resistance = yield from subrange(low, high, self.bath.seen(self.spread, self.conductance(thick), current))
            allowed = self.judged(thick, fronts, resistance).allowed
            settled = abs(allowed - current) <= SETTLED * current
            current = allowed
            if settled:
                break
        return resistance, rounded_down(current, self.drive.target)


def run(
    spread: Spread, bath: Bath, sheet_resistance: float, drive: Drive, *, film: float = 0.0, first: float | None = None
) -> Progress[Ramp]:
    """Walk through the first minutes on the coarse copy of a coat.

    spread : of the coat with its wires; sheet_resistance : ohm per square, above 0
    bath : asked at the start, whenever the current is raised, every few minutes on the way to the full one, and as
    often
        as the time has doubled, until the coat loses little
    film : meters of metal that lie on the coat before the current is on; first : A, a guess of the current to start
    with
    """
    walk = _Walk(spread, bath, drive, 1.0 / sheet_resistance)
    area, total = spread.area, float(spread.patches.area.sum())
    thick = np.full(len(area), film)
    fronts = [Front.of(contact.radius, contact.away, film) for contact in spread.contacts]
    stages: list[Stage] = []
    since, now, passed, asked, highest = 0.0, 0.0, 0.0, 0.0, 0.0
    covered_after: float | None = None
    resistance, current = yield from walk.first(thick, fronts, first or drive.target)
    limited, losing = "", True
    for count in range(LIMIT):
        closed = (thick >= COVERED) | (film > 0)
        share = float(area[closed].sum()) / total
        if closed.all() and covered_after is None:
            covered_after = now
        state = walk.judged(thick, fronts, resistance)
        highest = max(highest, current * state.found.voltage)
        if not limited:
            limited = "target" if current >= drive.target else "burn" if state.burn else "warmth"
        rises = current < drive.target and now - since >= HOLD and state.allowed >= min(RAISE * current, drive.target)
        stale = losing and (now > 2 * max(asked, HOLD) or (current < drive.target and now > asked + AGAIN))
        if rises or (stale and not closed.all()):
            wanted = state.allowed if rises else current
            resistance, asked = (yield from bath.seen(spread, walk.conductance(thick), wanted)), now
            state = walk.judged(thick, fronts, resistance)
            losing = float((resistance * state.found.density).min()) < LITTLE * state.found.voltage
            rises = (
                now - since >= HOLD and drive.target > current and state.allowed >= min(RAISE * current, drive.target)
            )
        if rises:
            stages.append(Stage(current, now - since, share, highest))
            current, since, highest = rounded_down(state.allowed, drive.target), now, 0.0
        left = (drive.charge - passed) / current
        if left <= 0.0 or (closed.all() and current >= drive.target):
            break
        density = current * state.found.density
        fastest = float(density[~closed].max()) if not closed.all() else math.inf
        step = min(GROWTH / (drive.rate * fastest) if fastest > 0 else math.inf, left)
        step = min(step, max(HOLD / 4, 0.2 * now)) if current < drive.target else step
        thick = thick + drive.rate * density * step
        fronts = walk.grown(fronts, state.found, current * step)
        now, passed = now + step, passed + current * step
        yield Step(max(share, count / LIMIT), f"Covering the coat: {now / MINUTE:.0f} minutes, {share:.0%} covered")
    rest = max(drive.charge - passed, 0.0) / current
    thick = thick + drive.rate * current * state.found.density * rest
    closed = (thick >= COVERED) | (film > 0)
    stages.append(Stage(current, now - since + rest, float(area[closed].sum()) / total, highest))
    full = np.zeros(len(spread.patches.area))
    full[spread.own] = thick
    return Ramp(tuple(stages), limited, covered_after, full)


def rounded_down(current: float, most: float) -> float:
    """A current that a supply's knob can be set to: two digits, never above `current`; all of it at the target."""
    if current >= most:
        return most
    digit = 10.0 ** (math.floor(math.log10(current)) - 1)
    return float(f"{math.floor(current / digit * (1 + 1e-9)) * digit:.2g}")
