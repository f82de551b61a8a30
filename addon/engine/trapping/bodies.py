"""The gas of every pocket, or the liquid of every pool, as the closed body that it is.

A body is bounded by the part's triangles above its level and by a flat sheet at that level. The sheet is what lies
between the cut triangles: strips from one corner of the cut's outline to the next, each between two of its lines.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry import ragged
from ..geometry.choice import descending
from ..geometry.clip import lone_corner
from ..geometry.frames import basis, unit
from ..mesh.surface import Surface
from .basins import find_basins
from .pockets import Filling, fill
from .relief import along, relief_of

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Bodies:
    """Closed bodies, their triangles one after another. Meters, in the part's axes.

    triangles : (n, 3, 3), normals out of the bodies; the sheets' triangles meet each other along parts of edges
    body : (n,) which body each belongs to, the largest first; sheet : (n,) bool, whether it lies at the level
    volume : (k,) m3 of each body, as its pocket has it
    """

    triangles: Array
    body: Indices
    sheet: NDArray[np.bool_]
    volume: Array


def gas_bodies(surface: Surface, up: ArrayLike) -> Bodies:
    """What gas fills with this way up. up : (3,) in the part's axes, need not be unit."""
    return bodies_of(fill(relief_of(surface), find_basins(relief_of(surface), unit(up))))


def liquid_bodies(surface: Surface, up: ArrayLike) -> Bodies:
    """What liquid fills when the part is lifted out with this way up: gas with the other side up."""
    return gas_bodies(surface, -unit(up))


def bodies_of(filling: Filling) -> Bodies:
    """The body of every pocket of a filling, those too small to list as well. O(f) and some for the sheets' strips."""
    relief, up = filling.relief, filling.basins.up
    pocket = filling.pocket[filling.basin].astype(np.intp)
    count = int(pocket.max(initial=-1)) + 1
    volume = np.bincount(pocket, filling.volume, count).astype(np.float64)
    rank = np.empty(count, dtype=np.intp)
    rank[descending(volume)] = np.arange(count)
    pocket = rank[pocket]
    level = np.zeros(count)
    level[pocket] = filling.level[filling.basin]
    index = np.stack([column[filling.triangle] for column in relief.corners], axis=1)
    wall, row, start, end, cut = _clipped_walls(
        relief.points[index], filling.basins.height[index] - level[pocket, None]
    )
    frame = np.stack([*basis(up), up])
    flat_start, flat_end = (np.column_stack([along(ends, frame[0]), along(ends, frame[1])]) for ends in (start, end))
    sheet, own = _sheets(flat_start, flat_end, pocket[cut])
    placed = np.dstack([sheet, np.broadcast_to(level[own, None, None], (len(sheet), 3, 1))]) @ frame
    triangles, body = np.concatenate([wall, placed]), np.concatenate([pocket[row], own])
    at_level = np.arange(len(triangles)) >= len(wall)
    order = np.argsort(body, kind="stable")
    return Bodies(triangles[order], body[order], at_level[order], np.sort(volume)[::-1])


def _clipped_walls(corners: Array, height: Array) -> tuple[Array, Indices, Array, Array, Indices]:
    """Triangles turned over and cut to what lies above zero height, and the lines of the cut.

    corners : (f, 3, 3); height : (f, 3). Returns (triangles (n, 3, 3), row of each (n,), starts and ends of the
    lines (c, 3), row of each (c,)). Seen from above, what is cut out lies to the left of its lines.
    """
    above = height > 0
    corners_above = above.sum(axis=1)
    whole, cut = np.flatnonzero(corners_above == 3), np.flatnonzero((corners_above == 1) | (corners_above == 2))
    alone, lone = lone_corner(above[cut])
    turn = (alone[:, None] + np.arange(3)) % 3
    (tip, following, before), (rise, *others) = (
        np.moveaxis(np.take_along_axis(values, at, axis=1), 1, 0)
        for values, at in ((corners[cut], turn[:, :, None]), (height[cut], turn))
    )
    meet = [  # bit for bit what the adjacent triangle computes
        (tip * other[:, None] - end * rise[:, None]) / (other - rise)[:, None]
        for end, other in zip((following, before), others, strict=True)
    ]
    peaks = np.stack([tip, meet[1], meet[0]], axis=1)[lone]
    stumps = [np.stack(three, axis=1)[~lone] for three in ((before, following, meet[0]), (before, meet[0], meet[1]))]
    wall = np.concatenate([corners[whole][:, ::-1], peaks, *stumps])
    row = np.concatenate([whole, cut[lone], cut[~lone], cut[~lone]])
    start, end = (np.where(lone[:, None], *ends) for ends in ((meet[1], meet[0]), (meet[0], meet[1])))
    return wall, row, start, end, cut


def _sheets(start: Array, end: Array, body: Indices) -> tuple[Array, Indices]:
    """The plane regions to the left of closed outlines, as triangles.

    start, end : (c, 2) lines, what they enclose on their left; body : (c,) whose outline each belongs to.
    Returns (triangles (t, 3, 2), turned to the right, body of each (t,)).
    """
    leans = start[:, 0] != end[:, 0]
    start, end, body = start[leans], end[leans], body[leans]
    forward = start[:, 0] < end[:, 0]
    left, right = np.where(forward[:, None], start, end), np.where(forward[:, None], end, start)
    places = np.concatenate([left[:, 0], right[:, 0]])
    strip = _dense_ranks(np.tile(body, 2), places)
    edge = np.zeros(int(strip.max(initial=-1)) + 1)
    edge[strip] = places
    first, last = np.split(strip, 2)
    line = np.repeat(np.arange(len(body)), last - first)
    strip = first[line] + ragged.places(last - first)
    x = np.stack([edge[strip], edge[strip + 1]], axis=1)
    share = (x - left[line, :1]) / (right[line, :1] - left[line, :1])
    y = left[line, 1:] + share * (right[line, 1:] - left[line, 1:])
    order = np.lexsort((y.sum(axis=1), strip))
    strip, x, y, line = strip[order], x[order], y[order], line[order]
    step = np.where(forward[line], 1, -1)
    crossed = np.cumsum(step)
    before = (crossed - step)[np.searchsorted(strip, strip)]  # strips made of rounding alone may not add up
    low = np.flatnonzero((crossed[:-1] > before[:-1]) & (strip[1:] == strip[:-1]))
    high = low + 1
    corners = [np.column_stack([x[at, side], y[at, side]]) for at, side in ((low, 0), (high, 0), (high, 1), (low, 1))]
    halves = [np.stack([corners[k] for k in three], axis=1) for three in ((0, 1, 2), (0, 2, 3))]
    return np.concatenate(halves), np.tile(body[line[low]], 2)


def _dense_ranks(body: Indices, places: Array) -> Indices:
    """(n,) number of each place in rising order, body by body; equal places of one body share theirs."""
    order = np.lexsort((places, body))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(body[order]) != 0) | (np.diff(places[order]) != 0)
    number = np.empty(len(order), dtype=np.intp)
    number[order] = np.cumsum(new) - 1
    return number
