"""Coincident points of a mesh."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..geometry.triangles import bounds
from ..linalg.labels import connected

ULP = 2.0**-23  # of single precision, relative: files keep coordinates no better
ROWS_AT_ONCE = 1 << 14
PRIMES = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], dtype=np.uint64)


def exact(points: NDArray[np.float64]) -> NDArray[np.intp]:
    """(v,) the first point at exactly the place of each point; the point itself where it is the only one."""
    order, same = _of_one_hash(np.concatenate([row_hash(_bits(rows)) for rows in _batches(points)]))
    if not same.any():
        return np.arange(len(points))  # welded already: the usual case, at the cost of one sort
    first = _first(order, same)
    pairs = zip(_batches(first), _batches(points), strict=True)
    wrong = np.concatenate([(points.take(own, axis=0) != rows).any(axis=1) for own, rows in pairs])
    if wrong.any():  # places with one hash, of millions a pair now and then
        mixed = np.zeros(len(points), dtype=bool)
        mixed[first[wrong]] = True
        alike = np.flatnonzero(mixed[first])
        first[alike] = alike[_first(*_alike(_bits(points[alike])))]
    return first


def _bits(points: NDArray[np.float64]) -> NDArray[np.uint64]:
    return (points + 0.0).view(np.uint64)  # adding 0.0 turns -0 into 0


def _batches(rows: NDArray[Any]) -> list[NDArray[Any]]:
    """Rows that the processor's cache holds at once: what is worked out between has no way to the memory and back."""
    return [rows[start : start + ROWS_AT_ONCE] for start in range(0, max(len(rows), 1), ROWS_AT_ONCE)]


def _first(order: NDArray[np.intp], same: NDArray[np.bool_]) -> NDArray[np.intp]:
    """(n,) the first item that is alike, of each. order, same : as of `_alike`"""
    first = np.empty(len(order), dtype=np.intp)
    heads = np.flatnonzero(np.append(True, ~same))
    first[order] = np.repeat(order[heads], np.diff(np.append(heads, len(order))))
    return first


def near(points: NDArray[np.float64], indices: NDArray[np.intp]) -> NDArray[np.intp]:
    """(v,) the first of the points `indices` that single precision cannot tell from each; others are their own.

    Two points nearer than the tolerance share a cell of at least one of eight grids, of twice the
    tolerance, shifted by half a cell: no pair is lost at the border of a cell.
    """
    low, high = bounds(points)
    tolerance = ULP * max(float(np.linalg.norm(high - low)), float(np.abs([low, high]).max()))
    scaled = (points[indices] - low) / (2.0 * tolerance)
    pairs = []
    for shift in product((0.0, 0.5), repeat=3):
        order, same = _alike(np.floor(scaled + shift).astype(np.int64).view(np.uint64))
        place = np.flatnonzero(same)
        pairs.append(np.stack([order[place], order[place + 1]]))
    group, groups = connected(len(indices), *np.concatenate(pairs, axis=1))
    head = np.full(groups, len(points))
    np.minimum.at(head, group, indices)
    first = np.arange(len(points))
    first[indices] = head[group]
    return first


def compact(
    points: NDArray[np.float64], triangles: NDArray[np.int32], first: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """The mesh on the first points only, without points that no triangle uses."""
    used, heads = np.zeros((2, len(points)), dtype=bool)
    used[triangles] = True
    heads[first[used]] = True
    if heads.all():
        return points, triangles
    number = np.cumsum(heads, dtype=np.int32) - np.int32(1)
    return points[np.flatnonzero(heads)], number[first][triangles]


def _alike(rows: NDArray[np.uint64]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """An order that brings like rows together, lower indices first; and whether items i and i + 1 are alike."""
    return _told_apart(rows, *_of_one_hash(row_hash(rows)))


def _of_one_hash(key: NDArray[np.uint64]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """The same of a hash a row (n,), which is overwritten, where rows of one hash count as alike.

    Sorts one number a row, made of a hash above and the index below: half the time of an argsort.
    """
    index_bits = np.uint64(len(key).bit_length())
    key >>= index_bits
    key <<= index_bits
    key |= np.arange(len(key), dtype=np.uint64)
    key.sort()
    order = (key & ((np.uint64(1) << index_bits) - np.uint64(1))).astype(np.intp)
    key >>= index_bits
    return order, key[1:] == key[:-1]


def _told_apart(
    rows: NDArray[np.uint64], order: NDArray[np.intp], same: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """What `_of_one_hash` found, where rows have been compared."""
    ordered = rows.take(order, axis=0)
    differs = same & _unlike(ordered)
    if differs.any():  # equal hashes, a few pairs among millions: compare the points themselves
        run = np.concatenate([[0], np.cumsum(~same)])
        mixed = np.zeros(run[-1] + 1, dtype=bool)
        mixed[run[1:][differs]] = True
        doubtful = np.flatnonzero(mixed[run])
        again = np.lexsort((order[doubtful], *ordered[doubtful].T, run[doubtful]))
        order[doubtful], ordered[doubtful] = order[doubtful[again]], ordered[doubtful[again]]
        same &= ~_unlike(ordered)
    return order, same


def _unlike(rows: NDArray[np.uint64]) -> NDArray[np.bool_]:
    """(n - 1,) whether each row (n, 3) differs from the next."""
    differs = np.zeros(max(len(rows) - 1, 0), dtype=bool)
    for column in rows.T:
        differs |= column[1:] != column[:-1]
    return differs


def row_hash(rows: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """One number a row, the same for like rows."""
    key = np.zeros(len(rows), dtype=np.uint64)
    for column, prime in zip(rows.T, PRIMES, strict=True):
        key ^= column * prime
        key ^= key >> np.uint64(29)
        key *= PRIMES[1]
    return key ^ key >> np.uint64(32)
