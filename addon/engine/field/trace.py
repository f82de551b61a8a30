"""Current lines in a plane: they start at the anodes, equally far apart in current, and end on the part.

Each follows the part of the current density that lies in the plane, from node to node of a grid by the classical
fourth-order rule of Runge and Kutta.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..progress import Progress, Step
from .section import Ints, Section, between

Array = NDArray[np.float64]

STEP_CELLS = 0.5  # of a cell
START_DISTANCE_CELLS = 1.2  # cells from an anode to where its lines start
INSULATOR_OFFSET_STEPS = 0.02  # of a step: how far off an insulator a line slides
MAX_LINE_STEPS, STEPS_PER_CHECK = 4000, 25  # steps of a line; after how many it is looked at
MIN_SURFACE_DISTANCE_CELLS = 0.2  # of a cell: a surface that stands nearer to a node is not used for its slope
MIN_DENSITY_SHARE = 1e-6  # of the largest current density: a line stops where there is less


@dataclass(frozen=True, eq=False)
class Grid:
    """A grid of unevenly spaced nodes in a plane, with its fields.

    across : (n,), up : (m,) meters, rising
    potential : (m, n) V, nan where it is not known; wet : (m, n) bool, in the liquid; metal : (m, n) bool, in an
    electrode
    electric_field : (m, n, 2) V/m down the potential, along the current; nan out of the liquid
    """

    across: Array
    up: Array
    potential: Array
    wet: NDArray[np.bool_]
    metal: NDArray[np.bool_]
    electric_field: Array

    def cell(self, places: Array) -> Array:
        """(k,) meters: the shorter side of the cells round places (k, 2)."""
        i, j = self._corner(places)
        return np.minimum(np.diff(self.across)[j], np.diff(self.up)[i])

    def clip(self, places: Array) -> Array:
        """Places (k, 2), those outside brought to the rim."""
        low = [self.across[0], self.up[0]]
        return np.clip(places, low, [self.across[-1], self.up[-1]])

    def read(self, values: Array, places: Array) -> Array:
        """Values at nodes (m, n, ...) read bilinearly at places (k, 2); nodes without a number (nan) do not count."""
        places = self.clip(places)
        i, j = self._corner(places)
        s = (places[:, 0] - self.across[j]) / np.diff(self.across)[j]
        t = (places[:, 1] - self.up[i]) / np.diff(self.up)[i]
        corners = np.stack([values[i, j], values[i, j + 1], values[i + 1, j], values[i + 1, j + 1]])
        weights = np.stack([(1 - s) * (1 - t), s * (1 - t), (1 - s) * t, s * t])
        weights = weights.reshape(weights.shape + (1,) * (corners.ndim - 2))
        known = np.isfinite(corners)
        total = np.where(known, weights * np.where(known, corners, 0.0), 0.0).sum(axis=0)
        share = np.where(known, weights, 0.0).sum(axis=0)
        return np.divide(total, share, out=np.full(total.shape, np.nan), where=share > 1e-9)

    def _corner(self, places: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        i = np.clip(np.searchsorted(self.up, places[:, 1], "right") - 1, 0, len(self.up) - 2)
        j = np.clip(np.searchsorted(self.across, places[:, 0], "right") - 1, 0, len(self.across) - 2)
        return i, j


def electric_field(
    across: Array, up: Array, potential: Array, wet: NDArray[np.bool_], surfaces: Section, value: Array
) -> Array:
    """(m, n, 2) V/m down the potential at the nodes of a grid; nan out of the liquid.

    potential : (m, n) V; surfaces : all that stands in the plane; value : (t,) V in the liquid beside its triangles.
    Where a surface stands between two nodes, each has the surface's own potential for a neighbor, at its distance.
    """
    along = _slope(across, np.where(wet, potential, np.nan), between(surfaces, across, up), value[surfaces.row])
    turned = between(surfaces.turned, up, across)
    upward = _slope(up, np.where(wet, potential, np.nan).T, turned, value[surfaces.row]).T
    return -np.stack([along, upward], axis=-1)


def _slope(at: Array, values: Array, met: tuple[Array, Ints, Array, Ints], beside: Array) -> Array:
    """Slope along the rows of values (m, n) at places (n,): the parabola through a node and its neighbors."""
    place, row_met = met[0::2], met[1::2]
    gap = np.diff(at)
    sides = []
    for k, next_to, own in ((0, values[:, 1:], at[:-1]), (1, values[:, :-1], at[1:])):
        blocked = row_met[k] >= 0
        apart = np.where(blocked, np.abs(place[k] - own), gap)
        value = np.where(blocked, beside[row_met[k]] if len(beside) else 0.0, next_to)
        value = np.where(apart < MIN_SURFACE_DISTANCE_CELLS * gap, np.nan, value)  # too close to take a slope from
        none = np.full((len(values), 1), np.nan)
        pair = [(a, none) if k == 0 else (none, a) for a in (value, apart)]
        sides.append([np.concatenate(p, axis=1) for p in pair])
    (after, ahead), (before, behind) = sides
    right, left = (after - values) / ahead, (values - before) / behind
    both = (right * behind + left * ahead) / (ahead + behind)
    return np.where(np.isnan(both), np.where(np.isnan(right), left, right), both)


def starts(
    grid: Grid, anodes: Section, density: Array, two_sided: NDArray[np.bool_], body: NDArray[np.intp], count: int
) -> tuple[Array, Array]:
    """Places on the anodes with the same current between each and the next, and beside them in the liquid, (count, 2).

    anodes : their section; density : (n,) A/m2 out of the triangles; two_sided : (n,) sheets, which give it on both
    sides as the potential falls there; body : (n,) which of the anodes a triangle belongs to. Current is counted a
    meter of depth: what leaves through the line that the plane cuts.
    """
    middle, way, row = anodes.segments.mean(axis=1), anodes.outward, anodes.row
    off = START_DISTANCE_CELLS * grid.cell(middle)[:, None] * way
    sides = np.concatenate([middle + off, middle - off])
    down = np.sum(grid.read(grid.electric_field, sides) * np.concatenate([way, -way]), axis=1)
    inside = (sides == grid.clip(sides)).all(axis=1) & (grid.read(grid.wet.astype(float), sides) > 0.5)
    down = np.where(inside, np.maximum(np.nan_to_num(down), 0.0), 0.0).reshape(2, -1)
    down[1] *= two_sided[row]
    total = down.sum(axis=0)
    share = np.divide(down, total, out=np.zeros_like(down), where=total > 0)
    length = np.linalg.norm(anodes.segments[:, 1] - anodes.segments[:, 0], axis=1)
    flow = (share * length * np.maximum(density[row], 0.0)).reshape(-1)
    if not flow.sum() > 0:
        return np.empty((0, 2)), np.empty((0, 2))
    order = _along(anodes, sides, body)
    passed = np.cumsum(flow[order])
    wanted = (np.arange(count) + 0.5) / count * passed[-1]
    place = np.searchsorted(passed, wanted)
    piece = order[np.minimum(place, len(order) - 1)]
    within = np.clip((wanted - passed[place] + flow[piece]) / flow[piece], 0.0, 1.0)[:, None]
    low, high = _ends(anodes, piece % len(middle))
    on = low + within * (high - low)
    return on, on + sides[piece] - np.tile(middle, (2, 1))[piece]


def _along(anodes: Section, sides: Array, body: NDArray[np.intp]) -> NDArray[np.intp]:
    """An order in which neighbors on the anodes follow each other: by body, by side, and along it."""
    turned = np.concatenate([anodes.outward, -anodes.outward])
    side = np.round(np.arctan2(turned[:, 1], turned[:, 0]) / (np.pi / 4))
    steep = np.abs(turned[:, 0]) > np.abs(turned[:, 1])
    return np.lexsort((np.where(steep, sides[:, 1], sides[:, 0]), side, np.tile(body[anodes.row], 2)))


def _ends(anodes: Section, piece: NDArray[np.intp]) -> tuple[Array, Array]:
    """The ends of segments, the lower in its own axis first, as `_along` walks them."""
    a, b = anodes.segments[piece].swapaxes(0, 1)
    steep = np.abs(anodes.outward[piece, 0]) > np.abs(anodes.outward[piece, 1])
    rising = np.where(steep, a[:, 1] <= b[:, 1], a[:, 0] <= b[:, 0])[:, None]
    return np.where(rising, a, b), np.where(rising, b, a)


def lines(grid: Grid, start: Array, insulators: Section, *, walled: bool) -> Progress[list[Array]]:
    """Current lines from places (k, 2), each (steps, 2), to where they leave the liquid.

    insulators : along which they slide, where they come closer than the grid can tell; walled : whether the rim of the
    grid is one too, or liquid that goes on, where they end
    """
    metal = grid.metal.astype(float)
    least = MIN_DENSITY_SHARE * float(np.nanmax(np.linalg.norm(grid.electric_field, axis=-1), initial=0.0))

    def way(places: Array) -> Array:
        down = np.nan_to_num(grid.read(grid.electric_field, places))
        size = np.linalg.norm(down, axis=1, keepdims=True)
        return np.divide(down, size, out=np.zeros_like(down), where=size > least)

    at, alive = start.copy(), np.arange(len(start))
    traced = [[place] for place in start]
    before = np.full_like(start, np.inf)
    for turn in range(MAX_LINE_STEPS):
        if turn % STEPS_PER_CHECK == 0:
            yield Step(1.0 - len(alive) / max(len(start), 1), "Drawing current lines")
            # a line that oscillates about a stagnation point has ended
            alive = alive[np.linalg.norm(at[alive] - before[alive], axis=1) > grid.cell(at[alive])]
            before = at.copy()
        if not len(alive):
            break
        points = at[alive]
        step = STEP_CELLS * grid.cell(points)[:, None]
        k1 = way(points)
        k2 = way(points + 0.5 * step * k1)
        k3 = way(points + 0.5 * step * k2)
        k4 = way(points + step * k3)
        target = points + step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
        target = _slid(points, target, insulators)
        inside = grid.clip(target)
        going = (np.linalg.norm(inside - points, axis=1) > 0.05 * step[:, 0]) & (
            walled | (inside == target).all(axis=1)
        )
        at[alive] = inside
        for k, line in zip(inside, alive, strict=True):
            traced[line].append(k)
        alive = alive[going & (grid.read(metal, inside) < 0.5)]
    return [np.array(line) for line in traced]


def _slid(start: Array, end: Array, insulators: Section) -> Array:
    """Steps from start to end (k, 2); those that would cross an insulator are projected onto it."""
    if not len(insulators.segments):
        return end
    fractions = _hits(start, end, insulators)
    first = fractions.argmin(axis=1)
    crossing = np.isfinite(fractions[np.arange(len(fractions)), first])
    foot, normal = insulators.segments[first, 0], insulators.outward[first]
    side = np.sign(np.sum((start - foot) * normal, axis=1))
    off = INSULATOR_OFFSET_STEPS * np.linalg.norm(end - start, axis=1) * side
    depth = np.sum((end - foot) * normal, axis=1) - off
    return np.where(crossing[:, None], end - depth[:, None] * normal, end)


def _hits(start: Array, end: Array, section: Section) -> Array:
    """(k, s) how far along each way from start to end (k, 2) it meets each segment, 0 to 1; inf where it does not."""
    a, b = section.segments.swapaxes(0, 1)
    along, edge, to = (end - start)[:, None], b - a, a - start[:, None]
    cross = along[..., 0] * edge[..., 1] - along[..., 1] * edge[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (to[..., 0] * edge[..., 1] - to[..., 1] * edge[..., 0]) / cross
        u = (to[..., 0] * along[..., 1] - to[..., 1] * along[..., 0]) / cross
    return np.where((t >= 0) & (t <= 1) & (u >= 0) & (u <= 1), t, np.inf)


def ended(line: Array, bodies: Section) -> Array:
    """A line (k, 2) cut at the first surface that it crosses, or drawn on to the one that it has all but met."""
    reach = line[-1] + 2.0 * (line[-1] - line[-2]) if len(line) > 1 else line[-1]
    whole = np.concatenate([line, reach[None]])
    low, high = whole.min(axis=0), whole.max(axis=0)
    a, b = bodies.segments.swapaxes(0, 1)
    near = (np.maximum(a, b) >= low).all(axis=1) & (np.minimum(a, b) <= high).all(axis=1)
    t = _hits(whole[:-1], whole[1:], bodies.take(near)).min(axis=1, initial=np.inf)
    hits = np.flatnonzero(np.isfinite(t))
    if not len(hits):
        return line
    k = hits[0]
    return np.concatenate([whole[: k + 1], (whole[k] + t[k] * (whole[k + 1] - whole[k]))[None]])
