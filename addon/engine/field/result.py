"""The result of the current distribution: densities, thicknesses, their meaning for the deposit, and their accuracy."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..findings import Finding
from ..geometry.quantiles import weighted_quantiles
from .level import Level
from .problem import Control

Array = NDArray[np.float64]

CURRENT_TOLERANCE = 0.005  # relative: currents closer than a supply's knob resolves count as equal
MAX_BARE_OVER_WINDOW = 0.1  # of the window's lower limit: below it a face stays next to bare


class Flag(IntEnum):
    """The quality of the deposit on a face."""

    UNPLATED = -1
    BARE = 0
    DULL = 1
    GOOD = 2
    BURNT = 3


@dataclass(frozen=True)
class Spread:
    """A quantity over the plated area: extremes, and percentiles by area as in `weighted_quantiles`."""

    min: float
    p5: float
    median: float
    p95: float
    max: float

    @classmethod
    def of(cls, values: Array, area: Array) -> Spread:
        """values, area : (n,)"""
        low, middle, high = weighted_quantiles(values, area, (0.05, 0.5, 0.95))
        return cls(float(values.min()), float(low), float(middle), float(high), float(values.max()))


@dataclass(frozen=True)
class AnodeLoad:
    """Current of an anode in A, its mean density and its highest one in A/m2 (a sheet's counted on one
    side).
    """

    name: str
    current: float
    density: float
    highest: float


@dataclass(frozen=True, eq=False)
class Field:
    """The current distribution of a part in its tank. SI units.

    density : (m,) A/m2, thickness : (m,) m, of the first copy's triangles; zero where not plated
    flag : (m,) Flag
    density_spread, thickness_spread : by area, of the panels, so that they do not hang on the triangulation; min and
    max
        are means over patches of a 2000th of the plated area
    bare_area, dull_area, burnt_area : m2 of one copy; uniformity : thinnest over mean
    voltage : V of the supply = ohmic + polarization + coat, means by current; coat : None where it was left out
    resistance : ohm, ohmic over current
    control : what sets the current: the supply, or the coat; wanted_current : A that the job asks for, of all parts
    current : A of all cathodes, that will flow; anode_current : A that the anodes give; thief_current : A
    part_currents : A of each copy; anodes : their loads; anode_limit : A/m2
    wagner : kappa d(eta)/dj at the mean density over the radius of a sphere of the part's area
    time : s to the wanted mean thickness; time_thinnest : s until the thinnest show face (or face) has it
    panels : number; error : of the density, relative to its mean, from two levels, None where they tell nothing;
        residual : of the equations
    assumed : sentences; findings : what is wrong with it or with the job
    level : for further solutions in the same tank; None where none was kept; levels : the same of both
    """

    density: Array
    thickness: Array
    flag: NDArray[np.int8]
    density_spread: Spread
    thickness_spread: Spread
    bare_area: float
    dull_area: float
    burnt_area: float
    uniformity: float
    voltage: float
    ohmic: float
    polarization: float
    coat: float | None
    resistance: float
    current: float
    anode_current: float
    thief_current: float
    part_currents: tuple[float, ...]
    anodes: tuple[AnodeLoad, ...]
    anode_limit: float
    wagner: float
    time: float
    time_thinnest: float
    panels: int
    error: float | None
    residual: float
    control: Control = Control.CURRENT
    wanted_current: float = 0.0
    assumed: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    level: Level | None = None
    levels: tuple[Level, Level] | None = None

    @property
    def limited_by_voltage(self) -> bool:
        """Whether less current flows than is asked for, since the supply has no more volts."""
        return self.control == Control.VOLTAGE and sum(self.part_currents) < self.wanted_current

    @property
    def limited_by_supply(self) -> bool:
        """The same, whether since it has no more volts or since thieves take of all the amperes that it has."""
        drawn = self.control == Control.DRAW and sum(self.part_currents) < self.wanted_current
        return drawn or self.limited_by_voltage

    @property
    def is_below_wanted(self) -> bool:
        """Whether less current flows than is asked for, whatever the reason, by more than a supply's knob can tell."""
        return sum(self.part_currents) < (1.0 - CURRENT_TOLERANCE) * self.wanted_current


def flags(density: Array, plated: NDArray[np.bool_], window: tuple[float, float], limiting: float) -> NDArray[np.int8]:
    """The flag of densities (n,) in A/m2."""
    low, high = window
    flag = np.full(len(density), Flag.GOOD, np.int8)
    flag[density < low] = Flag.DULL
    flag[density < MAX_BARE_OVER_WINDOW * low] = Flag.BARE
    flag[density > min(high, limiting)] = Flag.BURNT
    flag[~plated] = Flag.UNPLATED
    return flag
