"""Flat plates that hang on two rods across the tank: where the rods lie, and the hooks.

The rods lie on the tank's rim, from one side with anodes to the other, so what hangs on them slides to its place
between the anodes. Own axes, meters: u along the rods, v level and square to them, z as in the tank. A plate is
printed on its back; all of it is upright to the bed, so nothing overhangs. A hook is open to +v and seats itself on its
rod by a roof of 45 degrees.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..field.rack import Grid
from ..filled import filled
from ..settings.job import Job
from ..tank.arrange import Arrangement
from ..units import MM, in_mm
from . import anode_holder, pads
from .form import CHEEK, FIT, GAP, LIP, ROOF
from .lattice import Array, Box, union
from .printed import Printed

BESIDE_WALL = 5 * MM  # that a plate stays off the tank's walls: common practice, no source
SPREAD = (0.25, 0.3, 0.2, 0.35, 0.15)  # of the tank's length, of a rod from its middle; the first that has room
BEAM = 12 * MM  # height of the bar that bears the hooks
BESIDE_WIRE = 2.0 * MM  # of a hook from a wire's groove


@dataclass(frozen=True)
class Hook:
    """The hook of a flat plate over a rod. rod : its diameter, m; rim : z on which it lies"""

    rod: float
    rim: float

    @property
    def half_rod(self) -> float:
        """m, half of the width of the notch that takes a rod."""
        return (self.rod + FIT) / 2

    @property
    def axis(self) -> float:
        """m, height of the rod's axis."""
        return self.rim + self.rod / 2

    @property
    def shoulder(self) -> float:
        """z of the upper side of the bar under the hook."""
        return self.rim - self.rod - GAP

    @property
    def eaves(self) -> float:
        """z of the roof's eaves over the rod; its ridge is half a rod's fit higher."""
        return self.axis + self.rod / np.sqrt(2.0) - self.half_rod

    @property
    def ridge(self) -> float:
        """m, height of the roof over a rod that needs no support in the print."""
        return self.axis + self.rod / np.sqrt(2.0) + ROOF

    def boxes(self, at: float, back: float, face: float) -> Iterator[Box]:
        """The boxes of a hook of a plate between back and face (u), over a rod at v = `at`."""
        outside = at - self.half_rod - CHEEK
        for low, high in (
            ((outside, self.shoulder - MM), (at - self.half_rod, self.ridge)),
            ((outside, self.eaves), (at + self.half_rod + LIP, self.ridge)),
            ((at + self.half_rod, self.rim), (at + self.half_rod + LIP, self.ridge)),
            ((at - self.half_rod, self.eaves), (at, self.ridge)),  # for the ridge's own plane
        ):
            yield (back, *low), (face, *high)

    def raise_roof(self, points: Array, at: float) -> None:
        """Points (v, 3) of the lattice, their eaves over a rod at v = `at` raised to a ridge, in place."""
        v, slack = points[:, 1], MM / 50
        under = np.isclose(points[:, 2], self.eaves, atol=slack) & (np.abs(v - at) <= self.half_rod + slack)
        points[under, 2] += np.maximum(self.half_rod - np.abs(v[under] - at), 0.0)


