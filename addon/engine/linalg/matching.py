"""Pairwise aggregation along the strongest connections of a graph: the step of every coarsening."""

from __future__ import annotations

import numpy as np

from .sparse import Graph, Index, Vector

MATCHING_TRIES = 2  # tries of one matching
BLUR = 0.2  # of a strength: on even meshes all are equal, and few points would choose each other
MIN_STRENGTH = 0.06  # of each end's diagonal: a weaker connection does not join


def pairwise_aggregation(
    graph: Graph, rows: tuple[Index, Index, Index], hold: Vector, random: np.random.Generator
) -> tuple[Index, int]:
    """Pair each point with the strongest free neighbor that also chooses it; a leftover point joins a pair.

    Returns the pair of each point, and how many there are.
    """
    starts, ends, pairs = rows
    n, own = graph.count, np.arange(graph.count)
    strength = graph.weight * (1.0 + BLUR * random.random(len(graph.weight)))
    row = np.repeat(own, np.diff(starts))
    strong = strength >= MIN_STRENGTH * np.minimum(hold[graph.low], hold[graph.high])
    strong_pairs = np.flatnonzero((strong & (strength > 0.0))[pairs])
    row, end, strength = row[strong_pairs], ends[strong_pairs], strength[pairs[strong_pairs]]
    head, free = own.copy(), np.ones(n, dtype=bool)
    r, e, s = row, end, strength
    for _ in range(MATCHING_TRIES):
        choice = _strongest(n, r, e, s)
        paired = np.flatnonzero((choice < own) & (choice >= 0))
        paired = paired[choice[choice[paired]] == paired]
        head[paired] = choice[paired]
        free[paired] = free[choice[paired]] = False
        left = np.flatnonzero(free[r] & free[e])
        r, e, s = r[left], e[left], s[left]
    # a leftover point joins a pair strongly connected to it, and never links two heavy ones
    joins = np.flatnonzero(free[row] & ~free[end] & (strength >= MIN_STRENGTH * hold[row]))
    choice = _strongest(n, row[joins], end[joins], strength[joins])
    late = np.flatnonzero(choice >= 0)
    head[late] = head[choice[late]]
    heads = head == own
    number = np.cumsum(heads) - 1
    return number[head], int(number[-1]) + 1


def _strongest(n: int, row: Index, end: Index, strength: Vector) -> Index:
    """(n,) the strongest neighbor of each point, -1 where it has none. row : (k,) in rising order."""
    choice = np.full(n, -1)
    is_best = np.flatnonzero(strength == _best(n, row, strength)[row])
    choice[row[is_best]] = end[is_best]
    return choice


def _best(n: int, row: Index, strength: Vector) -> Vector:
    """(n,) the greatest strength at each point, zero where it has no neighbor. row : (k,) in rising order."""
    best = np.zeros(n)
    if len(row):
        new = np.flatnonzero(np.concatenate([[True], row[1:] != row[:-1]]))
        best[row[new]] = np.maximum.reduceat(strength, new)
    return best
