"""Groups of neighboring panels, each with the panels round it, and the local equations of each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...linalg.blas import one_thread
from .influence import Influence
from .layers import Neighborhood

NEIGHBORHOOD_PANELS = 112  # solved for together: the work grows as its square, over the panels
OWN_PANELS = 48  # of these, that take their solution from there
MAX_CACHED_PANELS = 5000  # of a level whose neighborhoods are kept, 2 kB a panel: many solutions invert them anew
MAX_UNRESOLVED_SHARE = 0.01  # of the area: where more is, the whole is too coarse, and nothing is left out


class Neighborhoods:
    """Those that part the panels; a small level's are kept."""

    def __init__(self, influence: Influence) -> None:
        self._influence = influence
        self.groups = influence.groups(OWN_PANELS)
        self._by_leaf: dict[int, Neighborhood] = {}

    def of(self, k: int) -> Neighborhood:
        """That of a group: its own panels first."""
        if k in self._by_leaf:
            return self._by_leaf[k]
        neighborhood = self._influence.neighborhood(self.groups[k], NEIGHBORHOOD_PANELS)
        if self._influence.n <= MAX_CACHED_PANELS:
            self._by_leaf[k] = neighborhood
        return neighborhood


def unresolved(
    influence: Influence, near: Neighborhoods, wet: NDArray[np.bool_], asked: NDArray[np.bool_]
) -> list[int]:
    """Panels whose own resistance comes out negative, worst of their neighborhood first; none where they are many.

    With P = share - D and S of a neighborhood, P^-1 S gives its potentials from its densities. In liquid, current
    into a panel raises the potential beside it, whatever else is there. Where panels are closer than they are wide,
    in folds, walls and flakes, collocation at centroids may give the opposite sign. Then the equations have several
    solutions, with densities of many times the mean and of both signs. Without that panel, its neighbors behave again.
    wet, asked : (n,) bool, active panels, and those of them that may be returned
    """
    leaves: list[int] = []
    with one_thread():
        for k, rows in enumerate(near.groups):
            if asked[rows].any():
                leaves += _unresolved(influence, near.of(k), wet, asked, leaves)
    area = influence.area
    return leaves if area[leaves].sum() <= MAX_UNRESOLVED_SHARE * area[asked].sum() else []


def _unresolved(
    influence: Influence, near: Neighborhood, wet: NDArray[np.bool_], asked: NDArray[np.bool_], gone: list[int]
) -> list[int]:
    """The unresolved panels of one group. gone : those found in other groups"""
    panels = near.panels
    leaves: list[int] = []
    potential, single = influence.potential(near).astype(float), near.single.astype(float)
    left = wet[panels]
    without = np.flatnonzero(np.isin(panels, gone))
    while True:
        potential[np.diag_indices(len(panels))] += potential[:, without].sum(
            axis=1
        )  # a constant potential carries no current
        left[without] = False
        remaining = np.flatnonzero(left)
        own = remaining[remaining < near.own]
        if not asked[panels[own]].any():
            return leaves
        try:
            rows = np.linalg.solve(potential[np.ix_(remaining, remaining)].T, np.eye(len(remaining), len(own)))
        except np.linalg.LinAlgError:
            return leaves
        resistance = np.einsum("ji,ji->i", rows, single[np.ix_(remaining, own)]) / influence.diagonal[panels[own]]
        resistance[~asked[panels[own]]] = np.inf
        worst = int(np.argmin(resistance))
        if resistance[worst] >= 0.0:
            return leaves
        without = own[worst : worst + 1]
        leaves.append(int(panels[without[0]]))
