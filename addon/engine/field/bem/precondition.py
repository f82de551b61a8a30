"""An approximate inverse of the mixed problem: restricted additive Schwarz on overlapping neighborhoods of panels.

The panels of a few neighboring leaves of the tree are solved for together with what lies round them, and of that
solution each keeps its own part. Source: X.-C. Cai and M. Sarkis, SIAM J. Sci. Comput. 21 (1999) 792 (from memory).
Before that, densities that are even over large parts of electrodes without kinetics are put right (`coarse`).
What both give is in docs/theory-field.md.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ...linalg.blas import one_thread
from .coarse import CoarseSpace
from .influence import Influence
from .layers import Neighborhood
from .neighborhoods import Neighborhoods

Array = NDArray[np.float64]
Single = NDArray[np.float32]

MAX_WEIGHT_CHANGE = 0.1  # change of the potential's weight in an unknown at which a cached inverse is renewed
MAX_CONDITION = 1e4  # condition number of a block: above it single precision leaves under three digits
MIN_SINGULAR_VALUE = 1e-3  # of a block's largest singular value: weaker directions are left to GMRES


class SchwarzPreconditioner:
    """Inverses of overlapping blocks, made for the slopes of the kinetics that they are asked for first and kept while
    these stay alike: over all solutions on the same panels, whatever their current, law and conductivity.

    A density's column, share phi - D phi + S j with phi = slope j, is P slope + S / kappa = (P w + S (1 - w) / own)
    (kappa slope + own) / kappa, where own is S_ii in meters and w = kappa slope / (kappa slope + own) is from 0,
    primary, to 1, as of an insulator. Blocks are inverted without the last factor, which is exact at any slope.
    """

    def __init__(self, influence: Influence, near: Neighborhoods | None = None) -> None:
        """near : of these panels, where they are known already"""
        self._influence = influence
        self._near = near or Neighborhoods(influence)
        self._groups = self._near.groups
        self._inverse: list[Single | None] = [None] * len(self._groups)
        self._own: list[NDArray[np.intp]] = [np.empty(0, np.intp)] * len(self._groups)
        self._members = list(self._own)
        self._weight = np.full(influence.n, np.nan)
        self._active = np.zeros(influence.n, bool)
        self._primary = np.zeros(influence.n, bool)
        self._coarse: CoarseSpace | None = None

    def inverse(
        self, slope: Array, electrode: NDArray[np.bool_], active: NDArray[np.bool_], conductivity: float
    ) -> Callable[[Array], Array]:
        """For unknowns j on electrodes, where phi = slope j, and phi elsewhere; inactive panels stay as they are.

        slope : (n,) ohm m2; electrode, active : (n,) bool; conductivity : S/m
        """
        own = self._influence.diagonal
        reach = np.where(electrode, conductivity * slope + own, 1.0)
        weight = np.where(electrode, 1.0 - own / reach, 1.0)
        scale = np.where(electrode, conductivity, 1.0) / reach
        with one_thread(), np.errstate(invalid="ignore"):
            fresh = (np.abs(weight - self._weight) <= MAX_WEIGHT_CHANGE) & (active == self._active)
            for k, rows in enumerate(self._groups):
                if not fresh[rows].all():
                    self._invert(k, weight, active)
        blocks = [
            (own, members, inverse)
            for own, members, inverse in zip(self._own, self._members, self._inverse, strict=True)
            if inverse is not None
        ]

        def solve(x: Array) -> Array:
            out, single = x.copy(), x.astype(np.float32)
            with one_thread():
                for own, members, block in blocks:
                    out[own] = block @ single[members] * scale[own]
            return out

        coarse = self._coarse_space(electrode & active & (slope == 0.0))
        return solve if coarse is None else coarse.followed_by(solve, conductivity)

    def _coarse_space(self, primary: NDArray[np.bool_]) -> CoarseSpace | None:
        """That of the electrodes without kinetics, `primary` (n,): kept while they are the same."""
        if not np.array_equal(primary, self._primary):
            self._primary, self._coarse = primary, CoarseSpace.of(self._influence, primary)
        return self._coarse

    def _invert(self, k: int, weight: Array, active: NDArray[np.bool_]) -> None:
        """Make the inverse of one block anew."""
        neighborhood, rows = self._near.of(k), self._groups[k]
        live = np.flatnonzero(active[neighborhood.panels])
        own = int(np.count_nonzero(live < neighborhood.own))
        self._inverse[k] = None
        if own:
            panels = neighborhood.panels[live]
            block = self._block(neighborhood, weight)[np.ix_(live, live)]
            self._own[k], self._members[k] = panels[:own], panels
            self._inverse[k] = inverse(block)[:own].copy()
        self._weight[rows], self._active[rows] = weight[rows], active[rows]

    def _block(self, neighborhood: Neighborhood, weight: Array) -> Single:
        """What the unknowns of a neighborhood, each over its scale, do to Green's identity there."""
        panels, influence = neighborhood.panels, self._influence
        current = (1.0 - weight[panels]) / influence.diagonal[panels]
        potential = influence.potential(neighborhood) * weight[panels].astype(np.float32)
        out: Single = potential + neighborhood.single * current.astype(np.float32)
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
        inverted = np.linalg.inv(scaled)
        sound = bool(np.linalg.norm(scaled, 1) * np.linalg.norm(inverted, 1) < MAX_CONDITION)
    except np.linalg.LinAlgError:
        sound = False
    if not sound:
        left, values, right = np.linalg.svd(scaled)
        regular = values > MIN_SINGULAR_VALUE * values[0]
        # truncated directions pass through, scaled: the preconditioner stays regular
        weight = np.where(regular, 1.0 / np.maximum(values, MIN_SINGULAR_VALUE * values[0]), 1.0)
        inverted = (right.T * weight) @ left.T
    return (inverted / np.outer(scale, scale)).astype(np.float32)
