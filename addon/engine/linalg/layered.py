"""Direct solution of sparse systems on a surface: points in layers, each coupled only to itself and to the next.

Layers are breadth-first distances from a point at the end of the graph, so that the matrix is block tridiagonal. A
surface of n points has some sqrt(n) layers of as many points: elimination takes n^2 operations in place of n^3, a
solution n^1.5.
Source: A. George and J. W. Liu, Computer Solution of Large Sparse Positive Definite Systems, 1981, ch. 4 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .blas import one_thread
from .sparse import Index, Vector, added

MIN_LAYER_POINTS = 24  # thinner layers are merged: numpy's call overhead would dominate


@dataclass(frozen=True, eq=False)
class Layers:
    """Where the entries of matrices of one pattern go.

    order : (n,) points, layer by layer; starts : (k + 1,) where each layer begins in it
    place : (e,) of each entry in the blocks, which lie one after the other: diagonal, above and below it, of each layer
    """

    order: Index
    starts: Index
    place: Index

    @classmethod
    def of(cls, row: Index, column: Index, count: int) -> Layers:
        """For entries at these places (e,), of `count` points; repeated ones add up."""
        order, starts = _layers(row, column, count)
        sizes = np.diff(starts)
        layer, rank = np.empty(count, np.intp), np.empty(count, np.intp)
        layer[order] = np.repeat(np.arange(len(sizes)), sizes)
        rank[order] = np.arange(count) - np.repeat(starts[:-1], sizes)
        after = np.append(sizes[1:], 0)
        blocks = np.stack([sizes**2, sizes * after, after * sizes], axis=1)
        begin = np.concatenate([[0], np.cumsum(blocks)])[:-1].reshape(-1, 3)
        down, across = layer[row], layer[column]
        kind = np.where(down == across, 0, np.where(down < across, 1, 2))
        return cls(order, starts, begin[np.minimum(down, across), kind] + rank[row] * sizes[across] + rank[column])

    def eliminated(self, value: Vector) -> Eliminated:
        """The matrix with the entries `value` (e,), ready to be solved with.

        Blocks are not pivoted against each other: for matrices that are nearly symmetric and positive definite.
        Raises LinAlgError where a block is singular.
        """
        sizes = np.diff(self.starts)
        buffer = added(self.place, value, int((sizes**2).sum() + 2 * (sizes[1:] * sizes[:-1]).sum()))
        inverses: list[Vector] = []
        below: list[Vector] = []
        above: list[Vector] = []
        position = 0
        with one_thread():
            for size, after in pairwise(np.append(sizes, 0)):
                diagonal, high, low = np.split(
                    buffer[position : position + size * (size + 2 * after)], [size * size, size * (size + after)]
                )
                block = diagonal.reshape(size, size)
                if below:
                    block = block - below[-1] @ above[-1]
                inverses.append(np.linalg.inv(block))
                below.append(low.reshape(after, size))
                above.append(inverses[-1] @ high.reshape(size, after))
                position += size * (size + 2 * after)
        return Eliminated(self, inverses, below, above)


@dataclass(frozen=True, eq=False)
class Eliminated:
    """A matrix in layers: the inverse of each layer's Schur complement; the
    coupling of the next layer to it; and the matrix by which a layer's values follow from the next."""

    layers: Layers
    inverses: list[Vector]
    below: list[Vector]
    above: list[Vector]

    def __call__(self, b: Vector) -> Vector:
        """From a right side (n,) to the solution: forward through the layers, and back."""
        x = b[self.layers.order]
        parts = np.split(x, self.layers.starts[1:-1])
        with one_thread():
            for k, part in enumerate(parts):
                part[:] = self.inverses[k] @ (part - self.below[k - 1] @ parts[k - 1] if k else part)
            for k in range(len(parts) - 2, -1, -1):
                parts[k] -= self.above[k] @ parts[k + 1]
        out = np.empty_like(x)
        out[self.layers.order] = x
        return out


def _layers(row: Index, column: Index, count: int) -> tuple[Index, Index]:
    """Points in the order of their layers, and where each layer begins; piece after piece of the graph."""
    both = np.unique(np.concatenate([row * count + column, column * count + row]))
    source, target = both // count, both % count
    starts = np.searchsorted(source, np.arange(count + 1))
    seen = np.zeros(count, bool)
    layers: list[Index] = []
    while not seen.all():
        root = int(seen.argmin())
        end = int(_from(root, starts, target, seen.copy())[-1][0])
        layers += _from(end, starts, target, seen)
    sizes, merged = [0], 0
    for layer in layers:
        merged += len(layer)
        if merged >= MIN_LAYER_POINTS:
            sizes.append(merged)
            merged = 0
    sizes = [*sizes, merged] if merged else sizes
    return np.concatenate(layers), np.cumsum(sizes)


def _from(root: int, starts: Index, target: Index, seen: NDArray[np.bool_]) -> list[Index]:
    """Breadth-first layers from a point, of points that were not seen before; marks them as seen."""
    front = np.array([root])
    seen[root] = True
    layers = []
    while len(front):
        layers.append(front)
        count = starts[front + 1] - starts[front]
        entry = np.arange(count.sum()) + np.repeat(starts[front] - np.cumsum(count) + count, count)
        reached = target[entry]
        front = np.unique(reached[~seen[reached]])
        seen[front] = True
    return layers
