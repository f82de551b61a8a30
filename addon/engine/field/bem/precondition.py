"""An approximate inverse of the mixed problem: neighboring panels solved for together, group by group."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from ...linalg.blas import one_thread
from .influence import Influence

Array = NDArray[np.float64]
Single = NDArray[np.float32]

MAX_CONDITION = 1e4  # of a block that is inverted as it is: beyond, single precision leaves fewer than three digits
MIN_SINGULAR_VALUE = 1e-3  # of a block's largest: weaker directions are left alone, GMRES sees to them


class LeafBlocks:
    """What the panels of each leaf of the tree do to each other, to be inverted for any slopes of the kinetics.

    The diagonal alone takes half as many products again, or more: 56 for 32 on a part with a deep hole.
    """

    def __init__(self, influence: Influence, conductivity: float) -> None:
        self._rows: list[NDArray[np.intp]] = []
        self._single: list[Single] = []
        self._potential: list[Single] = []  # what the potential of a panel adds: its share less the double layer
        for rows, single, double in influence.leaf_blocks():
            potential = -double * influence.double[rows]
            potential[np.diag_indices(len(rows))] += influence.share[rows]
            self._rows.append(rows)
            self._single.append(single / np.float32(conductivity))
            self._potential.append(potential)

    def inverse(
        self, slope: Array, electrode: NDArray[np.bool_], active: NDArray[np.bool_]
    ) -> Callable[[Array], Array]:
        """For unknowns j on electrodes, where phi = slope j, and phi elsewhere; inactive panels stay as they are.

        slope : (n,) ohm m2; electrode, active : (n,) bool
        """
        with one_thread():
            blocks = list(self._inverted(np.where(electrode, slope, 1.0).astype(np.float32), electrode, active))

        def solve(x: Array) -> Array:
            out = x.copy()
            with one_thread():
                for rows, block in blocks:
                    out[rows] = block @ x[rows]
            return out

        return solve

    def _inverted(
        self, slope: Single, electrode: NDArray[np.bool_], active: NDArray[np.bool_]
    ) -> Iterator[tuple[NDArray[np.intp], Single]]:
        for rows, single, potential in zip(self._rows, self._single, self._potential, strict=True):
            block = potential * slope[rows] + single * electrode[rows]
            if not active[rows].all():
                kept = np.flatnonzero(active[rows])
                if not len(kept):
                    continue
                rows, block = rows[kept], block[np.ix_(kept, kept)]
            yield rows, inverse(block)


def inverse(block: Single) -> Single:
    """The inverse of a block, rows and columns scaled; where it is nearly singular, its truncated pseudo-inverse.

    Two faces of a plate that the panels cannot tell apart act alike on all others: only their sum is known, and an
    inverse would blow their difference up to rounding.
    """
    scale = np.sqrt(np.abs(block.diagonal(), dtype=np.float64))
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
