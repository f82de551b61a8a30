"""A coarser surface for panels: short edges collapsed where the shape allows it.

Each pass removes a set of points no two of which are neighbors, each by sliding it onto the neighbor that
costs least, so every triangle changes by one corner at most and a whole pass is a few array operations. The
cost is the mean squared distance of the new corner from the planes that the old one stood for (M. Garland and
P. S. Heckbert, Proc. SIGGRAPH 97, 209: quadric error; from memory). Points only ever move onto points of the
original, so a plane stays a plane and a sharp edge stays sharp.

`collapse` decides what may slide where for single points, `stars` for many at once; `quadric` gives the cost. Between
passes `flips` improves the shape of the triangles.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..mesh.topology import Topology
from ..progress import Progress, Step
from .collapse import Start, singly
from .flips import flipped
from .quadric import Array, Ints, gather, quadrics
from .stars import by_stars

# of the wanted size: how far the surface may move. A hole that gets narrower lets less down: with twice as much, the
# lowest density in a blind hole differed by a fifth between triangulations at 3,000 panels, with this by 3 %
MAX_SURFACE_SHIFT_SHARE = 0.02
STARS_OVER_WANTED = 3.0  # triangles left over those wanted, from which on whole stars are collapsed at once
MAX_TRIANGLES_A_POINT = 1.5  # where there are fewer, points that none uses are laid aside; a closed surface has two
# of the triangles, that a pass leaves: where more are left its sizes are done with. Of stars; of single edges, with
# more triangles than wanted or not
MAX_STARS_LEFT, MAX_CROWD_LEFT, MAX_LEFT = 0.8, 0.93, 0.99
MAX_FLAT = 0.5  # of the wanted size: the surface may never move further
SIZE_GROWTH, FLAT_GROWTH = 1.2, 1.3  # of the wanted size and of the share of it, where too much is left
# roughly: how much more room the surface is given, up to what share of the wanted size; a surface of fewer triangles is
# coarsened further in a moment, with no more room than it must have
ROUGH_GROWTH, MAX_ROUGH_FLAT, MIN_FINE_TRIANGLES = 1.6, 0.2, 50_000


@dataclass(frozen=True, eq=False)
class Coarse:
    """triangles : (k, 3) into the same points as before; origin : (k,) the row that each one was
    place : (v,) the point that each point was slid onto
    """

    triangles: NDArray[np.int32]
    origin: Ints
    place: Ints

    @classmethod
    def none(cls, triangles: NDArray[np.int32], points: int) -> Coarse:
        """The identity: points and triangles unchanged."""
        return cls(triangles, np.arange(len(triangles)), np.arange(points))

    def then(self, after: Coarse) -> Coarse:
        """The composition of two: `after` coarsens the result of this one."""
        return Coarse(after.triangles, self.origin[after.origin], after.place[self.place])


def coarsen(points: Array, triangles: NDArray[np.int32], label: Ints, size: Array, most: int) -> Progress[Coarse]:
    """Collapse edges shorter than the wanted size; go on with larger sizes while more than `most` triangles
    are left.

    points : (v, 3); triangles : (m, 3); size : (v,) meters, wanted length of edges
    label : (m,), lines between triangles of different labels are kept
    """
    remaining, flat = _Remaining.of(points, triangles, label, size), MAX_SURFACE_SHIFT_SHARE
    stars = len(triangles) > STARS_OVER_WANTED * most
    while True:
        yield remaining.step
        left = remaining.walk(flat, by_stars if stars else singly)
        if left == 0.0:
            break  # a surface that would vanish is kept, however small
        enough = len(remaining.triangles) <= (STARS_OVER_WANTED if stars else 1.0) * most
        at_end = left >= (MAX_STARS_LEFT if stars else MAX_LEFT if enough else MAX_CROWD_LEFT)
        at_end |= enough and flat > MAX_SURFACE_SHIFT_SHARE  # larger sizes than wanted need not be reached
        if stars and (enough or left >= MAX_LEFT):
            stars = False
        elif at_end:
            if enough or flat > MAX_FLAT:
                break
            remaining.grow(SIZE_GROWTH)
            flat *= FLAT_GROWTH
    return remaining.coarse


def coarsen_roughly(
    points: Array, triangles: NDArray[np.int32], label: Ints, size: Array, most: int
) -> Progress[Coarse]:
    """Collapse edges shorter than the wanted size, by stars alone, until a few times `most` triangles are left: a
    first stage before `coarsen`. Arguments as of `coarsen`; edges do not get longer, but where too many are left the
    surface may move further, as it would afterwards.
    """
    remaining, flat = _Remaining.of(points, triangles, label, size), MAX_SURFACE_SHIFT_SHARE
    while len(remaining.triangles) > STARS_OVER_WANTED * most:
        yield remaining.step
        left = remaining.walk(flat, by_stars)
        if left == 0.0:
            break
        if left >= MAX_STARS_LEFT:
            if flat > MAX_ROUGH_FLAT or len(remaining.triangles) < MIN_FINE_TRIANGLES:
                break
            flat *= ROUGH_GROWTH
    return remaining.coarse


@dataclass(eq=False)
class _Remaining:
    """The surface between two passes.

    points, triangles, size, quadric : of those that are still worked on; typical : m, mean size
    home : (u,) the points among all; place : (v,) of all, as of `Coarse`; origin : (k,) the row that each triangle was
    label : (m,) of all triangles; turn : passes so far
    """

    points: Array
    triangles: NDArray[np.int32]
    size: Array
    quadric: Array
    typical: float
    home: Ints
    place: Ints
    origin: Ints
    label: Ints
    turn: int = 0

    @classmethod
    def of(cls, points: Array, triangles: NDArray[np.int32], label: Ints, size: Array) -> _Remaining:
        """The whole surface; arguments as of `coarsen`."""
        place: Ints = np.arange(len(points))
        home, typical = place, float(size[triangles].mean())
        if len(triangles) < MAX_TRIANGLES_A_POINT * len(points):
            home, triangles = _used(triangles, len(points))
            points, size = points[home], size[home]
        quadric = quadrics(points, triangles, label, Topology.of(triangles, len(points)))
        return cls(points, triangles, size, quadric, typical, home, place, np.arange(len(triangles)), label)

    @property
    def coarse(self) -> Coarse:
        """As the result."""
        return Coarse(self.home[self.triangles].astype(np.int32), self.origin, self.place)

    @property
    def step(self) -> Step:
        """The progress so far."""
        count = len(self.triangles)
        return Step(1.0 - count / len(self.label), filled("Coarsening the surface: {count} triangles", count=count))

    def grow(self, factor: float) -> None:
        """Increase the wanted size everywhere."""
        self.size, self.typical = factor * self.size, factor * self.typical

    def walk(self, flat: float, move: Callable[[Start], Ints]) -> float:
        """One pass: where points slide, by `move`, in which the surface may leave its planes by a share `flat` of the
        wanted size. The share of the triangles that is left; 0, and nothing done, where that is none.
        """
        self.turn += 1
        before = len(self.triangles)
        if before < MAX_TRIANGLES_A_POINT * len(self.points):
            used, self.triangles = _used(self.triangles, len(self.points))
            self.home, self.points, self.size = self.home[used], self.points[used], self.size[used]
            self.quadric = self.quadric[:, used]
        near = flat * np.minimum(self.size, self.typical)
        label = self.label[self.origin]
        slide = move(Start(self.points, self.triangles, label, self.quadric, self.size, near, self.turn))
        moved = np.flatnonzero(slide != np.arange(len(slide)))
        if not len(moved):
            return 1.0
        a, b, c = (slide[corner] for corner in self.triangles.T)
        alive = (a != b) & (b != c) & (c != a)
        if not alive.any():
            return 0.0
        gather(self.quadric, moved, slide[moved])
        onto = np.arange(len(self.place))
        onto[self.home[moved]] = self.home[slide[moved]]
        self.place = onto[self.place]
        slid = np.stack([a[alive], b[alive], c[alive]], axis=1).astype(np.int32)
        self.origin = self.origin[alive]
        self.triangles = flipped(self.points, slid, label[alive])
        return len(slid) / before


def _used(triangles: NDArray[np.int32], points: int) -> tuple[Ints, NDArray[np.int32]]:
    """The points that triangles use, (u,), and the triangles by these."""
    used = np.zeros(points, dtype=bool)
    used[triangles] = True
    return np.flatnonzero(used), (np.cumsum(used, dtype=np.int32) - np.int32(1))[triangles]
