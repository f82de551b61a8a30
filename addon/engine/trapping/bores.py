"""How wide a hole empties a pocket: bath enters through a bore only under the head that overcomes its meniscus.

Gas in a pocket stands at the pressure of the bath at its level. At the mouth of a bore that is higher by a head h the
bath's pressure is lower by density x gravity x h. A meniscus across a round bore of diameter d bears at most
4 x surface tension / d (Young and Laplace: a surface of radius d / 2 both ways), whichever way it bulges: so gas
leaves, and bath enters, while density x gravity x h is larger, and the gas that is left reaches so far below the bore.
That is the worst case, a coat that the bath does not wet; a wetted bore draws the bath in (theory-gas.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry import clip
from ..units import ML, MM

DIAMETERS_M = np.array([1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]) * MM  # drills and printed holes
# Gas or liquid below both of these is a clinging bubble or a drop: shaken off, no finding (common practice, no source)
NEGLIGIBLE_VOLUME_M3 = 0.05 * ML
NEGLIGIBLE_AREA_SHARE = 0.005  # of the plated area
MIN_UNDERSIDE_M2 = 3e-6  # m2, area under the largest bubble, 2 mm (Fritz 1935, from memory): smaller areas hold none
MAX_LEFT_SHARE = 0.05  # of a pocket: volume that a bore may leave, because a wider one costs more than it gains
MIN_WIDER_GAIN_SHARE = 0.1  # of a pocket that a wider bore must free more where none frees it all
MAX_CHOSEN_M = 6 * MM  # m, a wider hole would change the design: common practice, no source
MIN_FREED_SHARE = 0.5  # of a pocket: least volume freed that is worth a hole
POLYGON_SHARE_OF_CIRCLE = 0.97  # of a circle's area, for an inscribed polygon of sixteen corners


@dataclass(frozen=True)
class Bore:
    """A hole at the top of a pocket. diameter : m; remaining : m3 of gas that it leaves"""

    diameter: float
    remaining: float


@dataclass(frozen=True, eq=False)
class Column:
    """The gas of one pocket as its surface tells it.

    height : (f, 3) m over its spill level, of the corners of the triangles that it touches
    down : (f,) m2, the part of each triangle's area vector that points down
    vent : (f,) m over the spill level, of the vent that each triangle's gas would leave by
    """

    height: NDArray[np.float64]
    down: NDArray[np.float64]
    vent: NDArray[np.float64]

    def volume_above(self, level: NDArray[np.float64]) -> NDArray[np.float64]:
        """(k,) m3 of gas above levels (k, f) over the spill level."""
        _, mean = clip.above((self.height[None] - level[:, :, None]).reshape(-1, 3))
        return np.asarray((mean.reshape(level.shape) * self.down).sum(axis=1))

    def section(self, depth: NDArray[np.float64]) -> NDArray[np.float64]:
        """(k,) m2 of the pocket's level section at depths (k,) below its vents, not below its lip."""
        level = np.maximum(self.vent[None] - depth[:, None], 0.0)
        share, _ = clip.above((self.height[None] - level[:, :, None]).reshape(-1, 3))
        return np.asarray((share.reshape(level.shape) * self.down).sum(axis=1))


def head_needed(diameter: ArrayLike, capillary_length: float) -> NDArray[np.float64]:
    """m of bath that overcome the meniscus of a round bore: 4 x surface tension / (density x gravity x diameter)."""
    return 4.0 * capillary_length**2 / np.asarray(diameter, dtype=np.float64)


def mouth_diameter(column: Column) -> float:
    """m, the diameter of a circle as large as the pocket's opening at its lip."""
    return 2.0 * math.sqrt(max(float(column.section(np.array([np.inf]))[0]), 0.0) / math.pi)


def bores_of(column: Column, capillary_length: float, unvented: float = 0.0) -> tuple[Bore, ...]:
    """The volume left by each bore that is no wider than the pocket at its mouth and at the bore.

    unvented : m3 that stays in parts of the pocket without a vent
    The bore's outer end is taken as level with the pocket's top: where it is higher, less is left.
    """
    mouth = mouth_diameter(column)
    wide = DIAMETERS_M[mouth >= DIAMETERS_M]
    wide = wide[column.section(wide) >= POLYGON_SHARE_OF_CIRCLE * math.pi / 4 * wide**2]
    if not len(wide):
        return ()
    whole = float(column.volume_above(np.zeros((1, len(column.down))))[0])
    level = column.vent[None] - head_needed(wide, capillary_length)[:, None]
    left = np.clip(column.volume_above(np.maximum(level, 0.0)) + unvented, 0.0, whole)
    return tuple(Bore(float(d), float(v)) for d, v in zip(wide, left, strict=True))


def bore_worth_cutting(bores: tuple[Bore, ...], diameter: float, volume: float) -> Bore | None:
    """The chosen bore, where it frees enough of a pocket to be worth cutting."""
    for bore in bores:
        if bore.diameter == diameter and bore.remaining <= (1.0 - MIN_FREED_SHARE) * volume:
            return bore
    return None


def choose_diameter(bores: tuple[Bore, ...], volume: float, mouth: float) -> float:
    """m: the least bore that leaves next to nothing of a pocket, else the least of which the next gains little.

    Where no bore is narrow enough, as the mouth.
    """
    bores = tuple(bore for bore in bores if bore.diameter <= MAX_CHOSEN_M)
    for bore in bores:
        if bore.remaining <= max(NEGLIGIBLE_VOLUME_M3, MAX_LEFT_SHARE * volume):
            return bore.diameter
    for bore, wider in zip(bores, bores[1:], strict=False):
        much = bore.remaining <= (1.0 - MIN_FREED_SHARE) * volume
        if much and bore.remaining - wider.remaining < MIN_WIDER_GAIN_SHARE * volume:
            return bore.diameter
    return bores[-1].diameter if bores else min(mouth, float(DIAMETERS_M[0]))
