"""From a coarse level to a fine one: where panels must be small, a first guess, and what the two levels
differ by.
"""

from __future__ import annotations

import numpy as np

from ..surface import Surface
from ..tank import Role
from .panels import Hint, Panels
from .pieces import Array, area, nearest, normals
from .problem import Cell, State, resumed

STEEPEST = 8.0  # the coarsest wanted size over the finest


def a_side(panels: Panels, j: Array) -> Array:
    """(p,) A/m2 on one side of the pieces of the first copy, of the state's j (n,)."""
    rows = panels.bodies[0]
    return j[rows] / panels.sides[rows]


def hint(panels: Panels, j: Array) -> Hint:
    """Sizes that share the error out evenly, over the even size: a density that is constant on a panel of
    length h is wrong by |grad j| h, and the sum of (|grad j| h)^2 area is least for a given number of panels
    where h falls as |grad j|^(-1/2).
    """
    pieces = panels.part.pieces
    middle = pieces.mean(axis=1)
    normal = normals(pieces)
    density = a_side(panels, j)
    plated = panels.role[panels.bodies[0]] == Role.PART
    steep = np.zeros(len(pieces))
    steep[plated] = _steepness(middle[plated], normal[plated], density[plated])
    most = float(steep.max())
    size = np.ones(len(pieces)) if most == 0.0 else np.maximum(steep / most, STEEPEST**-2) ** -0.5
    weight = area(pieces)
    return Hint(middle, normal, size * float(np.sqrt((weight / size**2).sum() / weight.sum())))


def _steepness(middle: Array, normal: Array, density: Array) -> Array:
    """(n,) change of the density a metre towards the nearest neighbours that face alike, root mean square."""
    out = np.zeros(len(middle))
    count = min(8, len(middle) - 1)
    if count < 1:
        return out
    square = (middle**2).sum(axis=1)
    chunk = max(1, 2_000_000 // len(middle))
    for start in range(0, len(middle), chunk):
        part = slice(start, start + chunk)
        apart = np.maximum(square[part, None] + square - 2.0 * middle[part] @ middle.T, 0.0)
        apart[normal[part] @ normal.T < 0.5] = np.inf
        apart[np.arange(len(apart)), np.arange(len(middle))[part]] = np.inf
        near = np.argpartition(apart, count, axis=1)[:, :count]
        gap = np.take_along_axis(apart, near, axis=1)
        change = (density[near] - density[part, None]) ** 2
        out[part] = np.sqrt(
            np.divide(change, gap, out=np.zeros_like(gap), where=np.isfinite(gap) & (gap > 0)).mean(axis=1)
        )
    return out


def carried(cell: Cell, fine: Panels, coarse: Panels, state: State) -> State:
    """The coarse level's state on the fine panels, as a first guess."""
    j, phi = np.zeros(cell.influence.n), np.zeros(cell.influence.n)
    facing = normals(coarse.corners)
    for rows, before in zip(fine.bodies, coarse.bodies, strict=True):
        some = before[:: max(1, len(before) // 4000)]
        middle = fine.corners[rows].mean(axis=1)
        before_middle = coarse.corners[some].mean(axis=1)
        at = some[nearest(middle, cell.influence.normal[rows], before_middle, facing[some])]
        j[rows], phi[rows] = state.j[at], state.phi[at]
    return resumed(cell, State(j, phi, state.voltage, state.constant))


def on_faces(surface: Surface, panels: Panels, j: Array) -> Array:
    """(m,) A/m2 of the surface's triangles, of j (n,); zero where nothing is plated."""
    return np.where(surface.plated, panels.part.cover.to_faces(a_side(panels, j)), 0.0)


def error(coarse: Panels, fine: Panels, before: Array, after: Array) -> float:
    """Estimated error of the fine level's density, relative to its mean: the levels' mean difference, carried
    on.

    before : (n,) the coarse level's j on the fine panels; after : (n,) their own. Constant panels are wrong
    to first order in their length, which falls as the square root of their number.
    """
    rows = fine.bodies[0]
    weight = area(fine.part.pieces) * (fine.role[rows] == Role.PART)
    change = float(weight @ np.abs(after[rows] - before[rows])) / abs(float(weight @ after[rows]))
    ratio = (len(coarse.part.pieces) / len(fine.part.pieces)) ** 0.5
    return change * ratio / max(1.0 - ratio, 0.1)
