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
from numpy.typing import NDArray

from ..filled import filled
from ..geometry.quantiles import weighted_quantiles
from ..linalg.sparse import Vector
from ..progress import Progress, Step, subrange
from ..units import MINUTE, UM
from .bathside import Bath
from .rim import Front
from .spread import Share, Spread

# common practice, no source: a deposit this thick is closed; one this thin is still islands, and conducts nothing
COVERED_FILM_M = 1.0 * UM
ISLAND_FILM_M = 0.2 * UM
MAX_GROWTH_PER_STEP_M = 0.15 * UM  # of film on the face that is plated fastest and not yet covered, in one step
MIN_RAISE_RATIO = 1.6  # the current is raised when so many times as much is allowed
MIN_HOLD_S = 1 * MINUTE  # a current is held so long at least
MIN_LOSSLESS_VOLTAGE_SHARE = (
    0.97  # a coat that leaves every place so much of the voltage loses little: the bath need not be asked again
)
BATH_UPDATE_INTERVAL_S = 2 * MINUTE  # after which the bath is asked again on the way to the full current
MAX_RAMP_STEPS = 800  # steps
NEAR_TARGET_SHARE = 0.95  # of the target: no limit is known to a twentieth, so nobody waits for the rest
MAX_IGNORED_BURNT_SHARE = 0.005  # of the plated area, that may get more than the limit: as little is no finding either
MATURE_COVERED_SHARE = (
    0.99  # share of what a wire reaches that is covered: the window of the bath then holds in place of the start's
)
COVERAGE_MILESTONES = (0.5, 0.9, 0.99)  # shares of the plated area whose covering is told
SPREAD_SHARE = 0.95  # of the covered area that lies within the distance that is told as the metal's spread
MAX_FIRST_CURRENT_TRIES = 4
FIRST_CURRENT_TOLERANCE = 0.1  # relative change between two tries that is small enough

