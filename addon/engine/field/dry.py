"""Panels that carry no current, because another lies over them or because they lie inside another body."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from .bem.influence import Influence
from .pieces import Array
from .proximity import MAX_SIZE_OVER_GAP, Pairs

MIN_LIQUID_SHARE = 0.25  # of the sphere: a panel that sees less lies inside another body
SLIT_SIZE_OVER_GAP = 4.0  # of a panel: two gaps deep the current has fallen to exp(-2 pi) of that at the mouth
MIN_COVERED_SHARE = 0.5  # of a panel under smaller ones, from which on it is covered


class Dry(IntEnum):
    """Why no current enters a panel."""

    WET = 0
    BURIED = 1  # inside the solid of another body
    COVERED = 2  # close under another that faces the same way, or under a sheet
    SLIT = 3  # in a gap much narrower than the panel
    MERGED = 4  # one side of a wall much thinner than the panel: the other side's panel stands for both
    UNRESOLVED = 5  # in a fold or a gap that one density a panel cannot resolve: its own resistance comes out negative


def dry_panels(
    influence: Influence, part: NDArray[np.bool_], pairs: Pairs, width: Array, finest: float
) -> NDArray[np.int8]:
    """(n,) Dry of all panels, from the pairs that are too close to count on their own.

    part : (n,) panels of a part: only these become dry; width : (n,) m; finest : m, gaps wider than this stay open
    """
    reasons = np.zeros(influence.n, np.int8)
    body = influence.double
    reasons[body & (influence.share < MIN_LIQUID_SHARE)] = Dry.BURIED
    reasons[~body & part & (influence.share < MIN_LIQUID_SHARE)] = Dry.BURIED  # a sheet inside a body
    i, k = pairs.small, pairs.large
    near = (MAX_SIZE_OVER_GAP * pairs.gap < width[i]) & (pairs.gap < finest) & (reasons[i] == 0) & (reasons[k] == 0)
    i, k, above, faces = i[near], k[near], pairs.above[near], pairs.faces[near]
    thin = SLIT_SIZE_OVER_GAP * pairs.gap[near] < width[i]
    both, loose, under = body[i] & body[k], ~body[i] & ~body[k], np.zeros(influence.n)
    slit = both & above & faces & thin
    small = slit | (both & ~above & faces) | (~body[i] & body[k] & ~above) | (body[i] & ~body[k] & faces) | loose
    large = slit | (both & above & ~faces) | (~body[i] & body[k] & above) | (body[i] & ~body[k] & ~faces)
    reasons[i[small]] = Dry.COVERED
    under += np.bincount(k[large], influence.area[i[large]], influence.n)
    reasons[(under > MIN_COVERED_SHARE * influence.area) & (reasons == 0)] = Dry.COVERED
    slits = np.zeros(influence.n, dtype=bool)
    slits[i[slit]] = slits[k[slit]] = True
    reasons[slits & (reasons == Dry.COVERED)] = Dry.SLIT
    return np.where(part | (reasons == Dry.BURIED), reasons, 0).astype(np.int8)
