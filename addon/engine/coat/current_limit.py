"""How much current a coat with its film may carry: no place burns, not even at the rim of a wire, and none
overheats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..geometry.quantiles import weighted_quantiles
from ..linalg.sparse import Vector
from ..progress import Progress, subrange
from .bathside import Bath
from .film import COVERED_FILM_M, ISLAND_FILM_M
from .rim import Front
from .spread import Share, Spread

NEAR_TARGET_SHARE = 0.95  # of the target: limits are uncertain by 5 %, so this counts as the full current
MAX_IGNORED_BURNT_SHARE = 0.005  # of the plated area that may exceed the limit; as little gives no finding either
# of what a wire reaches, that is covered: the window of the bath then holds in place of the start's
MATURE_COVERED_SHARE = 0.99
MAX_FIRST_CURRENT_TRIES = 4
FIRST_CURRENT_TOLERANCE = 0.1  # relative change between two iterations at which they end


@dataclass(frozen=True)
class Drive:
    """What limits the current, and what the current does.

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
        """A that the supply is set to for an allowed current: the target if nearly all of it is allowed."""
        return (
            self.target if allowed >= NEAR_TARGET_SHARE * self.target else rounded_down(allowed, self.target, self.step)
        )

    @property
    def length(self) -> float:
        """m, the polarization length where the density is highest."""
        return self.conductivity * self.polarization


@dataclass(frozen=True, eq=False)
class CurrentLimit:
    """The coat at one moment. share : of an ampere; allowed : A; burn : whether density is what limits it"""

    share: Share
    allowed: float
    burn: bool


@dataclass(frozen=True, eq=False)
class RampModel:
    """Constants of the ramp. bare : siemens a square of the coat alone"""

    spread: Spread
    bath: Bath
    drive: Drive
    bare: float

    def conductance(self, thick: Vector) -> Vector:
        """(n,) siemens a square of the coat with its film."""
        return self.bare + np.maximum(thick - ISLAND_FILM_M, 0.0) / self.drive.resistivity

    def judged(self, thick: Vector, fronts: Sequence[Front], resistance: Vector) -> CurrentLimit:
        """The current distribution, and the largest allowed current."""
        spread, drive = self.spread, self.drive
        share = spread.share(self.conductance(thick), resistance)
        open_ = [
            (front, c.radius)
            for front, c in zip(fronts, spread.contacts, strict=True)
            if not front.through(ISLAND_FILM_M)
        ]
        warm = drive.heat * min((front.radius(ISLAND_FILM_M) / radius for front, radius in open_), default=math.inf)
        if share.warmth > 0:
            warm = min(warm, math.sqrt(drive.flux / share.warmth))
        rims = [
            ring + strength * front.excess(drive.length, ISLAND_FILM_M)
            for front, ring, strength in zip(fronts, share.rings, self.strength(share), strict=True)
        ]
        mature = float(spread.area[thick >= COVERED_FILM_M].sum()) >= MATURE_COVERED_SHARE * float(spread.area.sum())
        top = drive.covered_top if mature and drive.covered_top is not None else drive.top
        burn = top / max(*rims, robust_maximum(spread, share.density))
        return CurrentLimit(share, min(drive.target, burn, warm), burn < warm)

    def strength(self, share: Share) -> list[float]:
        """A/m for an ampere: kappa Rs I / (2 pi) at each wire, with the sheet resistance of the bare coat beyond the
        front."""
        return [
            self.drive.conductivity * wire / (2 * math.pi * c.round * self.bare)
            for c, wire in zip(self.spread.contacts, share.wires, strict=True)
        ]

    def grown(self, fronts: Sequence[Front], share: Share, charge: float) -> list[Front]:
        """The films at the rims after a charge in C."""
        return [
            front.grown(self.drive.length, ring, strength, self.drive.rate * charge)
            for front, ring, strength in zip(fronts, share.rings, self.strength(share), strict=True)
        ]

    def first(self, thick: Vector, fronts: Sequence[Front], current: float) -> Progress[tuple[Vector, float]]:
        """The bath's resistance at each patch at the first current, and that current in A, iterated from a guess."""
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


def robust_maximum(spread: Spread, density: Vector) -> float:
    """A/m2 that all but MAX_IGNORED_BURNT_SHARE of the plated area stays below, of the densities (n,) of the patches.

    The pads are left out: their rims are handled separately. The maximum itself would belong to a single patch,
    smaller than a panel of a draft solution, and depend on how the panels happen to lie.
    """
    free = spread.free
    if not free.any():
        return 0.0
    share = 1.0 - MAX_IGNORED_BURNT_SHARE * float(spread.area.sum()) / float(spread.area[free].sum())
    return float(weighted_quantiles(density[free], spread.area[free], [max(share, 0.0)])[0])


def rounded_down(current: float, most: float, step: float = 0.0) -> float:
    """A current that a supply's knob can be set to: two digits and whole steps (A), never above `current`; all of it at
    the target. Below one step it is returned unchanged: the supply cannot set it."""
    if current >= most:
        return most
    digit = 10.0 ** (math.floor(math.log10(current)) - 1)
    rounded = float(f"{math.floor(current / digit * (1 + 1e-9)) * digit:.2g}")
    if step <= 0 or rounded < step:
        return rounded
    return float(f"{math.floor(rounded / step * (1 + 1e-9)) * step:.6g}")
