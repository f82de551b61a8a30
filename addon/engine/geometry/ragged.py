"""Lists of unlike lengths, laid end to end in one array."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def places(count: NDArray[np.integer]) -> NDArray[np.intp]:
    """(n,) place of every item in its own list, from 0. count : (k,) items of each list, n in all

    The list that an item belongs to is `np.repeat(np.arange(len(count)), count)`.
    """
    return np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
