"""The hanger's form: a flat plate that hooks over the rod, with two fingers in its plane and one that stands out.

Own axes, meters: u along the rod, v level and square to it, z up, from the wire's place; z as in the tank. The plate's
back is flat: on it the hanger is printed, and nothing overhangs by more than 45 degrees but the groove's floor, which
faces up there. From the back the plate is `thickness` thick; in its front runs the groove of the wire, straight over
the wire's place. The third finger stands out of the front, carried by a fin whose lower edge rises by 45 degrees toward
the back.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..units import MM
from . import beam
from .lattice import Array, Box, union

PAD = 0.8 * MM  # half a side of a finger's tip
FINGER = 2.0 * MM  # half the width of a finger in the plate, tapered to its tip
FIN = 1.2 * MM  # half the width of the finger that stands out, and of its fin
TAPER = 4.0 * MM  # of a finger toward its tip
LEG = 4.0 * MM  # thickness of a finger in the plate, tapered from its front
REACH = 1.5 * MM  # of the third finger beyond its tip
STEP = 0.3 * MM  # height of the step in which a slope ends, instead of a feather edge
ROOF, CHEEK, LIP = 5.0 * MM, 6.0 * MM, 4.0 * MM  # of the hook: over the rod, on its closed side, on its open side
FIT = 0.4 * MM  # of the rod in the hook
GAP = 2.0 * MM  # wider than the rod, by which the hook is open
NOTCH_DEPTH, NOTCH_HEIGHT, NOTCH_BELOW = 1.5 * MM, 3.0 * MM, 2.0 * MM  # round which the wire is wound
MIN_STEM = 1.0 * MM  # between hub and notches


@dataclass(frozen=True)
class Finger:
    """Middle of a finger's tip in the hanger's axes, m."""

    u: float
    v: float
    z: float


@dataclass(frozen=True)
class Form:
    """Meters. thickness, width : of the stem; groove, depth : of the wire's way; rod : its diameter; axis : z of it

    hub : z of the lower side of the bar that bears the fingers; left, right : fingers in the plate
    front : the one that stands out, None where two do
    """

    thickness: float
    width: float
    groove: float
    depth: float
    rod: float
    axis: float
    hub: float
    left: Finger
    right: Finger
    front: Finger | None

    @property
    def back(self) -> float:
        """m, u of the plate's back."""
        return back_of(self.thickness, self.depth)

    @property
    def face(self) -> float:
        """m, u of the plate's face."""
        return self.depth / 2

    @property
    def leg(self) -> float:
        """m, thickness of the fingers in the plate: all of it where two of them hold the part."""
        return self.thickness if self.front is None else min(LEG, self.thickness)

    @property
    def half_rod(self) -> float:
        """m, half of the width of the notch that takes the rod."""
        return (self.rod + FIT) / 2

    @property
    def shoulder(self) -> float:
        """z where the stem ends, under the open side of the hook."""
        return self.axis - self.rod / 2 - self.rod - GAP

    @property
    def roof(self) -> float:
        """z of the roof's eaves; its ridge is half a rod's fit higher."""
        return self.axis + self.rod / np.sqrt(2.0) - self.half_rod

    @property
    def bar(self) -> float:
        """z of the upper side of the bar."""
        return self.hub + self.thickness

    @property
    def lowest_head(self) -> float:
        """z of the lowest point of what is wider than the stem."""
        return self.shoulder - CHEEK

    @property
    def fingers(self) -> tuple[Finger, ...]:
        """Those that there are: left, right, and the one in front."""
        return (self.left, self.right) if self.front is None else (self.left, self.right, self.front)

    @cached_property
    def _fin(self) -> tuple[float, float]:
        """u where the fin's lower edge has risen to the bar or reached the plate's front, and its z there."""
        assert self.front is not None
        tip = self.front.u - PAD
        start = max(self.face, tip - (self.hub - self.front.z))
        return start, min(self.front.z + tip - start, self.hub - STEP)

    @property
    def stem_moment(self) -> float:
        """m4, second moment of the stem for bending the weaker way, the groove's depth taken off all of it."""
        solid = self.thickness - self.depth
        return min(beam.second_moment(self.width, solid), beam.second_moment(solid, self.width))

    def mesh(self) -> tuple[Array, np.ndarray]:
        """Points (v, 3) in the hanger's axes and triangles (m, 3), closed and outward."""
        points, triangles = union(list(self._boxes()))
        return self._bent(points), triangles

    def _boxes(self) -> Iterator[Box]:
        half = self.width / 2
        ends = [finger.v for finger in self.fingers]
        yield from self._grooved(
            min(*ends, FINGER - half) - FINGER, max(*ends, half - FINGER) + FINGER, self.hub, self.bar
        )
        top = self.lowest_head - NOTCH_BELOW
        yield from self._grooved(-half, half, self.bar, top - NOTCH_HEIGHT)
        yield from self._grooved(NOTCH_DEPTH - half, half - NOTCH_DEPTH, top - NOTCH_HEIGHT, top)
        yield from self._grooved(-half, half, top, self.shoulder)
        yield from self._grooved(-self.half_rod - CHEEK, half, self.lowest_head, self.shoulder)
        ridge = self.axis + self.rod / np.sqrt(2.0) + ROOF
        for low, high in (
            ((-self.half_rod - CHEEK, self.lowest_head), (-self.half_rod, ridge)),
            ((-self.half_rod - CHEEK, self.roof), (self.half_rod + LIP, ridge)),
            ((self.half_rod, self.axis - self.rod / 2), (self.half_rod + LIP, ridge)),
            ((-self.half_rod, self.roof), (0.0, ridge)),  # for the ridge's own plane
        ):
            yield (self.back, *low), (self.face, *high)
        for finger in (self.left, self.right):
            for low_z, high_z in ((finger.z, finger.z + TAPER), (finger.z + TAPER, self.hub)):
                if high_z > low_z:
                    yield (self.back, finger.v - FINGER, low_z), (self.back + self.leg, finger.v + FINGER, high_z)
        if self.front is not None:
            yield from self._standing_out(self.front)

    def _grooved(self, low_v: float, high_v: float, low_z: float, high_z: float) -> Iterator[Box]:
        """A piece of the plate with the wire's groove in its front."""
        yield (self.back, low_v, low_z), (-self.depth / 2, high_v, high_z)
        yield (self.back, low_v, low_z), (self.face, -self.groove / 2, high_z)
        yield (self.back, self.groove / 2, low_z), (self.face, high_v, high_z)

    def _standing_out(self, tip: Finger) -> Iterator[Box]:
        """The third finger, the arm that bears it, and the fin under the arm."""
        low, high = tip.v - FIN, tip.v + FIN
        start, _ = self._fin
        yield (self.face, low, self.hub), (tip.u + REACH, high, self.bar)
        yield (tip.u - PAD, low, tip.z), (tip.u + PAD, high, tip.z + TAPER)
        yield (tip.u - PAD, low, tip.z), (tip.u + PAD, high, self.hub)
        yield (tip.u + PAD, low, tip.z), (tip.u + REACH, high, self.hub)
        yield (start, low, tip.z), (tip.u - PAD, high, self.hub)
        if start <= self.face:
            yield (self.back, low, tip.z), (self.face, high, self.hub)

    def _bent(self, points: Array) -> Array:
        """The lattice with its roof raised to a ridge, its fingers tapered, and the fin's edge aslope."""
        u, v, z = points.T.copy()
        eaves = np.isclose(z, self.roof, atol=MM / 50) & (np.abs(v) <= self.half_rod + MM / 50)
        z[eaves] += np.maximum(self.half_rod - np.abs(v[eaves]), 0.0)
        for finger in (self.left, self.right):
            own = (np.abs(v - finger.v) <= FINGER + MM / 50) & (z < finger.z + TAPER) & (z < self.hub - MM / 50)
            narrow = np.clip((z[own] - finger.z) / TAPER, 0.0, 1.0)
            v[own] = finger.v + (v[own] - finger.v) * (narrow + (1.0 - narrow) * PAD / FINGER)
            if self.front is not None:
                flush = 2 * PAD / self.leg
                u[own] = self.back + (u[own] - self.back) * (narrow + (1.0 - narrow) * flush)
        return np.stack([u, v, z], axis=1) if self.front is None else self._sloped(points, np.stack([u, v, z], axis=1))

    def _sloped(self, points: Array, bent: Array) -> Array:
        """The third finger and its fin. points : of the lattice; bent : after the other bends"""
        assert self.front is not None
        tip, (start, end) = self.front, self._fin
        u, v, z = points.T
        slack = MM / 50
        own = (np.abs(v - tip.v) <= FIN + slack) & (z < self.hub - slack) & (z > tip.z - slack)
        own &= (u > start - slack) | (start <= self.face)
        low = np.full(len(u), tip.z)
        low[u < tip.u - PAD - slack] = end
        low[u > tip.u + PAD + slack] = min(tip.z + TAPER, self.hub - STEP)
        share = (self.hub - low) / (self.hub - tip.z)
        bent[own, 2] = (self.hub - (self.hub - z) * share)[own]
        return bent


def back_of(thickness: float, depth: float) -> float:
    """u of the plate's back: the groove's middle is over the wire's place."""
    return depth / 2 - thickness
