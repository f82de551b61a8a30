"""The sizing function of panels: small in slots, near anodes and where a coarser solution asks for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..geometry import morton
from .pieces import MAX_REFINEMENT_RATIO, Array, Sizes, distance, nearest, normals

# a panel is no longer than this share of the distance to the other electrode, or to a wall opposite
MAX_PANEL_OVER_GAP = 0.6
PLACES_A_BLOCK = 64  # neighboring places whose neighbors are searched together


@dataclass(frozen=True, eq=False)
class Hint:
    """Panel sizes of the part as wanted by a coarser solution.

    centroid, normal : (p, 3) of its pieces in model coordinates; size : (p,) over the even size
    face : (m,) the same on the surface's faces, zero where they are dry
    """

    centroid: Array
    normal: Array
    size: Array
    face: Array


def beside(near: Array, even: float) -> Sizes:
    """Sizes on a body, small where it comes near points (k, 3) of other things. even : m, of panels of equal size"""

    def wanted(places: Array) -> Array:
        return np.clip(MAX_PANEL_OVER_GAP * distance(places, near), even / MAX_REFINEMENT_RATIO, 2.0 * even)

    return wanted


def on_part(anodes: Array, even: float, hint: Hint | None) -> Sizes:
    """Sizes on the part: from the coarser solution, or small in slots and holes; and small near anodes."""

    def wanted(places: Array) -> Array:
        middle = places.mean(axis=1)
        normal = normals(places)
        if hint is None:
            size = np.minimum(2.0 * even, MAX_PANEL_OVER_GAP * _gaps(middle, normal, 4.0 * even))
        else:
            size = even * hint.size[nearest(middle, normal, hint.centroid, hint.normal)]
        return np.clip(
            np.minimum(size[:, None], MAX_PANEL_OVER_GAP * distance(places, anodes)), even / MAX_REFINEMENT_RATIO, None
        )

    return wanted


def _gaps(middle: Array, normal: Array, most: float) -> Array:
    """How far each place (n, 3) is from a place that faces it across the liquid, (n,) meters, at most
    `most`.
    """
    middle = middle - middle.mean(axis=0)
    square, along = (middle**2).sum(axis=1), (middle * normal).sum(axis=1)
    out = np.full(len(middle), most)
    order = morton.order(middle)
    for start in range(0, len(order), PLACES_A_BLOCK):
        part = order[start : start + PLACES_A_BLOCK]
        low, high = middle[part].min(axis=0) - most, middle[part].max(axis=0) + most
        near = np.flatnonzero(((middle >= low) & (middle <= high)).all(axis=1))
        apart = np.maximum(square[part, None] + square[near] - 2.0 * middle[part] @ middle[near].T, 0.0)
        ahead = normal[part] @ middle[near].T - along[part, None]
        facing = (normal[part] @ normal[near].T < -0.2) & (ahead > 0.0) & (ahead**2 > 0.25 * apart)
        out[part] = np.minimum(out[part], np.sqrt(np.where(facing, apart, np.inf).min(axis=1)))
    return out
