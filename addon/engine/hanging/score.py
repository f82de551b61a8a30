"""What each way up costs: gas that stays, undersides that keep bubbles, liquid carried out."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ..mesh.surface import Surface
from ..progress import Progress, Step
from ..trapping.basins import find_basins
from ..trapping.gas import LEVEL
from ..trapping.pockets import fill
from ..trapping.relief import Relief, along


@dataclass(frozen=True, eq=False)
class Scores:
    """Ways up and what each costs; all arrays in the order of `up`.

    up : (k, 3) unit; trapped : (k,) m3 of gas; dry : (k,) m2 of plated surface that it keeps dry
    underside : (k,) m2 of plated surface, outside the pockets, that faces down nearly level
    held : (k,) m3 of liquid carried out
    dry_worth, underside_worth : (k,) m2, `dry` and `underside` with each m2 counted by what it is worth
    """

    up: NDArray[np.float64]
    trapped: NDArray[np.float64]
    dry: NDArray[np.float64]
    underside: NDArray[np.float64]
    held: NDArray[np.float64]
    dry_worth: NDArray[np.float64]
    underside_worth: NDArray[np.float64]

    def join(self, other: Scores) -> Scores:
        return Scores(*(np.concatenate([getattr(one, f.name) for one in (self, other)]) for f in fields(self)))


def spoilt(surface: Surface, relief: Relief, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) share of each triangle that gas or clinging bubbles spoil, one way up."""
    filling = fill(relief, find_basins(relief, up))
    wet = surface.wet_area
    dry = filling.part_area(len(wet))
    share = np.clip(np.divide(dry, wet, out=np.zeros_like(dry), where=wet > 0), 0.0, 1.0)
    level = surface.plated & (along(surface.normal, up) < -np.cos(LEVEL))
    return np.where(level, 1.0, share)


def worth(surface: Surface, density: NDArray[np.float64] | None, visible: float, thin: float) -> NDArray[np.float64]:
    """(m,) what a spoilt m2 of each triangle counts, beside one that neither shows nor is thin.

    density : (m,) A/m2 of the current distribution, None where there is none: its map is taken to turn with the part
    visible, thin : what a face counts more that shows, and one that gets no deposit; in between, in proportion
    """
    counts = 1.0 + visible * surface.show
    area = surface.plated_area
    whole = float(area @ density) if density is not None else 0.0
    if density is not None and whole > 0:
        counts = counts + thin * np.clip(1.0 - density * (area.sum() / whole), 0.0, 1.0)
    return counts


def sweep(
    surface: Surface, relief: Relief, ups: NDArray[np.float64], counts: NDArray[np.float64] | None = None
) -> Progress[Scores]:
    """Scores of ways up that come in opposite pairs: first half, then their opposites in the same order.

    counts : (m,) of `worth`; None: all alike
    Gas with one way up is held liquid with the other, so each is computed once.
    Cost: one walk over the surface a direction.
    """
    count = len(ups)
    plated = np.where((relief.face >= 0) & surface.plated[relief.face], relief.area, 0.0)
    steep = np.where(plated > 0, -np.cos(LEVEL) * relief.area, -np.inf)  # never below: nothing clings
    areas = np.stack([plated, plated if counts is None else plated * counts[relief.face]])
    found = np.empty((count, 5))
    for done, (k, sign) in enumerate((k, sign) for k in range(count // 2) for sign in (1.0, -1.0)):
        if sign > 0:
            rise = along(relief.vector, ups[k])
        else:
            rise, k = -rise, k + count // 2
        filling = fill(relief, find_basins(relief, ups[k], rise))
        level = rise < steep
        kept = np.take(areas, filling.triangle, axis=1) * filling.share
        # sums, no products of matrices: their threads cost more than they save when the machine is busy
        cling = np.take(areas, np.flatnonzero(level), axis=1).sum(axis=1)
        cling -= np.compress(level[filling.triangle], kept, axis=1).sum(axis=1)
        found[k] = filling.volume.sum(), *kept.sum(axis=1), *cling
        yield Step((done + 1) / count, f"trying ways up: {done + 1} of {count}")
    volume, dry, dry_worth, under, under_worth = found.T
    return Scores(
        np.asarray(ups),
        volume,
        dry,
        np.maximum(under, 0.0),
        np.roll(volume, count // 2),
        dry_worth,
        np.maximum(under_worth, 0.0),
    )
