"""Symmetric sparse graphs and their products with vectors, in numpy alone.

A product runs over "slots": the first neighbor of every point, then the second of those that have one, and so
on. With the points in order of falling degree each slot is one gather, one multiplication and one subtraction over
a prefix, within two or three times of compiled code; the remaining entries of a few points go through `bincount`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
Index = NDArray[np.intp]

MIN_SLOT_SHARE = 0.02  # of the points: slots that fewer points fill are handled together


@dataclass(frozen=True, eq=False)
class Graph:
    """Undirected weighted graph: each pair once, low < high, sorted by low and then high.

    count : number of points; low, high : (e,) points; weight : (e,) conductance of each pair
    """

    count: int
    low: Index
    high: Index
    weight: Vector

    @classmethod
    def of(cls, a: NDArray[np.integer], b: NDArray[np.integer], weight: Vector, count: int) -> Graph:
        """From pairs in any order and direction; repeated pairs add up, a point's pairs with itself are dropped."""
        keep = np.flatnonzero(a != b)
        a, b, weight = a[keep], b[keep], weight[keep]
        bits = int(count).bit_length()
        key = np.minimum(a, b).astype(np.intp)
        key <<= bits
        key |= np.maximum(a, b)
        order, key = sorted_keys(key, 2 * bits)
        first = np.empty(len(key), dtype=bool)
        first[:1] = True
        np.not_equal(key[1:], key[:-1], out=first[1:])
        start = np.flatnonzero(first)
        key = key[start]
        total = np.add.reduceat(weight[order], start) if len(start) else weight
        return cls(count, key >> bits, key & ((1 << bits) - 1), total)

    def degree(self) -> Index:
        """(count,) neighbors of each point."""
        return np.bincount(self.low, minlength=self.count) + np.bincount(self.high, minlength=self.count)

    def sums(self, value: Vector) -> Vector:
        """(count,) sum at each point of a value (e,) of its pairs."""
        return added(self.low, value, self.count) + added(self.high, value, self.count)

    def rows(self) -> tuple[Index, Index, Index]:
        """(starts (count + 1,), ends (2e,), pairs (2e,)): each point's neighbors, and by which pair."""
        below, above = np.bincount(self.high, minlength=self.count), np.bincount(self.low, minlength=self.count)
        starts = np.concatenate([[0], np.cumsum(below + above)])
        order, high = sorted_keys(self.high, int(self.count).bit_length())
        rank = np.arange(len(high))
        # lower neighbors first, then higher: both lists are sorted already and only want spreading
        lower = rank + (np.cumsum(above) - above)[high]
        upper = rank + np.cumsum(below)[self.low]
        ends, pairs = np.empty(2 * len(high), dtype=np.intp), np.empty(2 * len(high), dtype=np.intp)
        ends[lower], ends[upper] = self.low[order], self.high
        pairs[lower], pairs[upper] = order, rank
        return starts, ends, pairs

    def merged(self, number: Index, count: int) -> Graph:
        """Point i called number[i]: points of one number become one, and pairs within it vanish."""
        return Graph.of(number[self.low], number[self.high], self.weight, count)


class Product:
    """The matrix diag(d) - W of a graph W, its points in order of falling degree."""

    def __init__(self, starts: Index, ends: Index, weights: Vector, diagonal: Vector, order: Index) -> None:
        """starts, ends, weights : rows of the graph in its own numbers; order : (n,) the number of each point here;
        diagonal : (n,) in the order here."""
        degree = np.diff(starts)[order]
        if (degree[1:] > degree[:-1]).any():
            raise ValueError("the points of a Product stand in order of falling degree")
        number = np.empty_like(order)
        number[order] = np.arange(len(order))
        self.diagonal = diagonal
        self._part = np.empty(len(diagonal))
        self._slots: list[tuple[Index, Vector]] = []
        most = int(degree.max(initial=0))
        filled = len(degree) - np.searchsorted(degree[::-1], np.arange(most + 1), side="right")
        for rows in filled[:-1]:
            if rows < MIN_SLOT_SHARE * len(degree):
                break
            place = starts[order[:rows]] + len(self._slots)
            self._slots.append((number[ends[place]], weights[place]))
        slot_count = len(self._slots)
        self._long = int(filled[slot_count])  # points with more neighbors than there are slots
        more = degree[: self._long] - slot_count
        self._row = np.repeat(np.arange(self._long), more)
        place = np.arange(len(self._row)) - np.repeat(np.cumsum(more) - more, more)
        place += starts[order[self._row]] + slot_count
        self._ends, self._weights = number[ends[place]], weights[place]

    def apply(self, x: Vector, out: Vector) -> Vector:
        """out = A x."""
        np.multiply(self.diagonal, x, out=out)
        for ends, weights in self._slots:
            part = self._part[: len(ends)]
            x.take(ends, out=part, mode="clip")
            part *= weights
            out[: len(ends)] -= part
        if self._long:
            out[: self._long] -= added(self._row, self._weights * x[self._ends], self._long)
        return out

    def residual(self, b: Vector, x: Vector, out: Vector) -> Vector:
        """out = b - A x, in an array of its own."""
        return np.subtract(b, self.apply(x, out), out=out)


def added(place: Index, value: Vector, count: int) -> Vector:
    """(count,) sums of the values that go to each place."""
    return np.bincount(place, value, count).astype(np.float64, copy=False)


def falling(degree: Index) -> Index:
    """Stable order by falling degree. Almost all degrees fit a byte, for which sorting is a counting sort."""
    if degree.max(initial=0) < 256:
        return np.argsort((255 - degree).astype(np.uint8), kind="stable")
    return np.argsort(-degree, kind="stable")


def sorted_keys(key: Index, bits: int) -> tuple[Index, Index]:
    """Stable order of whole numbers of so many bits, and the numbers so ordered.

    Key and place packed in one number sort about twice as fast as an argsort.
    """
    width = len(key).bit_length()
    if bits + width <= 63:
        packed = key << width
        packed |= np.arange(len(key))
        packed.sort()
        return packed & ((1 << width) - 1), packed >> width
    order = np.argsort(key, kind="stable")
    return order, key[order]
