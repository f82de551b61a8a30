"""Where gas gathers below a surface: every basin of the liquid for one way up, and where basins meet.

The liquid above a falling level h, {outside the part, height > h}, falls into pieces that are born and
that merge at points of the part's surface alone: in the liquid itself height has no critical point. They are tracked
on a graph: the surface's points and edges, and for each peak of the solid, which has liquid above, one link straight
up to the ceiling over it or to the open bath. An edge lasts down to its lower end. What of this graph lies above h
has just as many pieces as the liquid above h, so no grid is needed (docs/theory-gas.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry.frames import unit
from .overhead import ceilings_over
from .relief import Relief, along, pick

OPEN_BASIN = 0  # the basin that reaches the open bath


@dataclass(frozen=True, eq=False)
class Basins:
    """The basins of one surface for one way up.

    up : (3,) unit
    height : (v,) meters along `up`
    basin : (v,) which basin each point climbs to; 0 is the open bath
    top : (b,) the point at which each basin ends; -1 for the open bath
    a, b : (p,) basins that meet at a pass
    passes : (p,) the point at which they meet, its height rising along the list
    """

    up: NDArray[np.float64]
    height: NDArray[np.float64]
    basin: NDArray[np.intp]
    top: NDArray[np.intp]
    a: NDArray[np.intp]
    b: NDArray[np.intp]
    passes: NDArray[np.intp]


def find_basins(relief: Relief, up: ArrayLike, rise: NDArray[np.float64] | None = None) -> Basins:
    """Let every point of the surface climb to the top of its basin, and list where basins meet.

    up : (3,), need not be unit; rise : (t,) m2 of `relief.vector` along it, where that is known already
    Cost: some passes over points, edges and triangles; nothing is sorted but the passes between basins.
    """
    up = unit(up)
    height = along(relief.points, up)
    count = len(height)
    i, j = relief.edges
    rising = pick(height, j) >= pick(height, i)  # of points at one height, the later in the list counts as higher
    # products, because selection by a mask costs several times as much
    step = relief.edge_step * rising
    low, high = j - step, i + step
    link = np.arange(count + 1)  # the last is the open bath
    link[low] = high  # any higher neighbor will do: the path never drops below its start
    top = np.flatnonzero(link[:count] == np.arange(count))
    under = _solid_above(relief, height, up, top)
    peak = top[~under]
    target = np.full(len(peak), count)
    if under.any():
        hidden = np.flatnonzero(height[peak] < height[top[under]].max())
        target[hidden] = _highest(relief, height, ceilings_over(relief, up, height, peak[hidden], rise))
    climbs = (target == count) | (height[np.minimum(target, count - 1)] > height[peak])
    link[peak[climbs]] = target[climbs]
    if not climbs.all():  # a ceiling that touches the peak and rises nowhere: a neighbor at the same height
        low, high = np.append(low, peak[~climbs]), np.append(high, target[~climbs])
    while True:
        further = pick(link, link)
        if np.array_equal(further, link):
            break
        link = further
    roots = np.flatnonzero(link[:count] == np.arange(count))
    number = np.full(count + 1, OPEN_BASIN)
    number[roots] = 1 + np.arange(len(roots))
    basin = pick(number, link[:count])
    meet = np.flatnonzero(pick(basin, low) != pick(basin, high))
    low, high = low[meet], high[meet]
    order = np.argsort(height[low], kind="stable")
    low, high = low[order], high[order]
    return Basins(up, height, basin, np.append(-1, roots), basin[low], basin[high], low)


def _solid_above(
    relief: Relief, height: NDArray[np.float64], up: NDArray[np.float64], top: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether each top is the end of a ceiling (solid above it) and not a peak of the solid.

    Seen from a top all its triangles go down. Put on the plane one unit below it they outline the solid, if
    the liquid is above, and else the liquid, the other way round: so the sign of the outlined area tells.
    At the rim of a sheet it is zero but for rounding: liquid.
    """
    is_top = np.zeros(len(height), dtype=bool)
    is_top[top] = True
    least = 1e-12 * relief.size  # for level edges, taken to fall by this
    outlined, rounding = np.zeros(len(top)), np.zeros(len(top))
    for turn in range(3):
        a, b, c = (relief.corners[(turn + k) % 3] for k in range(3))
        at = np.flatnonzero(pick(is_top, a))
        own, vector = np.searchsorted(top, a[at]), relief.vector[at]
        falls = [np.maximum(height[a[at]] - height[end[at]], least) for end in (b, c)]
        fall = falls[0] * falls[1]
        outlined += np.bincount(own, along(vector, up) / fall, len(top))
        rounding += np.bincount(own, np.linalg.norm(vector, axis=1) / fall, len(top))
    return outlined < -1e-12 * rounding


def _highest(relief: Relief, height: NDArray[np.float64], triangle: NDArray[np.intp]) -> NDArray[np.intp]:
    """The highest corner of each triangle; past the last point for triangle -1 (the open bath)."""
    corners = np.stack([corner[triangle] for corner in relief.corners], axis=1)
    point = corners[np.arange(len(corners)), height[corners].argmax(axis=1)]
    return np.where(triangle < 0, len(height), point)
