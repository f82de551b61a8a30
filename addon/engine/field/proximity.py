"""Panels nearer to another panel than their own size: walls and gaps thinner than panels, folds, crossings.

One density per panel cannot resolve them: the sum that a panel and its close neighbor carry is well determined, the
share of each is not and depends on rounding and coarseness. Each pair is found by its smaller panel, in a grid of
cells as large as the larger one, so that the cost is that of a few sorts.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from .pieces import Array, Ints, area, barycentric, dot, normals, split

MIN_ABOVE_COS = 0.3  # cosine between normals, from which on a panel lies over another
# likewise for the two sides of a wall or a gap; above it they form an edge, however sharp
MAX_OPPOSED_COS = -0.95
# The same where both lie on shells with open edges, whose sharp folds are what a scan made of walls
MAX_RAGGED_OPPOSED_COS = -0.85
# Barycentric: how far inside the larger panel the smaller one's middle projects at least
MIN_OVERLAP_BARYCENTRIC = 0.02
MAX_SIZE_OVER_GAP = 2.0  # of a panel's size: one larger is cut, or does not count on its own
CUT_SIZE_OVER_GAP = 4.0  # of a panel's longest edge: one longer is cut
CLOSED_GAP_SIZE_OVER_FINEST = 4.0  # times the finest: of panels at gaps that are too narrow for any
MAX_MERGED_GAP_OVER_WIDTH = 0.25  # of the larger panel's width: walls thinner than this are one sheet
MAX_MERGED_GAP_OVER_FINEST = 0.5  # of the finest panel: thicker walls keep their two sides
MAX_MERGED_SHARE = 0.02  # of the area
MAX_CUTTING_ROUNDS = 6  # of cutting, each of which halves edges
PAIRS_PER_BATCH = 100_000
LEVELS_AN_OCTAVE = 2  # of the grids that panels of like size are looked for in


@dataclass(frozen=True, eq=False)
class Pairs:
    """Pairs of nearly parallel panels, the middle of `small` over or under `large`, no further than they are wide.

    small, large : (k,) panels; gap : (k,) m between middle and plane
    above : (k,) bool, the middle lies on the side of `large` that its normal points to
    faces : (k,) bool, `large` lies on the side of `small` that its normal points to
    """

    small: Ints
    large: Ints
    gap: Array
    above: NDArray[np.bool_]
    faces: NDArray[np.bool_]

    @property
    def alike(self) -> NDArray[np.bool_]:
        """(k,) the normals point the same way."""
        return self.above != self.faces


def width(pieces: Array) -> Array:
    """(n,) m: the legs of a right triangle, equal ones, of the same area."""
    return np.sqrt(2.0 * area(pieces))


def close_pairs(pieces: Array, reach: float = 1.0, ragged: NDArray[np.bool_] | None = None) -> Pairs:
    """Of panels (n, 3, 3) all pairs whose gap is below `reach` times the width of the larger one.

    ragged : (n,) those of shells with open edges; None: there are none
    """
    middle, facing, wide = pieces.mean(axis=1), normals(pieces), width(pieces)
    opposed = np.full(len(pieces), MAX_OPPOSED_COS)
    if ragged is not None:
        opposed[ragged] = MAX_RAGGED_OPPOSED_COS
    radius = np.sqrt(((pieces - middle[:, None]) ** 2).sum(axis=2).max(axis=1))
    # two panels are looked for in the grid of the larger one: from its middle to a point over it, no further than this
    needed = np.hypot(radius, reach * wide)
    level = np.ceil(LEVELS_AN_OCTAVE * np.log2(needed / needed.min())).astype(np.int64)
    middle0 = middle - middle.min(axis=0)
    pairs: list[tuple[Ints, Ints, Array, Array]] = []
    for step in range(int(level.max()) + 1):
        in_grid = np.flatnonzero(level == step)
        if not len(in_grid):
            continue
        edge = float(needed.min()) * 2.0 ** (step / LEVELS_AN_OCTAVE)
        cell = np.floor(middle0 / edge).astype(np.int64) + 1
        pitch = cell.max(axis=0) + 2
        key = (cell[:, 0] * pitch[1] + cell[:, 1]) * pitch[2] + cell[:, 2]
        order = in_grid[np.argsort(key[in_grid], kind="stable")]
        known = key[order]
        candidates = np.flatnonzero(wide <= wide[in_grid].max())
        for x, y in product((-1, 0, 1), repeat=2):  # three cells in a row along z are one range of keys
            at = key[candidates] + (x * pitch[1] + y) * pitch[2]
            first = np.searchsorted(known, at - 1)
            count = np.searchsorted(known, at + 2) - first
            occupied = np.flatnonzero(count)
            ends = np.cumsum(count[occupied])
            cuts = np.arange(PAIRS_PER_BATCH, int(ends.max(initial=0)), PAIRS_PER_BATCH)
            for part in np.split(occupied, np.searchsorted(ends, cuts)):
                repeats = count[part]
                i = np.repeat(candidates[part], repeats)
                run = np.arange(int(repeats.sum())) - np.repeat(np.cumsum(repeats) - repeats, repeats)
                k = order[np.repeat(first[part], repeats) + run]
                keep = (wide[i] < wide[k]) | ((wide[i] == wide[k]) & (i < k))
                i, k = i[keep], k[keep]
                apart = middle[i] - middle[k]
                near = dot(apart, apart) <= needed[k] ** 2
                pairs.append(_close(i[near], k[near], middle, facing, opposed, reach * wide, pieces))
    if not pairs:
        none = np.zeros(0, dtype=np.intp)
        return Pairs(none, none, np.zeros(0), np.zeros(0, bool), np.zeros(0, bool))
    i, k = (np.concatenate([pair[side] for pair in pairs]) for side in (0, 1))
    height, ahead = (np.concatenate([pair[side] for pair in pairs]) for side in (2, 3))
    return Pairs(i, k, np.abs(height), height > 0.0, ahead > 0.0)


def _close(
    i: Ints, k: Ints, middle: Array, facing: Array, opposed: Array, reach: Array, pieces: Array
) -> tuple[Ints, Ints, Array, Array]:
    """Of candidates (c,), i smaller than k, those that are close: i, k, height of i over k, height of k over i.

    opposed : (n,) cosine between normals, up to which two panels are sides of a wall or a gap; reach : (n,) m
    """
    apart = middle[i] - middle[k]
    height = dot(apart, facing[k])
    cosine = dot(facing[i], facing[k])
    sides = (cosine > MIN_ABOVE_COS) | (cosine < np.minimum(opposed[i], opposed[k]))
    keep = (np.abs(height) < reach[k]) & sides
    i, k, height, cosine = i[keep], k[keep], height[keep], cosine[keep]
    keep = barycentric(middle[i], pieces[k]).min(axis=1) > MIN_OVERLAP_BARYCENTRIC
    i, k, height, cosine = i[keep], k[keep], height[keep], cosine[keep]
    return i, k, height, -height * cosine


def cut_close(
    pieces: Array, origin: Ints, finest: float, most: int, ragged: NDArray[np.bool_] | None = None
) -> tuple[Array, Ints]:
    """Panels cut until they are no larger than a few gaps to the next, as long as there are not more than `most`.

    pieces : (n, 3, 3); origin : (n,) carried along; finest : m, edges are not made shorter; where a gap would need
    shorter ones, panels become so small that what is left out there does not matter; ragged : as of `close_pairs`, by
    what `origin` names
    """
    for _ in range(MAX_CUTTING_ROUNDS):
        pairs = close_pairs(pieces, ragged=None if ragged is None else ragged[origin])
        enough = CUT_SIZE_OVER_GAP * pairs.gap
        enough = np.where(enough < finest, CLOSED_GAP_SIZE_OVER_FINEST * finest, enough)
        enough[pairs.gap > finest] = np.inf  # both sides count, although not sharply
        wanted = np.full(len(pieces), np.inf)
        np.minimum.at(wanted, pairs.small, enough)
        np.minimum.at(wanted, pairs.large, enough)
        edges = pieces - np.roll(pieces, 1, axis=1)
        longest = np.sqrt(np.einsum("ijk,ijk->ij", edges, edges).max(axis=1))
        wanted = np.maximum(wanted, 0.5 * longest)
        large = np.flatnonzero(longest > 1.01 * wanted)
        if not len(large):
            break
        cut, of = split(pieces[large], np.repeat(wanted[large, None], 3, axis=1))
        if len(pieces) + len(cut) - len(large) > most:
            break
        retained = np.ones(len(pieces), dtype=bool)
        retained[large] = False
        pieces, origin = np.concatenate([pieces[retained], cut]), np.append(origin[retained], origin[large][of])
    return pieces, origin


def twins(pieces: Array, pairs: Pairs, finest: float) -> Ints:
    """(n,) for each panel the one that stands for both sides of a wall too thin to tell them apart; else itself.

    finest : m, walls thicker than this are left
    The larger of a pair back to back stands for the smaller. Thinnest walls first, up to a small share of the area: a
    part that is thin all over keeps its two sides, which the current tells apart although not sharply.
    """
    twin, size, wide = np.arange(len(pieces)), area(pieces), width(pieces)
    i, k = pairs.small, pairs.large
    ratio = pairs.gap / np.minimum(MAX_MERGED_GAP_OVER_WIDTH * wide[k], wide[i] / MAX_SIZE_OVER_GAP)
    order = np.flatnonzero(
        ~pairs.above & ~pairs.faces & (ratio < 1.0) & (pairs.gap < MAX_MERGED_GAP_OVER_FINEST * finest)
    )
    order = order[np.argsort(ratio[order], kind="stable")]
    first = np.zeros(len(order), dtype=bool)
    first[np.unique(i[order], return_index=True)[1]] = True
    order = order[np.cumsum(np.where(first, size[i[order]], 0.0)) < MAX_MERGED_SHARE * float(size.sum())]
    i, k = i[order], k[order]
    stands = np.zeros(len(pieces), dtype=bool)
    for _ in range(MAX_CUTTING_ROUNDS):  # the largest stay, what they represent is removed; repeat with the rest
        left = twin[i] == i
        left &= twin[k] == k
        i, k = i[left & ~stands[i]], k[left & ~stands[i]]
        if not len(i):
            break
        smaller = np.zeros(len(pieces), dtype=bool)
        smaller[i] = True
        valid = ~smaller[k]
        twin[i[valid]] = k[valid]
        stands[k[valid]] = True
    return twin
