"""The level at which each basin spills into the open: the minimax pass over all ways out, for all basins at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def minimax_passes(count: int, a: NDArray[np.intp], b: NDArray[np.intp], opened: NDArray[np.intp]) -> NDArray[np.intp]:
    """The pass that decides how much each basin holds.

    count : basins; a, b : (p,) the two basins that each pass joins, the passes listed by rising height;
    opened : basins that are open. Returns (count,) the number of the lowest pass on the highest way out of
    each basin: p for open basins, -1 where there is no way out.

    Boruvka's rounds: each basin is merged along its own highest pass, until none is left. Along such passes
    the levels only rise, so the way out of a basin is as high as the lower of its own highest pass and the
    way out of the piece that it was merged into.
    """
    passes = len(a)
    own: list[NDArray[np.intp]] = []
    piece: list[NDArray[np.intp]] = []
    free = np.ones(count, dtype=bool)
    free[opened] = False
    number = np.arange(passes)
    while True:
        best = np.full(count, -1)
        best[a] = number  # the last write wins: the highest pass
        other = np.full(count, -1)
        other[b] = number
        best = np.maximum(best, other)
        best[~free] = -1
        merge = np.flatnonzero(best >= 0)
        if not len(merge):
            break
        at = np.searchsorted(number, best[merge])
        parent = np.arange(count)
        parent[merge] = np.where(a[at] == merge, b[at], a[at])
        pair = merge[(parent[parent[merge]] == merge) & (merge < parent[merge])]
        parent[pair] = pair  # of two basins that chose the same pass, one stays as the root
        while True:
            further = parent[parent]
            if np.array_equal(further, parent):
                break
            parent = further
        roots = np.flatnonzero(parent == np.arange(count))
        label = np.empty(count, dtype=np.intp)
        label[roots] = np.arange(len(roots))
        label = label[parent]
        own.append(np.where(best < 0, passes, best))
        piece.append(label)
        count = len(roots)
        free = free[roots]
        a, b = label[a], label[b]
        apart = a != b
        a, b, number = a[apart], b[apart], number[apart]
    way_out = np.where(free, -1, passes)
    for best, label in zip(reversed(own), reversed(piece), strict=True):
        way_out = np.minimum(best, way_out[label])
    return way_out
