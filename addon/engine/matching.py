"""Points of a graph put together in pairs along its strongest connections: the step of every coarsening."""

from __future__ import annotations

import numpy as np

from .sparse import Graph, Index, Vector

ROUNDS = 3  # tries of one matching
BLUR = 0.2  # of a strength: on even meshes all are equal, and few points would choose each other


def matched(
    graph: Graph, rows: tuple[Index, Index, Index], random: np.random.Generator
) -> tuple[Index, int]:
    """Points in pairs, each with the strongest free neighbour that chooses it too; one left over joins a pair.

    Returns the pair of each point, and how many there are.
    """
    starts, ends, pairs = rows
    n, own = graph.count, np.arange(graph.count)
    strength = (graph.weight * (1.0 + BLUR * random.random(len(graph.weight))))[pairs]
    row = np.repeat(own, np.diff(starts))
    head, free = own.copy(), np.ones(n, dtype=bool)
    r, e, s = row, ends, strength
    for _ in range(ROUNDS):
        open_ = np.flatnonzero(free[r] & free[e] & (s > 0.0))
        r, e, s = r[open_], e[open_], s[open_]
        choice = _strongest(n, r, e, s)
        paired = np.flatnonzero((choice < own) & (choice >= 0))
        paired = paired[choice[choice[paired]] == paired]
        head[paired] = choice[paired]
        free[paired] = free[choice[paired]] = False
    joins = np.flatnonzero(free[row] & ~free[ends] & (strength > 0.0))
    choice = _strongest(n, row[joins], ends[joins], strength[joins])
    late = np.flatnonzero(choice >= 0)
    head[late] = head[choice[late]]
    heads = head == own
    number = np.cumsum(heads) - 1
    return number[head], int(number[-1]) + 1


def _strongest(n: int, row: Index, end: Index, strength: Vector) -> Index:
    """(n,) the strongest neighbour of each point, -1 where it has none. row : (k,) in rising order."""
    best = np.full(n, -1)
    if len(row):
        new = np.flatnonzero(np.concatenate([[True], row[1:] != row[:-1]]))
        top = np.maximum.reduceat(strength, new)
        is_top = strength == np.repeat(top, np.diff(np.append(new, len(row))))
        best[row[is_top]] = end[is_top]
    return best
