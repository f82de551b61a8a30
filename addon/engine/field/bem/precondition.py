"""An approximate inverse of the mixed problem: restricted additive Schwarz on overlapping neighborhoods of panels.

The panels of a few neighboring leaves of the tree are solved for together with what lies round them, and of that
solution each keeps its own part. Source: X.-C. Cai and M. Sarkis, SIAM J. Sci. Comput. 21 (1999) 792 (from memory).
What overlap gives is in docs/theory-field.md.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ...linalg.blas import one_thread
from .influence import Influence
from .layers import Neighborhood

Array = NDArray[np.float64]
Single = NDArray[np.float32]

NEIGHBORHOOD_PANELS = 112  # solved for together: the work grows as its square, over the panels
OWN_PANELS = 48  # of these, that take their solution from there
MAX_SLOPE_CHANGE = 0.5  # of a block's diagonal, that a kept inverse may be off by
MAX_CONDITION = 1e4  # of a block that is inverted as it is: beyond, single precision leaves fewer than three digits
MIN_SINGULAR_VALUE = 1e-3  # of a block's largest: weaker directions are left alone, GMRES sees to them


class SchwarzPreconditioner:
    """Inverses of overlapping blocks, made for the slopes of the kinetics that they are asked for first and kept while
    these stay alike.
    """

    def __init__(self, influence: Influence, conductivity: float) -> None:
        self._influence, self._conductivity = influence, conductivity
        self._groups = influence.groups(OWN_PANELS)
        self._inverse: list[Single | None] = [None] * len(self._groups)
        self._own: list[NDArray[np.intp]] = [np.empty(0, np.intp)] * len(self._groups)
        self._members = list(self._own)
        self._slope = np.full(influence.n, np.nan)

    def inverse(
        self, slope: Array, electrode: NDArray[np.bool_], active: NDArray[np.bool_]
    ) -> Callable[[Array], Array]:
        """For unknowns j on electrodes, where phi = slope j, and phi elsewhere; inactive panels stay as they are.

        slope : (n,) ohm m2; electrode, active : (n,) bool, the same each time
        """
        slope = np.where(electrode, slope, 1.0)
        own = self._influence.diagonal / self._conductivity
        with one_thread(), np.errstate(invalid="ignore"):
            fresh = np.abs(slope - self._slope) <= MAX_SLOPE_CHANGE * (self._slope + own)
            for k, rows in enumerate(self._groups):
                if not fresh[rows].all():
                    self._invert(k, slope, electrode, active)
        blocks = [
            (own, members, inverse)
            for own, members, inverse in zip(self._own, self._members, self._inverse, strict=True)
            if inverse is not None
        ]

        def solve(x: Array) -> Array:
            out, single = x.copy(), x.astype(np.float32)
            with one_thread():
                for own, members, block in blocks:
                    out[own] = block @ single[members]
            return out

        return solve

    def _invert(self, k: int, slope: Array, electrode: NDArray[np.bool_], active: NDArray[np.bool_]) -> None:
        """Make the inverse of one block anew."""
        found = self._influence.neighborhood(self._groups[k], NEIGHBORHOOD_PANELS)
        kept = np.flatnonzero(active[found.panels])
        own = int(np.count_nonzero(kept < found.own))
        if own:
            panels = found.panels[kept]
            block = self._block(found, slope, electrode)[np.ix_(kept, kept)]
            self._own[k], self._members[k] = panels[:own], panels
            self._inverse[k] = inverse(block)[:own].copy()
        self._slope[self._groups[k]] = slope[self._groups[k]]

    def _block(self, found: Neighborhood, slope: Array, electrode: NDArray[np.bool_]) -> Single:
        """What the unknowns of a neighborhood do to Green's identity there."""
        panels, influence = found.panels, self._influence
        potential = -found.double * influence.double[panels]
        potential[np.diag_indices(len(panels))] += influence.share[panels]
        single = found.single / np.float32(self._conductivity)
        out: Single = potential * slope[panels].astype(np.float32) + single * electrode[panels]
        return out


def inverse(block: Single) -> Single:
    """The inverse of a block, rows and columns scaled; where it is nearly singular, its truncated pseudo-inverse.

    Two faces of a plate that the panels cannot tell apart act alike on all others: only their sum is known, and an
    inverse would blow their difference up to rounding.
    """
    scale = np.sqrt(np.abs(block.diagonal()))
    scale[scale == 0.0] = 1.0
    scaled = block / np.outer(scale, scale)
    try:
        found = np.linalg.inv(scaled)
        sound = bool(np.linalg.norm(scaled, 1) * np.linalg.norm(found, 1) < MAX_CONDITION)
    except np.linalg.LinAlgError:
        sound = False
    if not sound:
        left, values, right = np.linalg.svd(scaled)
        kept = values > MIN_SINGULAR_VALUE * values[0]
        # what is left out is passed on as it comes, scaled: the preconditioner stays regular
        weight = np.where(kept, 1.0 / np.maximum(values, MIN_SINGULAR_VALUE * values[0]), 1.0)
        found = (right.T * weight) @ left.T
    return (found / np.outer(scale, scale)).astype(np.float32)
