"""From a coarse level to a fine one: where panels must be small, and a first guess; and from panels to faces."""

from __future__ import annotations

import numpy as np

from ..mesh.surface import Surface
from .panel_sizes import Hint
from .panels import Panels
from .pieces import Array, area, barycentric, dot, nearest, normals, within
from .problem import Cell, State, resumed

MIN_CARRIED_SHARE = 0.1  # of the geometric mean of the densities, that a first guess has everywhere on the part
MAX_CARRIED_CHANGE = 0.5  # e-folds that the density of a first guess may differ by from that of its coarse piece
TINY_DENSITY = 1e-6  # A/m2, below which the density carries no information
MAX_SIZE_RATIO = 8.0  # the coarsest wanted size over the finest


def a_side(panels: Panels, j: Array) -> Array:
    """(p,) A/m2 on one side of the pieces of the first copy, of the state's j (n,)."""
    rows = panels.bodies[0]
    return (j[rows] / panels.sides[rows])[panels.part.twin]


def hint(panels: Panels, j: Array) -> Hint:
    """Sizes that share the error out evenly, over the even size: a value that is constant on a panel of length h is
    wrong by |grad| h, and the sum of (|grad| h)^2 area is least for a given number of panels where h falls as
    |grad|^(-1/2). The value is the root of the density, so that thin places are not resolved worse than thick ones.
    """
    pieces = panels.part.pieces
    middle = pieces.mean(axis=1)
    normal = normals(pieces)
    slope = panels.part.cover.ends.slopes(np.sqrt(np.maximum(a_side(panels, j), 0.0)))
    steep = np.sqrt(np.einsum("ij,ij->i", slope, slope))
    most = float(steep.max())
    size = np.ones(len(pieces)) if most == 0.0 else np.maximum(steep / most, MAX_SIZE_RATIO**-2) ** -0.5
    weight = area(pieces)
    size *= float(np.sqrt((weight / size**2).sum() / weight.sum()))
    return Hint(middle, normal, size, panels.part.cover.mean(size))


def carried(cell: Cell, fine: Panels, coarse: Panels, state: State) -> State:
    """The coarse level's state on the fine panels, as a first guess.

    On the part the density is read as the exponential of what is linear on the coarse pieces, because it decays into
    hollows that way; its mean over the pieces that read one coarse piece is the coarse density, because a coat
    responds to currents. Negative densities are mostly errors of coarse panels, and Newton's method would need a step
    per e-fold to leave them: none is below MIN_CARRIED_SHARE of the geometric mean, which is far below the mean where
    a coat passes little current.
    """
    j, phi = np.zeros(cell.influence.n), np.zeros(cell.influence.n)
    facing = normals(coarse.corners)
    for rows, before in zip(fine.bodies, coarse.bodies, strict=True):
        sample = before[:: max(1, len(before) // 4000)]
        middle = fine.corners[rows].mean(axis=1)
        before_middle = coarse.corners[sample].mean(axis=1)
        at = sample[nearest(middle, cell.influence.normal[rows], before_middle, facing[sample])]
        j[rows], phi[rows] = state.j[at], state.phi[at]
    copies = len(fine.arrangement.poses)
    for rows, before in zip(fine.bodies[:copies], coarse.bodies[:copies], strict=True):
        j[rows] = _read(fine, coarse, state.j[before]) * fine.sides[rows]
    return resumed(cell, State(j, phi, state.voltage, state.constant))


def _read(fine: Panels, coarse: Panels, j: Array) -> Array:
    """(p,) A/m2 on one side of the fine pieces of one copy, from j (q,) on the coarse ones."""
    known, pieces = coarse.part.pieces, fine.part.pieces
    value = (j / coarse.sides[coarse.bodies[0]])[coarse.part.twin]
    plated, weight = value > TINY_DENSITY, area(known)
    typical = float(np.exp(np.average(np.log(value[plated]), weights=weight[plated]))) if plated.any() else 0.0
    value = np.log(np.maximum(value, max(MIN_CARRIED_SHARE * typical, TINY_DENSITY)))
    middle = pieces.mean(axis=1)
    at = nearest(middle, normals(pieces), known.mean(axis=1), normals(known))
    coarse_density = dot(coarse.part.cover.ends.of_values(value)[at], within(barycentric(middle, known[at])))
    read = np.exp(np.clip(coarse_density, value[at] - MAX_CARRIED_CHANGE, value[at] + MAX_CARRIED_CHANGE))
    covered, carried_there = (np.bincount(at, area(pieces) * of, len(known))[at] for of in (np.ones(len(at)), read))
    return read * np.exp(value[at]) * covered / carried_there


def on_faces(surface: Surface, panels: Panels, j: Array) -> Array:
    """(m,) A/m2 of the surface's triangles, of j (n,); zero where nothing is plated."""
    return np.where(surface.plated, panels.part.cover.to_faces(a_side(panels, j)), 0.0)