@dataclass(frozen=True, eq=False)
class Rods:
    """Two rods. Meters.

    base : (3,) tank, where u = v = 0 and z = 0; turn : (3, 3) rows u, v, z in the tank; apart : +-v of the rods
    rod : diameter; rim : z on which they lie; room : half of what a plate may take up along v
    ends : u of their ends, out on the rim
    """

    base: Array
    turn: Array
    apart: float
    rod: float
    rim: float
    room: float
    ends: tuple[float, float]

    @property
    def hook(self) -> Hook:
        """The hook over either rod."""
        return Hook(self.rod, self.rim)

    @property
    def shoulder(self) -> float:
        """z of the upper side of the bar under the hooks."""
        return self.hook.shoulder

    @property
    def reach(self) -> float:
        """m, half of the bar that both hooks need."""
        return self.apart + self.hook.half_rod + max(CHEEK, LIP)

    def own(self, points: Array) -> Array:
        """Tank points (..., 3) in the axes of the rods."""
        return (points - self.base) @ self.turn.T

    def tank(self, points: Array) -> Array:
        """From the rods' axes to the tank."""
        return self.base + points @ self.turn

    def lines(self) -> Iterator[tuple[Array, Array]]:
        """(3,) both ends of each rod's axis, tank."""
        for v in (-self.apart, self.apart):
            low, high = self.tank(np.array([(u, v, self.hook.axis) for u in self.ends]))
            yield low, high

    def hooks(self, back: float, face: float) -> Iterator[Box]:
        """Both hooks of a plate between back and face (u)."""
        for at in (-self.apart, self.apart):
            yield from self.hook.boxes(at, back, face)

    def made(self, boxes: Sequence[Box]) -> tuple[Array, NDArray[np.int32]]:
        """Points (v, 3) in the tank and triangles (m, 3) of a plate of such boxes, its roofs raised to a ridge."""
        points, triangles = union(boxes)
        for at in (-self.apart, self.apart):
            self.hook.raise_roof(points, at)
        return self.tank(points), triangles


@dataclass(frozen=True, eq=False)
class OnRods:
    """A helper that hangs on two rods. printed : its mesh; on : the rods"""

    printed: Printed
    on: Rods

    @property
    def rods(self) -> float:
        """m, of either rod from the tank's middle."""
        return self.on.apart

    @property
    def rod(self) -> float:
        """m, their diameter."""
        return self.on.rod


def of(
    job: Job, own: Arrangement, grid: Grid, rim: float, wires: Array | None = None, strips: Array | None = None
) -> Rods:
    """The two rods of a tank. wires : (k, 3) tank, beside which no hook stands

    strips : (k, 3) tank, where holders of anodes sit on the rim, which rods keep off where there is room
    Raises InputError where the tank has no room for two rods.
    """
    assert own.inside is not None  # a tank has a rim
    middle = own.inside.mean(axis=0)
    across = np.zeros(2)
    across[1 - grid.axis] = 1.0
    base = np.array([0.0, 0.0, 0.0])
    base[grid.axis], base[1 - grid.axis] = middle[grid.axis], grid.middle[1 - grid.axis]
    half = float(np.ptp(own.inside, axis=0)[grid.axis]) / 2
    if job.tank.shape == "cylinder":  # the chord that a plate in the middle of the parts has
        off = float(base[1 - grid.axis] - middle[1 - grid.axis])
        half = float(np.sqrt(max(half**2 - off**2, 0.0)))
    room = half - BESIDE_WALL
    hook = (job.hanger.rod + FIT) / 2 + max(CHEEK, LIP)
    turn = pads.axes(across)
    ends = np.sort((own.inside[:, 1 - grid.axis] - base[1 - grid.axis]) * turn[0, 1 - grid.axis])
    span = float(ends[0]) - job.hanger.rim, float(ends[1]) + job.hanger.rim
    beside = [_beside(polylines, base, turn) for polylines in (wires, strips)]
    candidates = []
    for share in SPREAD:
        apart = 2 * half * share
        off_wires, off_strips = (float(np.abs(v - apart).min(initial=np.inf)) for v in beside)
        if apart > hook and apart + hook <= room and off_wires > hook + BESIDE_WIRE:
            free = off_strips > (job.hanger.rod + anode_holder.WIDTH) / 2 + job.hanger.clearance
            candidates.append((free, Rods(base, turn, apart, job.hanger.rod, rim, room, span)))
    if candidates:
        return next((rods for free, rods in candidates if free), candidates[0][1])
    raise InputError(
        filled(
            "{hanger.rod_mm}: two rods of {rod} have no room across a tank {length} long, off "
            "the wires; take thinner rods, or a larger tank",
            rod=in_mm(job.hanger.rod),
            length=in_mm(2 * half),
        )
    )


def _beside(places: Array | None, base: Array, turn: Array) -> Array:
    """(k,) m, of places from the line midway between the rods."""
    return np.abs((np.zeros((0, 3)) if places is None else places - base) @ turn[1])
