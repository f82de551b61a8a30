"""Connected pieces of a graph, in numpy alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def connected(count: int, a: NDArray[np.integer], b: NDArray[np.integer]) -> tuple[NDArray[np.int32], int]:
    """Label the connected pieces of `count` nodes joined by the pairs a[i] - b[i].

    a, b : (k,) node indices. Returns (label (count,) int32, number of pieces); pieces are numbered
    in the order of their lowest node.

    Hook and contract: every node hooks to one of its lower (in the next round, higher) neighbors,
    the trees so formed are flattened by pointer doubling, and the pairs that are left join their
    roots. Alternating the direction ends stars of any numbering in two rounds. Each round
    at least halves the pieces that still have neighbors; on a mesh a few rounds do. A round is on the trees that
    the one before has left.
    """
    a, b = a.astype(np.intp), b.astype(np.intp)
    tree, trees = np.arange(count), count
    downward = True
    while len(a):
        low, high = np.minimum(a, b), np.maximum(a, b)
        hook = np.arange(trees)
        if downward:
            hook[high] = low  # any write may win: all are lower, so there is no cycle
        else:
            hook[low] = high
        hook = _flattened(hook)
        number = np.cumsum(hook == np.arange(trees)) - 1
        trees, place = int(number[-1]) + 1, number.take(hook, mode="clip")
        # indices are valid: skip the check
        tree, a, b = (place.take(nodes, mode="clip") for nodes in (tree, low, high))
        apart = a != b
        a, b = a[apart], b[apart]
        downward = not downward
    lowest = np.full(trees, count)
    np.minimum.at(lowest, tree, np.arange(count))
    heads = np.zeros(count, dtype=bool)
    heads[lowest] = True
    number = np.cumsum(heads, dtype=np.int32) - np.int32(1)
    return number[lowest][tree], trees


def _flattened(parent: NDArray[np.intp]) -> NDArray[np.intp]:
    """Every node pointed at the root of its tree."""
    while True:
        grand = parent.take(parent, mode="clip")
        if np.array_equal(grand, parent):
            return parent
        parent = grand
