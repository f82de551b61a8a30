"""Whole stars of points collapsed at once: of all but an independent set, each slides onto a neighbor in this.

That is many more points a pass than `collapse.singly` takes. Collapses that fold a triangle over, join two sheets or
close a neck are undone, and their neighbors are checked again.
"""

from __future__ import annotations

import numpy as np

from ..mesh.topology import sorted_pairs
from .collapse import Bools, Start, independent, spoiled
from .quadric import Ints

MAX_REVERTS = 4  # rounds in which conflicting stars are undone


def by_stars(start: Start) -> Ints:
    """(v,) where each point slides."""
    topology, slides = start.topology, start.slides
    lot = start.lot + np.where(slides.bound, 0.0, 1.0)  # lines keep points of their own
    fixed = independent(np.where(slides.able, lot, np.inf), topology)
    target = slides.target(start, slides.able & ~fixed, fixed)
    slide = np.where(target >= 0, target, np.arange(len(target)))
    crowded = topology.edges[topology.non_manifold_edges]
    heads = np.ones(len(slide), dtype=bool)
    for turn in range(MAX_REVERTS):
        back = clashing(start, crowded, slide, heads)
        if not len(back):
            return slide
        if turn:  # with those round them, so that it soon ends
            back = _with_neighbors(start, back)
        heads = np.zeros(len(slide), dtype=bool)
        heads[back] = heads[slide[back]] = True
        slide[back] = back
    return slide


def _with_neighbors(start: Start, faces: Ints) -> Ints:
    """These points and those they share a triangle with, in rising order."""
    mask = np.zeros(len(start.points), dtype=bool)
    mask[faces] = True
    a, b, c = start.triangles.T
    near = np.zeros(len(mask), dtype=bool)
    near[start.triangles[mask[a] | mask[b] | mask[c]]] = True
    return np.flatnonzero(near)


def clashing(start: Start, crowded: Ints, slide: Ints, heads: Bools) -> Ints:
    """Points that must not slide as they do, for together with others they would fold a triangle over, lay two sheets
    together, or close a neck.

    crowded : (x, 2) edges of more than two triangles that were there before
    heads : (v,) points onto which some slide, or no longer do, since it was looked at last: the rest is as it was
    """
    corners = [slide[corner] for corner in start.triangles.T]
    rows = np.flatnonzero(heads[corners[0]] | heads[corners[1]] | heads[corners[2]])
    a, b, c = (corner[rows] for corner in corners)
    before = start.triangles[rows].T
    alive = (a != b) & (b != c) & (c != a)
    changed = np.flatnonzero(alive & ((a != before[0]) | (b != before[1]) | (c != before[2])))
    first, second, third = (corner[changed].astype(np.intp) for corner in before)
    old = first, second, third
    spoiled_triangles = spoiled(start.columns, old, (a[changed], b[changed], c[changed]))
    wrong = np.zeros(len(slide), dtype=bool)
    for corner in old:
        wrong[corner[spoiled_triangles]] = True
    left = np.stack([a[alive], b[alive], c[alive]], axis=1).astype(np.int32)
    pinched = ~_contractible(start, slide, heads, rows[(a == b) & (b == c)])
    pinched[_crossed(left, slide[crowded], heads)] = True
    return np.flatnonzero((wrong | pinched[slide]) & (slide != np.arange(len(slide))))


def _crossed(triangles: Ints, crowded: Ints, heads: Bools) -> Ints:
    """The ends of edges, (k,), at one of `heads` (v,), where triangles (m, 3) lie on each other, or more than two meet
    that did not before. crowded : (x, 2) edges at which more than two met."""
    begin, end = triangles.reshape(-1), triangles[:, [1, 2, 0]].reshape(-1)
    half, low, high = sorted_pairs(np.minimum(begin, end), np.maximum(begin, end), len(heads))
    same = np.append((low[1:] == low[:-1]) & (high[1:] == high[:-1]), False)  # as the next one
    first = same & ~np.append(False, same[:-1])
    pair = np.flatnonzero(first & (heads[low] | heads[high]))
    crowded_pairs = pair[same[pair + 1]]
    apex = triangles.reshape(-1)[half // 3 * 3 + (half + 2) % 3]
    double = pair[apex[pair] == apex[pair + 1]]
    if len(crowded):
        base = len(heads)
        already_crowded = np.sort(crowded, axis=1).astype(np.int64) @ np.array([base, 1])
        key = low[crowded_pairs].astype(np.int64) * base + high[crowded_pairs]
        crowded_pairs = crowded_pairs[~np.isin(key, already_crowded)]
    rows = np.append(double, crowded_pairs)
    return np.append(low[rows], high[rows])


def _contractible(start: Start, slide: Ints, heads: Bools, flat: Ints) -> Bools:
    """(v,) whether all that slides onto a point of `heads` (v,) may: points, edges and triangles between them are of
    one piece without a hole, by Euler's number. The ring of a neck is not: closed to a point it would pinch the
    surface. It is the link condition of all the edges of a star at once, each of whose points may bar another's.

    flat : (f,) triangles all of whose corners slide onto one such point
    """
    low, high = slide[start.slides.low], slide[start.slides.high]
    number = np.bincount(slide, minlength=len(slide))
    number -= np.bincount(low[low == high], minlength=len(slide))
    number += np.bincount(slide[start.triangles[flat, 0]], minlength=len(slide))
    return (number == 1) | (number == 0) & (slide != np.arange(len(slide))) | ~heads
