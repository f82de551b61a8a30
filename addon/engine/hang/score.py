"""What each way up costs: gas that stays, undersides that keep bubbles, liquid carried out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..basins import find_basins
from ..gas import LEVEL
from ..pockets import fill
from ..relief import Relief, along
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


def spoilt(surface: Surface, relief: Relief, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) share of each triangle that gas or clinging bubbles spoil, one way up."""
    filling = fill(relief, find_basins(relief, up))
    wet = surface.wet_area
    dry = filling.part_area(len(wet))
    share = np.clip(np.divide(dry, wet, out=np.zeros_like(dry), where=wet > 0), 0.0, 1.0)
    level = surface.plated & (along(surface.normal, up) < -np.cos(LEVEL))
    return np.where(level, 1.0, share)


def sweep(surface: Surface, relief: Relief, ups: NDArray[np.float64]) -> Steps[Scores]:
    """Scores of ways up that come in opposite pairs: first half, then their opposites in the same order.

    Gas with one way up is held liquid with the other, so each is computed once.
    Cost: one walk over the surface a direction.
    """
    count = len(ups)
    plated = np.where((relief.face >= 0) & surface.plated[relief.face], relief.area, 0.0)
    steep = np.where(plated > 0, -np.cos(LEVEL) * relief.area, -np.inf)  # never below: nothing clings
    volume, dry, underside = np.empty((3, count))
    for k, up in enumerate(ups):
        filling = fill(relief, find_basins(relief, up))
        level = along(relief.vector, up) < steep
        kept = plated[filling.triangle] * filling.share
        volume[k], dry[k] = filling.volume.sum(), kept.sum()
        underside[k] = plated[level].sum() - kept[level[filling.triangle]].sum()
        yield Step((k + 1) / count, f"trying ways up: {k + 1} of {count}")
    return Scores(np.asarray(ups), volume, dry, np.maximum(underside, 0.0), np.roll(volume, count // 2))
