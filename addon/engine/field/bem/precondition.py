"""An approximate inverse of the mixed problem: neighboring panels solved for together, group by group."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from ...linalg.blas import one_thread
from .influence import Influence

Array = NDArray[np.float64]
Single = NDArray[np.float32]


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
                rows, block = rows[kept], block[np.ix_(kept, kept)]
            yield rows, _inverse(block)


def _inverse(block: Single) -> Single:
    """Of its diagonal alone where it has none: panels that lie on each other are the same panel twice."""
    try:
        found = np.linalg.inv(block)
    except np.linalg.LinAlgError:
        found = np.full_like(block, np.inf)
    return found if np.isfinite(found).all() else np.diag(1.0 / block.diagonal())
