"""Costs of ways up: trapped gas, undersides that keep bubbles, liquid that is carried out."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..linalg.blas import one_thread
from ..mesh.surface import Surface
from ..progress import Progress, Step
from ..trapping.aggregated import AggregatedRelief, aggregated, has_sheets
from ..trapping.basins import find_basins
from ..trapping.gas import MAX_LEVEL_ANGLE_RAD
from ..trapping.pockets import Filling, fill
from ..trapping.relief import Relief, along

MAX_FULL_SWEEP_TRIANGLES = 40_000  # larger surfaces are aggregated for the sweep
AGGREGATED_TRIANGLES = 16_000
FACES_PER_BATCH = 1 << 14  # faces whose slopes to all ways up are computed at once


@dataclass(frozen=True, eq=False)
class Scores:
    """Ways up and what each costs; all arrays in the order of `up`.

    up : (k, 3) unit; trapped : (k,) m3 of gas; dry : (k,) m2 of plated surface that it keeps dry
    underside : (k,) m2 of plated surface, outside the pockets, that faces down nearly level
    held : (k,) m3 of liquid carried out
    dry_weighted, underside_weighted : (k,) m2, `dry` and `underside` with each m2 multiplied by its weight
    """

    up: NDArray[np.float64]
    trapped: NDArray[np.float64]
    dry: NDArray[np.float64]
    underside: NDArray[np.float64]
    held: NDArray[np.float64]
    dry_weighted: NDArray[np.float64]
    underside_weighted: NDArray[np.float64]

    def join(self, other: Scores) -> Scores:
        """These ways up, followed by the other's."""
        return Scores(*(np.concatenate([getattr(scores, f.name) for scores in (self, other)]) for f in fields(self)))


@dataclass(frozen=True, eq=False)
class Swept:
    """The surface that a sweep walks over.

    relief : as it is, or aggregated; areas : (2, t) m2 of plated surface on its triangles, as they are and at their
    worth; fine : what it was aggregated from, None where it is the surface itself
    """

    relief: Relief
    areas: NDArray[np.float64]
    fine: Swept | None = None

    @classmethod
    def of(cls, surface: Surface, relief: Relief, counts: NDArray[np.float64] | None = None) -> Swept:
        """The whole surface. counts : (m,) of `face_weights`; None: all alike"""
        plated = np.where((relief.face >= 0) & surface.plated[relief.face], relief.area, 0.0)
        return cls(relief, np.stack([plated, plated if counts is None else plated * counts[relief.face]]))

    def aggregated(self, most: int | None = None) -> Swept:
        """The same on about `most` triangles (None: `AGGREGATED_TRIANGLES`), with the same areas in all.

        Itself where it has sheets in it.
        """
        if has_sheets(self.relief):
            return self
        coarse: AggregatedRelief = aggregated(self.relief, AGGREGATED_TRIANGLES if most is None else most)
        return Swept(coarse.relief, np.stack([coarse.areas(area) for area in self.areas]), self)

    def undersides(self, ups: NDArray[np.float64]) -> NDArray[np.float64]:
        """(k, 2) m2 of plated surface that faces down nearly level, as it is and at its worth, of every way up."""
        faces = np.flatnonzero(self.areas[0] > 0)
        total = np.zeros((len(ups), 2))
        with one_thread():
            for start in range(0, len(faces), FACES_PER_BATCH):
                part = faces[start : start + FACES_PER_BATCH]
                normal = self.relief.vector[part] / self.relief.area[part, None]
                level = normal.astype(np.float32) @ ups.T.astype(np.float32) < -np.cos(MAX_LEVEL_ANGLE_RAD)
                total += level.T.astype(np.float32) @ self.areas[:, part].T.astype(np.float32)
        return total


def spoilt(surface: Surface, relief: Relief, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) share of each triangle that gas or clinging bubbles spoil, one way up."""
    return spoilt_by(surface, fill(relief, find_basins(relief, up)))


def spoilt_by(surface: Surface, filling: Filling) -> NDArray[np.float64]:
    """(m,) share of each triangle that is spoilt, from a filling that was computed already."""
    up = filling.basins.up
    wet = surface.wet_area
    dry = filling.part_area(len(wet))
    share = np.clip(np.divide(dry, wet, out=np.zeros_like(dry), where=wet > 0), 0.0, 1.0)
    level = surface.plated & (along(surface.normal, up) < -np.cos(MAX_LEVEL_ANGLE_RAD))
    return np.where(level, 1.0, share)


def face_weights(
    surface: Surface, density: NDArray[np.float64] | None, visible: float, thin: float
) -> NDArray[np.float64]:
    """(m,) the weight of a spoilt m2 of each triangle, 1 where it neither shows nor is thin.

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

    counts : (m,) of `face_weights`; None: all alike
    """
    return sweep_over(Swept.of(surface, relief, counts), ups)


def sweep_over(swept: Swept, ups: NDArray[np.float64]) -> Progress[Scores]:
    """Scores of ways up that come in opposite pairs, as `sweep`.

    Gas with one way up is held liquid with the other, so each is computed once. Level undersides are measured on the
    whole surface even where the sweep uses an aggregated one. Cost: one pass over the surface per direction.
    """
    count, relief, areas = len(ups), swept.relief, swept.areas
    steep = np.where(areas[0] > 0, -np.cos(MAX_LEVEL_ANGLE_RAD) * relief.area, -np.inf)  # bubbles never cling there
    costs = np.empty((count, 5))
    under = None if swept.fine is None else swept.fine.undersides(ups)
    for number, (k, sign) in enumerate((k, sign) for k in range(count // 2) for sign in (1.0, -1.0)):
        if sign > 0:
            rise = along(relief.vector, ups[k])
        else:
            rise, k = -rise, k + count // 2
        filling = fill(relief, find_basins(relief, ups[k], rise))
        level = rise < steep
        dry_areas = np.take(areas, filling.triangle, axis=1) * filling.share
        # sums instead of matrix products, whose threads cost more than they save on a busy machine
        cling = np.take(areas, np.flatnonzero(level), axis=1).sum(axis=1) if under is None else under[k]
        cling = cling - np.compress(level[filling.triangle], dry_areas, axis=1).sum(axis=1)
        costs[k] = filling.volume.sum(), *dry_areas.sum(axis=1), *cling
        yield Step((number + 1) / count, filled("trying ways up: {number} of {count}", number=number + 1, count=count))
    volume, dry, dry_weighted, level_area, level_worth = costs.T
    return Scores(
        np.asarray(ups),
        volume,
        dry,
        np.maximum(level_area, 0.0),
        np.roll(volume, count // 2),
        dry_weighted,
        np.maximum(level_worth, 0.0),
    )
