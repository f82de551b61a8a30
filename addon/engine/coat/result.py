"""The results of the coat analysis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..findings import Finding
from ..geometry.location import Location
from ..linalg.sparse import Vector
from ..reasons import Reason
from .heat import Heating, WireAdvice
from .ramp import Stage
from .sheet import Pad


@dataclass(frozen=True, eq=False)
class WirePlace:
    """A wire as it was used.

    point, normal : (3,) meters, unit; pad : m, diameter; face : triangle of the part; piece : of the coat
    current : A at the full current; place : on the part; suggested : whether it was chosen here
    second : (3,) where to move it at half time so that its mark is plated, None if there is no other place;
    second_place : on the part
    """

    point: Vector
    normal: Vector
    pad: float
    face: int
    piece: int
    current: float
    place: Location
    suggested: bool
    second: Vector | None
    second_place: Location | None


@dataclass(frozen=True)
class Bare:
    """A patch that stays bare: m2, its place on the part (None: scattered), and a point on it, (3,) meters."""

    area: float
    place: Location | None
    point: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class CoatResult:
    """The coat under current.

    wires : as used; pieces : of coat that each need one; unserved : how many of them have none
    drop : (m,) V that the bare coat would lose at each triangle if it took the full current as the field shares it out,
        or evenly where there is no field; nan where not plated or no wire reaches
    worst_drop : V, the greatest of it, and where, drop_at (3,) meters
    coupled_drop : V, what is lost at worst when the current shares itself out by the coat, with linear kinetics
    share : (m,) current density beside the mean then
    reach : m, over which the current along a strip of bare coat falls e-fold; inf on metal
    wires_needed : until the loss is under drop_limit (V); None if no number that was tried does it
    safe_start : A, and why no more; steps : the currents to set, in order; none, and 0 A, where the start is refused
    milestones : s until 50, 90 and 99 % of the plated area are covered, None if never; last_covered : (3,) m, the place
    that is covered last, or stays thinnest, None on metal; held : what holds the last current down: "target" (nothing),
    "burn", "warmth", "" where there is none
    covered_after : s until all that a wire reaches is covered, None if never; never_covered : triangles that stay bare
    never : what hangs together of them, the largest first
    retried : whether the start took more wires than the loss along the coat asks for
    dissolved : kg of the coat's own metal that copper displaces
    heating : at the safe start; heating_full : at the full current on the bare coat; None on metal
    wire : advice for the wire that carries most
    findings : what is wrong with coat or wires
    """

    wires: tuple[WirePlace, ...]
    pieces: int
    unserved: int
    drop: NDArray[np.float64]
    worst_drop: float
    drop_at: Vector
    coupled_drop: float
    share: NDArray[np.float64]
    reach: float
    drop_limit: float
    wires_needed: int | None
    safe_start: float
    safe_reason: Reason
    steps: tuple[Stage, ...]
    covered_after: float | None
    never_covered: NDArray[np.intp]
    heating: Heating | None
    heating_full: Heating | None
    wire: WireAdvice
    findings: tuple[Finding, ...]
    never: tuple[Bare, ...] = ()
    dissolved: float = 0.0
    milestones: tuple[float | None, ...] = (None, None, None)
    last_covered: tuple[float, float, float] | None = None
    held: str = ""
    retried: bool = False

    @property
    def pads(self) -> tuple[Pad, ...]:
        """The pads of the wires."""
        places = (tuple(float(x) for x in wire.point) for wire in self.wires)
        return tuple(Pad((x, y, z), wire.pad, wire.face) for (x, y, z), wire in zip(places, self.wires, strict=True))

    @property
    def full_current(self) -> float | None:
        """A of one part, the most that it bears; None where the start is refused."""
        return max((step.current for step in self.steps), default=None)
