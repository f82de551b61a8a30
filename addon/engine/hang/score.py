"""What each way up costs: gas that stays, undersides that keep bubbles, liquid carried out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..basins import find_basins
from ..gas import LEVEL
from ..pockets import fill
from ..relief import Relief
from ..steps import Step, Steps
from ..surface import Surface


@dataclass(frozen=True, eq=False)
class Scores:
    """Ways up and what each costs; all arrays in the order of `up`.

    up : (k, 3) unit; trapped : (k,) m3 of gas; dry : (k,) m2 of plated surface that it keeps dry
    underside : (k,) m2 of plated surface, outside the pockets, that faces down nearly level
    held : (k,) m3 of liquid carried out
    """

    up: NDArray[np.float64]
    trapped: NDArray[np.float64]
    dry: NDArray[np.float64]
    underside: NDArray[np.float64]
    held: NDArray[np.float64]

    def join(self, other: Scores) -> Scores:
        names = ("up", "trapped", "dry", "underside", "held")
        return Scores(*(np.concatenate([getattr(self, name), getattr(other, name)]) for name in names))


@dataclass(frozen=True, eq=False)
class Spoilt:
    """Share of each triangle (m,) that gas or clinging bubbles spoil, and the gas and dry area in sum."""

    share: NDArray[np.float64]
    volume: float
    dry: float
    underside: float


def spoilt(surface: Surface, relief: Relief, up: NDArray[np.float64]) -> Spoilt:
    """One way up, triangle by triangle."""
    filling = fill(relief, find_basins(relief, up))
    wet = surface.wet_area
    dry = filling.part_area(len(wet))
    share = np.clip(np.divide(dry, wet, out=np.zeros_like(dry), where=wet > 0), 0.0, 1.0)
    plated = surface.plated_area
    level = surface.plated & (surface.normal @ up < -np.cos(LEVEL))
    clung = float((plated * (1.0 - share))[level].sum())
    return Spoilt(np.where(level, 1.0, share), float(filling.volume.sum()), float(plated @ share), clung)


def sweep(surface: Surface, relief: Relief, ups: NDArray[np.float64]) -> Steps[Scores]:
    """Scores of ways up that come in opposite pairs: first half, then their opposites in the same order.

    Gas with one way up is held liquid with the other, so each is computed once.
    Cost: one walk over the surface a direction.
    """
    count = len(ups)
    found = []
    for k, up in enumerate(ups):
        found.append(spoilt(surface, relief, up))
        yield Step((k + 1) / count, f"trying ways up: {k + 1} of {count}")
    volume = np.array([one.volume for one in found])
    return Scores(
        up=np.asarray(ups),
        trapped=volume,
        dry=np.array([one.dry for one in found]),
        underside=np.array([one.underside for one in found]),
        held=np.roll(volume, count // 2),
    )
