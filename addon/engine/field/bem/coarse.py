"""A coarse space for the panels of electrodes without kinetics: densities that are even over large groups of them.

There a density acts through S alone. The larger the area over which it is even, the more potential it makes, and a
block of panels sees the less of that the finer the panels are. Few such densities hold most of it; their images are
known exactly, so no product is spent on them later.
Source: the coarse correction of a two-level method, in turn with the blocks (B. Smith, P. Bjorstad and W. Gropp, Domain
Decomposition, 1996; from memory). What it gives is in docs/theory-field.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...linalg.blas import one_thread
from .influence import Influence

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.intp]

MIN_GROUP_PANELS = 400  # fewer are seen by the blocks themselves, and a group costs a product of S
MAX_GROUPS = 16


@dataclass(frozen=True, eq=False)
class CoarseSpace:
    """Even densities on groups of panels.

    panels, group : (k,) which panels lie in which group, and the share of its area that each is, share
    images : (n, g) meters, S of a unit density on each group; inverse : (g, g) of their means over the groups
    """

    panels: Ints
    group: Ints
    share: Array
    images: Single
    inverse: Array

    @classmethod
    def of(cls, influence: Influence, rows: NDArray[np.bool_]) -> CoarseSpace | None:
        """Of the panels `rows` (n,); None where they are few."""
        groups = _halved(influence, np.flatnonzero(rows))
        if len(groups) < 2:
            return None
        panels, group = np.concatenate(groups), np.repeat(np.arange(len(groups)), [len(members) for members in groups])
        share = influence.area[panels] / np.bincount(group, influence.area[panels])[group]
        images = np.empty((influence.n, len(groups)), np.float32)
        none = np.zeros(influence.n)
        for k, members in enumerate(groups):
            even = none.copy()
            even[members] = 1.0
            images[:, k] = influence.apply(even, none)
        means = np.stack([np.bincount(group, share * image[panels]) for image in images.T], axis=1)
        return cls(panels, group, share, images, np.linalg.inv(means))

    def followed_by(self, rest: Callable[[Array], Array], conductivity: float) -> Callable[[Array], Array]:
        """The coarse correction, and then what `rest` makes of the potentials that it leaves."""

        def solve(x: Array) -> Array:
            density = self.inverse @ np.bincount(self.group, self.share * x[self.panels])
            with one_thread():
                out = rest(x - self.images @ density.astype(np.float32))
            out[self.panels] += conductivity * density[self.group]
            return out

        return solve


def _halved(influence: Influence, panels: Ints) -> list[Ints]:
    """Panels in groups of about equal area: the largest is cut in two across its length, again and again."""
    groups = [panels]
    for _ in range(1, min(MAX_GROUPS, len(panels) // MIN_GROUP_PANELS)):
        largest = groups.pop(int(np.argmax([influence.area[members].sum() for members in groups])))
        place = influence.centroid[largest]
        along = largest[np.argsort(place[:, int(np.ptp(place, axis=0).argmax())], kind="stable")]
        covered = np.cumsum(influence.area[along])
        half = int(np.searchsorted(covered, 0.5 * covered[-1]))
        groups += [along[:half], along[half:]]
    return groups
