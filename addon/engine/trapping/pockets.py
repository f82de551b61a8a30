"""The pockets below a surface for one way up: what each holds, its top and its lip, and where to vent it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry import clip
from ..geometry.choice import descending, first_least
from ..linalg.labels import connected
from .basins import OPEN_BASIN, Basins
from .bores import (
    NEGLIGIBLE_AREA_SHARE,
    NEGLIGIBLE_VOLUME_M3,
    Bore,
    Column,
    bore_worth_cutting,
    bores_of,
    choose_diameter,
    mouth_diameter,
)
from .relief import Relief, along
from .spill import minimax_passes

CEILING_OVER_DEPTH = 0.01  # of a pocket's depth: faces this close to its top are its ceiling


@dataclass(frozen=True, eq=False)
class Filling:
    """The gas when every basin is full to its lip.

    level : (b,) meters along up, the height of each basin's lip; inf where the basin is open
    lip : (b,) point of the relief at which each basin spills; -1 where it is open
    triangle : (f,) triangles of the relief that gas touches; basin : (f,) whose gas
    share : (f,) of each triangle's area that is dry; volume : (f,) m3 that each adds to the gas
    """

    relief: Relief
    basins: Basins
    level: NDArray[np.float64]
    lip: NDArray[np.intp]
    triangle: NDArray[np.intp]
    basin: NDArray[np.intp]
    share: NDArray[np.float64]
    volume: NDArray[np.float64]

    @cached_property
    def area(self) -> NDArray[np.float64]:
        """(f,) m2 of each triangle that is dry."""
        return self.relief.area[self.triangle] * self.share

    def part_area(self, count: int) -> NDArray[np.float64]:
        """(count,) m2 that is dry of each triangle of the part."""
        face = self.relief.face[self.triangle]
        real = face >= 0
        # an empty sum would be of integers
        return np.bincount(face[real], self.area[real], count).astype(np.float64)

    @cached_property
    def pocket(self) -> NDArray[np.int32]:
        """(b,) the pocket that each basin belongs to, -1 if open: basins that meet above their lip are one."""
        basins = self.basins
        full = np.isfinite(self.level)
        height = basins.height[basins.passes]
        joined = full[basins.a] & full[basins.b] & (height > self.level[basins.a])
        label, _ = connected(len(full), basins.a[joined], basins.b[joined])
        number = np.full(len(full), -1, dtype=np.int32)
        number[full] = np.unique(label[full], return_inverse=True)[1]
        return number


def fill(relief: Relief, basins: Basins, opened: ArrayLike = ()) -> Filling:
    """Fill every basin to its lip. opened : basins that have a vent at their top, and so hold nothing.

    The volume is exact: by Gauss's theorem it is the integral of (height - level) times the downward part
    of the solid's normal over the surface above the level, which is a polynomial on each triangle. Basins no
    deeper than the rounding of the model's coordinates count as open.
    """
    ways = minimax_passes(len(basins.top), basins.a, basins.b, np.append(OPEN_BASIN, np.asarray(opened, dtype=np.intp)))
    shut = (ways >= 0) & (ways < len(basins.passes))
    lip = np.full(len(ways), -1)
    lip[shut] = basins.passes[ways[shut]]
    level = np.full(len(ways), np.inf)
    level[shut] = basins.height[lip[shut]]
    shallow = shut & (basins.height[basins.top] - level <= relief.noise)
    level[shallow], lip[shallow] = np.inf, -1
    dry = basins.height > level[basins.basin]
    a, b, c = relief.corners
    triangle = np.flatnonzero(dry[a] | dry[b] | dry[c])
    corners = np.stack([column[triangle] for column in relief.corners], axis=1)
    wet = np.where(dry[corners], basins.height[corners], -np.inf)
    basin = basins.basin[corners[np.arange(len(corners)), wet.argmax(axis=1)]]
    share, mean = clip.above(basins.height[corners] - level[basin, None])
    volume = -along(relief.vector[triangle], basins.up) * mean
    return Filling(relief, basins, level, lip, triangle, basin, share, volume)


MIN_VOLUME_WORTH_A_HOLE_M3 = NEGLIGIBLE_VOLUME_M3
MIN_AREA_SHARE_WORTH_A_HOLE = NEGLIGIBLE_AREA_SHARE


@dataclass(frozen=True, eq=False)
class Pocket:
    """A place from which gas cannot rise. Points in meters, in the part's axes.

    volume : m3 of gas when full to its lip; area : m2 of the part's surface that it keeps dry
    top : (3,) its highest point; spill : (3,) the lip, where more gas would leave; spill_level : m along up
    faces : the triangles of the part that it touches
    vent : (3,) on the surface, where a hole empties it; more_vents : (k, 3) further holes that it needs
        because it has several domes; more_volumes : (k,) m3 that each of these frees
    vent_diameter : m, the least of `bores` that leaves next to nothing
    mouth : m, of a circle as large as its opening at the lip
    bores : what holes of each diameter would leave, those that are no wider than the pocket
    column : its gas, height by height
    """

    volume: float
    area: float
    top: NDArray[np.float64]
    spill: NDArray[np.float64]
    spill_level: float
    faces: NDArray[np.int32]
    vent: NDArray[np.float64]
    more_vents: NDArray[np.float64]
    more_volumes: NDArray[np.float64]
    vent_diameter: float
    mouth: float
    bores: tuple[Bore, ...]
    column: Column

    @property
    def hole(self) -> Bore | None:
        """The hole worth cutting; None where none frees much, so the part is shaken or tilted."""
        return bore_worth_cutting(self.bores, self.vent_diameter, self.volume)

    def worth_a_hole(self, plated: float) -> bool:
        """Whether a vent pays, on a part with `plated` m2; otherwise shaking frees the gas."""
        return self.volume >= MIN_VOLUME_WORTH_A_HOLE_M3 or self.area >= MIN_AREA_SHARE_WORTH_A_HOLE * plated


def list_pockets(
    filling: Filling, *, min_volume: float, min_dome_volume: float, capillary_length: float
) -> tuple[tuple[Pocket, ...], int]:
    """The pockets, largest first, and how many more hold less than `min_volume` (m3) and are not listed.

    min_dome_volume : m3, from which a part of a pocket that the first vent leaves full gets a vent of its own
    capillary_length : m, of the bath
    """
    relief, basins = filling.relief, filling.basins
    groups = _Groups.of(filling)
    order = descending(groups.volume)
    listed = order[groups.volume[order] >= min_volume]
    more: dict[int, list[NDArray[np.float64]]] = {int(k): [] for k in listed}
    volumes: dict[int, list[float]] = {int(k): [] for k in listed}
    opened, unvented = groups.main[listed], np.zeros(len(groups.volume))
    while len(opened):
        remaining = fill(relief, basins, np.unique(opened))
        left = _Groups.of(remaining)
        home = filling.pocket[left.main]
        again = [k for k in range(len(left.main)) if left.volume[k] >= min_dome_volume and int(home[k]) in more]
        for k in again:
            more[int(home[k])].append(_vent_point(remaining, left, k))
            volumes[int(home[k])].append(float(left.volume[k]))
        if not again:
            unvented += np.bincount(home, left.volume, len(unvented)).astype(np.float64) if len(home) else 0.0
            break
        opened = np.concatenate([opened, left.main[again]])
    height_of_top = basins.height[basins.top]
    vented = np.zeros(len(basins.top), dtype=bool)
    vented[opened] = True
    result = []
    for k in listed:
        top = basins.top[groups.main[k]]
        lip = filling.lip[groups.main[k]]
        members = groups.members(k)
        faces = relief.face[filling.triangle[members]]
        by = np.where(vented[filling.basin[members]], filling.basin[members], groups.main[k])
        column = _column(filling, members, float(basins.height[lip]), height_of_top[by])
        bores, mouth = bores_of(column, capillary_length, float(unvented[k])), mouth_diameter(column)
        result.append(
            Pocket(
                volume=float(groups.volume[k]),
                area=float(groups.area[k]),
                top=relief.points[top],
                spill=relief.points[lip],
                spill_level=float(basins.height[lip]),
                faces=np.unique(faces[faces >= 0]),
                vent=_vent_point(filling, groups, k),
                more_vents=np.array(more[int(k)]).reshape(-1, 3),
                more_volumes=np.array(volumes[int(k)], dtype=np.float64),
                vent_diameter=choose_diameter(bores, float(groups.volume[k]), mouth),
                mouth=mouth,
                bores=bores,
                column=column,
            )
        )
    return tuple(result), len(order) - len(listed)


@dataclass(frozen=True, eq=False)
class _Groups:
    """Touched triangles and basins of a filling, pocket by pocket.

    volume, area : (k,); main : (k,) the basin with the highest top in each
    order, start : touched triangles (rows of the filling) of pocket k are order[start[k]:start[k + 1]]
    """

    volume: NDArray[np.float64]
    area: NDArray[np.float64]
    main: NDArray[np.intp]
    order: NDArray[np.intp]
    start: NDArray[np.intp]

    @classmethod
    def of(cls, filling: Filling) -> _Groups:
        pocket, basins = filling.pocket, filling.basins
        count = int(pocket.max(initial=-1)) + 1
        own = pocket[filling.basin]
        full = np.flatnonzero(pocket >= 0)
        rising = full[np.argsort(basins.height[basins.top[full]], kind="stable")]
        main = np.zeros(count, dtype=np.intp)
        main[pocket[rising]] = rising  # the last write wins: the highest
        start = np.concatenate([[0], np.cumsum(np.bincount(own, minlength=count))])
        volume, area = (np.bincount(own, amount, count) for amount in (filling.volume, filling.area))
        order = np.argsort(own, kind="stable")
        return cls(volume.astype(np.float64), area.astype(np.float64), main, order, start)

    def members(self, k: int) -> NDArray[np.intp]:
        return self.order[self.start[k] : self.start[k + 1]]


def _column(filling: Filling, members: NDArray[np.intp], level: float, vent: NDArray[np.float64]) -> Column:
    """The gas over some touched triangles (rows of the filling). level : m; vent : (f,) m along up"""
    relief, basins = filling.relief, filling.basins
    triangle = filling.triangle[members]
    corners = np.stack([column[triangle] for column in relief.corners], axis=1)
    return Column(basins.height[corners] - level, -along(relief.vector[triangle], basins.up), vent - level)


def _vent_point(filling: Filling, groups: _Groups, k: int) -> NDArray[np.float64]:
    """Where a hole empties pocket k: the middle of its ceiling if that is flat, else its highest point.

    The middle is taken on the surface: where the ceiling is a ring, it is the nearest triangle's middle.
    """
    relief, basins = filling.relief, filling.basins
    main = groups.main[k]
    top = basins.height[basins.top[main]]
    triangle = filling.triangle[groups.members(k)]
    triangle = triangle[(relief.face[triangle] >= 0) & (along(relief.vector[triangle], basins.up) < 0)]
    corners = np.stack([column[triangle] for column in relief.corners], axis=1)
    near = max(relief.noise, CEILING_OVER_DEPTH * (top - filling.level[main]))
    ceiling = (basins.height[corners] >= top - near).all(axis=1)
    if not ceiling.any():
        return relief.points[basins.top[main]]
    rows = np.flatnonzero(ceiling)  # of ceilings of one height, that which the top lies on
    names, own = np.unique(corners[rows], return_inverse=True)
    own = own.reshape(-1, 3)
    piece, _ = connected(len(names), own[:, [0, 1]].ravel(), own[:, [1, 2]].ravel())
    at_top = piece[np.minimum(np.searchsorted(names, basins.top[main]), len(names) - 1)]
    ceiling[rows[piece[own[:, 0]] != at_top]] = False
    corners = relief.points[corners[ceiling]]
    vector = relief.vector[triangle[ceiling]]
    area = np.linalg.norm(vector, axis=1, keepdims=True)
    middle = (corners.mean(axis=1) * area).sum(axis=0) / area.sum()
    edge = np.roll(corners, -1, axis=1) - corners
    weight = np.einsum("tkx,tx->tk", np.cross(edge, middle - corners), vector)  # of the corner across
    best = int((weight.min(axis=1) / (area[:, 0] ** 2)).argmax())
    if weight[best].min() >= -1e-9 * area[best, 0] ** 2:
        share = np.roll(weight[best], -1) / weight[best].sum()
        return share @ corners[best]
    centres = corners.mean(axis=1)
    offset = centres - middle
    return centres[first_least(np.einsum("ij,ij->i", offset, offset))]
