"""Bodies of a part that do not touch: nothing but their wires holds them together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..findings import Finding
from ..units import MM
from . import faults

MIN_APART_M = 0.1 * MM  # less is bridged by coat and metal (common practice, no source)
MIN_BODY_SHARE = 0.005  # of the area, below which a body is a crumb
MAX_BODIES = 200  # more are a cloud of crumbs, whose boxes are not compared


def faults_of_bodies(
    corners: NDArray[np.float64], shell: NDArray[np.integer], area: NDArray[np.float64]
) -> list[Finding]:
    """Bodies whose bounding boxes lie apart. Links of a chain, whose boxes overlap, do not count.

    corners : (m, 3, 3) meters; shell : (m,) of each triangle; area : (m,) m2, 0 where no liquid touches it
    """
    whole = np.bincount(shell, area)
    large = np.flatnonzero(whole > MIN_BODY_SHARE * whole.sum())
    if not 2 <= len(large) <= MAX_BODIES:
        return []
    place = np.full(len(whole), -1)
    place[large] = np.arange(len(large))
    faces = np.flatnonzero((area > 0) & (place[shell] >= 0))
    faces = faces[np.argsort(place[shell[faces]], kind="stable")]
    starts = np.searchsorted(place[shell[faces]], np.arange(len(large)))
    low = np.minimum.reduceat(corners[faces].min(axis=1), starts)
    high = np.maximum.reduceat(corners[faces].max(axis=1), starts)
    near = (low[:, None] <= high[None] + MIN_APART_M).all(axis=2)
    near &= near.T
    for _ in range(len(large).bit_length()):  # transitive closure by squaring
        near = near @ near
    group = near.argmax(axis=1)
    groups = np.unique(group)
    if len(groups) < 2:
        return []
    largest = groups[np.argmax([whole[large[group == first]].sum() for first in groups])]
    return [faults.apart(len(groups), faces[group[place[shell[faces]]] != largest])]
