"""A tank that a part fits into."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..settings.tank import Tank
from ..units import MM

BESIDE, ABOVE, BELOW, FREEBOARD = 50 * MM, 20 * MM, 20 * MM, 30 * MM  # common practice, no source
STEP = 10 * MM  # sizes are rounded up to it


def roomy(extent: ArrayLike, tank: Tank) -> Tank:
    """A box tank no smaller than this one, with room for a part of that size (3,), meters, and its anodes."""
    length, width, height = np.asarray(extent, dtype=float)
    sizes = (length + 2 * BESIDE, width + 2 * BESIDE, height + ABOVE + BELOW)
    length, width, level = (
        own if own >= need else float(STEP * np.ceil(need / STEP - 1e-9))
        for own, need in zip((*tank.size[:2], tank.level), sizes, strict=True)
    )
    depth = tank.size[2] if tank.size[2] >= level else level + FREEBOARD
    return replace(tank, shape="box", size=(length, width, depth), level=level)
