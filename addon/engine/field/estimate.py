"""An estimate of the density's error on the finer of two levels, from its own panels and from the coarser level.

A panel's density and those round it make it linear there; at a corner the panels that meet do not agree. That misfit
has the size of the error, in smooth places and at edges, whatever the order of convergence. It misses errors common
to neighbors: a hole paneled too narrow, a coat's loss that coarse panels get wrong. The difference of the levels
shows those. So the coarser level's misfit is compared with its true difference from the finer level, and the finer
misfit is scaled by the same ratio. (Averaging estimators: M. Feischl et al., Adaptive boundary element methods,
arXiv:1402.0744; O. C. Zienkiewicz and J. Z. Zhu, Int. J. Numer. Methods Eng. 24 (1987) 337; both from memory.)
"""

from __future__ import annotations

import numpy as np

from ..tank.body import Role
from .panels import Panels
from .pieces import Array, area, barycentric, dot, nearest, normals, within
from .refine import a_side

ERROR_OVER_MISFIT = 1.3  # safety factor, so that most errors are covered: measured, see docs/theory-field.md
MAX_KNOWN_ERROR = 0.4  # above it the panels are too coarse for an estimate


def error(coarse: Panels, fine: Panels, before: Array, after: Array) -> float | None:
    """Estimated error of the density at the fine level, linear on its pieces, mean by area over its mean.

    None, unknown, where the fine level has no more pieces, because two levels of the same pieces tell nothing; and
    where it would be above MAX_KNOWN_ERROR.

    before, after : (n,) j of the panels of the coarse and of the fine level
    """
    if len(fine.part.pieces) <= len(coarse.part.pieces):
        return None
    rough, own, apart = misfit(coarse, before), misfit(fine, after), difference(coarse, fine, before, after)
    estimate = ERROR_OVER_MISFIT * own * max(1.0, apart / rough) if rough > 0.0 else apart
    return estimate if estimate <= MAX_KNOWN_ERROR else None


def misfit(panels: Panels, j: Array) -> float:
    """Mean disagreement, by area, of plated pieces that meet on the density, over its mean. j : (n,) of panels"""
    plated, density = _plated(panels), a_side(panels, j)
    weight = area(panels.part.pieces[plated])
    return float(weight @ panels.part.cover.ends.misfits(density)[plated]) / abs(float(weight @ density[plated]))


def difference(coarse: Panels, fine: Panels, before: Array, after: Array) -> float:
    """Of the densities of two levels in the middles of the fine one's plated pieces, mean by area over the fine one's
    mean. before, after : (n,) j of the panels
    """
    plated = _plated(fine)
    pieces, known = fine.part.pieces[plated], coarse.part.pieces
    middle, density, weight = pieces.mean(axis=1), a_side(fine, after)[plated], area(pieces)
    at = nearest(middle, normals(pieces), known.mean(axis=1), normals(known))
    ends = coarse.part.cover.ends.of_values(a_side(coarse, before))
    read = dot(ends[at], within(barycentric(middle, known[at])))
    return float(weight @ np.abs(density - read)) / abs(float(weight @ density))


def _plated(panels: Panels) -> Array:
    """(p,) which pieces of the first copy are plated."""
    return panels.role[panels.bodies[0]] == Role.PART