# ohm m at 20 C; copper IEC 60028, the others handbook values, from memory. Bright deposits are somewhat higher.
RESISTIVITY_OHM_M = {
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
    spread : m from the nearest wire that metal has reached at its end, all but the last 5 % of what is covered
    """

    current: float
    seconds: float
    covered: float
    voltage: float = 0.0
    spread: float = 0.0


@dataclass(frozen=True, eq=False)
class Ramp:
    """stages : in order, the last at the full current until the wanted charge has passed
    limited : what holds the first current down: "target" (nothing does), "burn" or "warmth"
    held : the same of the last
    covered_after : s until everything that a wire reaches is covered; None if never
    film : (n,) meters on each patch when the charge has passed, 0 where no wire reaches
    milestones : s until each of COVERAGE_MILESTONES of the plated area is covered; None if never
    last : (3,) m, the middle of the patch that is covered last, or stays thinnest; None where nothing needs covering
    """

    stages: tuple[Stage, ...]
    limited: str
    covered_after: float | None
    film: Vector
    held: str = "target"
    milestones: tuple[float | None, ...] = (0.0,) * len(COVERAGE_MILESTONES)
    last: tuple[float, float, float] | None = None

    @property
    def half_covered(self) -> float:
        """s until half of the plated area is covered; inf if never."""
        return math.inf if self.milestones[0] is None else self.milestones[0]


@dataclass(frozen=True)
class Drive:
    """What limits the current, and what it does.

    target : A in the end; charge : C in all; top : A/m2, the highest density while coat is bare
    covered_top : A/m2, the highest density of a sound deposit on metal; step : A, the smallest that the supply sets
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
    covered_top: float | None = None
    step: float = 0.0

    def settable(self, allowed: float) -> float:
        """A that the supply is set to where so much is allowed: the target where nearly all of it is."""
        return (
            self.target if allowed >= NEAR_TARGET_SHARE * self.target else rounded_down(allowed, self.target, self.step)
        )

    @property
    def length(self) -> float:
        """m, the polarization length where the density is highest."""
        return self.conductivity * self.polarization


@dataclass(frozen=True, eq=False)
class _CoatState:
    """The coat at one moment. found : for an ampere; allowed : A; burn : whether density is what limits it"""

    found: Share
    allowed: float
    burn: bool


@dataclass(frozen=True, eq=False)
class _RampModel:
    """What stays the same on the way. bare : siemens a square of the coat alone"""

    spread: Spread
    bath: Bath
    drive: Drive
    bare: float

    def conductance(self, thick: Vector) -> Vector:
        """(n,) siemens a square of the coat with its film."""
        return self.bare + np.maximum(thick - ISLAND_FILM_M, 0.0) / self.drive.resistivity

    def judged(self, thick: Vector, fronts: Sequence[Front], resistance: Vector) -> _CoatState:
        """How the current spreads, and how much of it there may be."""
        spread, drive = self.spread, self.drive
        found = spread.share(self.conductance(thick), resistance)
        open_ = [
            (front, c.radius)
            for front, c in zip(fronts, spread.contacts, strict=True)
            if not front.through(ISLAND_FILM_M)
        ]
        warm = drive.heat * min((front.radius(ISLAND_FILM_M) / radius for front, radius in open_), default=math.inf)
        if found.warmth > 0:
            warm = min(warm, math.sqrt(drive.flux / found.warmth))
        rims = [
            ring + strength * front.excess(drive.length, ISLAND_FILM_M)
            for front, ring, strength in zip(fronts, found.rings, self.strength(found), strict=True)
        ]
        mature = float(spread.area[thick >= COVERED_FILM_M].sum()) >= MATURE_COVERED_SHARE * float(spread.area.sum())
        top = drive.covered_top if mature and drive.covered_top is not None else drive.top
        burn = top / max(*rims, robust_maximum(spread, found.density))
        return _CoatState(found, min(drive.target, burn, warm), burn < warm)

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
        for turn in range(MAX_FIRST_CURRENT_TRIES):
            low, high = 0.2 * turn / MAX_FIRST_CURRENT_TRIES, 0.2 * (turn + 1) / MAX_FIRST_CURRENT_TRIES
            resistance = yield from subrange(
                low, high, self.bath.patch_resistance(self.spread, self.conductance(thick), current)
            )
            allowed = self.judged(thick, fronts, resistance).allowed
            settled = abs(allowed - current) <= FIRST_CURRENT_TOLERANCE * current
            current = allowed
            if settled:
                break
        return resistance, self.drive.settable(current)


def run(
    spread: Spread, bath: Bath, sheet_resistance: float, drive: Drive, *, film: float = 0.0, first: float | None = None
) -> Progress[Ramp]:
    """Walk through the first minutes on the coarse copy of a coat.

    spread : of the coat with its wires; sheet_resistance : ohm per square, above 0
    bath : asked at the start, whenever the current is raised, every few minutes on the way to the full one, and as
        often as the time has doubled, until the coat loses little
    film : meters of metal that lie on the coat before the current is on
    first : A, a guess of the current to start with
    """
    walk = _RampModel(spread, bath, drive, 1.0 / sheet_resistance)
    covering = _Covering.of(spread, film)
    fronts = [Front.of(contact.radius, contact.away, film) for contact in spread.contacts]
    stages: list[Stage] = []
    since, now, passed, asked, highest = 0.0, 0.0, 0.0, 0.0, 0.0
    resistance, current = yield from walk.first(covering.thick, fronts, first or drive.target)
    limited, held, losing = "", "", True
    for count in range(MAX_RAMP_STEPS):
        whole = bool(covering.closed.all())
        state = walk.judged(covering.thick, fronts, resistance)
        highest = max(highest, current * state.found.voltage)
        held = "target" if current >= drive.target else "burn" if state.burn else "warmth"
        limited = limited or held
        rises = _rises(current, now - since, state.allowed, drive)
        stale = losing and (
            now > 2 * max(asked, MIN_HOLD_S) or (current < drive.target and now > asked + BATH_UPDATE_INTERVAL_S)
        )
        if rises or (stale and not whole):
            wanted = state.allowed if rises else current
            resistance = yield from bath.patch_resistance(spread, walk.conductance(covering.thick), wanted)
            asked = now
            state = walk.judged(covering.thick, fronts, resistance)
            losing = float((resistance * state.found.density).min()) < MIN_LOSSLESS_VOLTAGE_SHARE * state.found.voltage
            rises = _rises(current, now - since, state.allowed, drive)
        if rises:
            stages.append(Stage(current, now - since, covering.share, highest, covering.spread()))
            current, since, highest = drive.settable(state.allowed), now, 0.0
            held = "target" if current >= drive.target else held
        left = (drive.charge - passed) / current
        if left <= 0.0 or (whole and current >= drive.target):
            break
        density = current * state.found.density
        fastest = float(density[~covering.closed].max()) if not whole else 0.0
        step = min(MAX_GROWTH_PER_STEP_M / (drive.rate * fastest) if fastest > 0 else math.inf, left)
        step = min(step, max(MIN_HOLD_S / 4, 0.2 * now)) if current < drive.target else step
        covering.grow(drive.rate * density, now, step)
        fronts = walk.grown(fronts, state.found, current * step)
        now, passed = now + step, passed + current * step
        yield _progress(now, covering.share, count)
    rest = max(drive.charge - passed, 0.0) / current
    covering.grow(drive.rate * current * state.found.density, now, rest)
    stages.append(Stage(current, now - since + rest, covering.share, highest, covering.spread()))
    return covering.ramp(stages, limited, held)


def robust_maximum(spread: Spread, density: Vector) -> float:
    """A/m2 that all but BURNT_TRIFLE_SHARE of the plated area stays below, of the densities (n,) of the patches.

    The pads are left out: their rims are looked at by themselves. The very highest value would be that of one patch,
    smaller than a panel of a quick solution, and hang on how the panels happen to lie.
    """
    free = spread.free
    if not free.any():
        return 0.0
    share = 1.0 - MAX_IGNORED_BURNT_SHARE * float(spread.area.sum()) / float(spread.area[free].sum())
    return float(weighted_quantiles(density[free], spread.area[free], [max(share, 0.0)])[0])


def _progress(now: float, share: float, count: int) -> Step:
    """Where the ramp is: s since the start, the share that is covered, the steps that were taken."""
    minutes = f"{now / MINUTE:.0f}"
    sentence = filled("Covering the coat: {time} minutes, {share} covered", time=minutes, share=f"{share:.0%}")
    return Step(max(share, count / MAX_RAMP_STEPS), sentence)


def _rises(current: float, held: float, allowed: float, drive: Drive) -> bool:
    """Whether a current (A) that was held for so long (s) is raised, where so much is allowed (A)."""
    return (
        current < drive.target
        and held >= MIN_HOLD_S
        and allowed >= min(MIN_RAISE_RATIO * current, NEAR_TARGET_SHARE * drive.target)
    )


@dataclass(eq=False)
class _Covering:
    """The metal as it grows. thick : (n,) m; closed_at : (n,) s, when each patch was covered, inf if not yet

    total : m2 of all plated patches, also of those that no wire reaches
    """

    wired: Spread
    thick: Vector
    closed_at: Vector
    total: float

    @classmethod
    def of(cls, spread: Spread, film: float) -> _Covering:
        count = len(spread.area)
        at = np.full(count, 0.0 if film > 0 else math.inf)
        return cls(spread, np.full(count, film), at, float(spread.patches.area.sum()))

    @property
    def closed(self) -> NDArray[np.bool_]:
        return np.isfinite(self.closed_at)

    @property
    def share(self) -> float:
        """0..1 of the plated area."""
        return float(self.wired.area[self.closed].sum()) / self.total

    def grow(self, rate: Vector, now: float, time: float) -> None:
        """rate : (n,) m/s for `time` s from `now` on"""
        thicker = self.thick + rate * time
        newly = ~self.closed & (thicker >= COVERED_FILM_M)
        self.closed_at[newly] = now + (COVERED_FILM_M - self.thick[newly]) / rate[newly]
        self.thick = thicker

    def ramp(self, stages: Sequence[Stage], limited: str, held: str) -> Ramp:
        """What was walked."""
        full = np.zeros(len(self.wired.patches.area))
        full[self.wired.own] = self.thick
        after = float(self.closed_at.max())
        covered = after if math.isfinite(after) else None
        return Ramp(tuple(stages), limited, covered, full, held, self.milestones(), self.last())

    def milestones(self) -> tuple[float | None, ...]:
        order = np.argsort(self.closed_at, kind="stable")
        share = np.cumsum(self.wired.area[order]) / self.total
        found: list[float | None] = []
        for wanted in COVERAGE_MILESTONES:
            first = int(np.searchsorted(share, wanted * (1 - 1e-9)))
            at = float(self.closed_at[order[first]]) if first < len(order) else math.inf
            found.append(at if math.isfinite(at) else None)
        return tuple(found)

    def last(self) -> tuple[float, float, float] | None:
        if not self.closed_at.max() > 0:
            return None
        late = self.thick.argmin() if not self.closed.all() else self.closed_at.argmax()
        x, y, z = (float(value) for value in self.wired.patches.middle[self.wired.own[late]])
        return x, y, z

    def spread(self) -> float:
        """m from the nearest wire within which SPREAD_SHARE of what is covered lies; 0 where nothing is."""
        if not self.closed.any():
            return 0.0
        pads = np.array([pad.centre for pad in self.wired.pads])
        middle = self.wired.patches.middle[self.wired.own][self.closed]
        away = np.linalg.norm(middle[:, None] - pads, axis=2).min(axis=1)
        return float(weighted_quantiles(away, self.wired.area[self.closed], [SPREAD_SHARE])[0])


def rounded_down(current: float, most: float, step: float = 0.0) -> float:
    """A current that a supply's knob can be set to: two digits and whole steps (A), never above `current`; all of it at
    the target. Below one step it is left as it is: no supply gives it."""
    if current >= most:
        return most
    digit = 10.0 ** (math.floor(math.log10(current)) - 1)
    found = float(f"{math.floor(current / digit * (1 + 1e-9)) * digit:.2g}")
    if step <= 0 or found < step:
        return found
    return float(f"{math.floor(found / step * (1 + 1e-9)) * step:.6g}")
