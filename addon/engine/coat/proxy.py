"""A coarse copy of a sheet, small enough for dense matrices.

Points are paired repeatedly into patches (pairwise aggregation). The conductance between two patches is such that a
linear potential drives the same current across their border as on the fine sheet: each crossing conductance counts by
the ratio of its span to the distance between the patches' centers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..linalg.matching import pairwise_aggregation
from ..linalg.sparse import Graph, Index, Vector, added
from ..progress import Progress, Step
from .sheet import Sheet

MIN_COUPLING_SHARE = 0.05  # of the sum of the conductances that cross a border, against patches of odd shapes


@dataclass(frozen=True, eq=False)
class AggregatedNetwork:
    """Patches of a sheet as a network of one ohm a square.

    patch : (v,) the patch of each point of the sheet; graph : conductances between patches
    area : (n,) m2 of plated coat; middle : (n, 3) meters; piece : (n,) piece of coat
    """

    patch: Index
    graph: Graph
    area: Vector
    middle: Vector
    piece: Index

    def collected(self, current: Vector) -> Vector:
        """(n,) sums over the patches of a current (v,) into the sheet's points."""
        return added(self.patch, current, len(self.area))


def build(sheet: Sheet, patches: int, pads: Sequence[Index] = ()) -> Progress[AggregatedNetwork]:
    """Pair until at most `patches` are left, or nothing more can be paired.

    pads : the points under each wire, which are kept apart from all others and hold one potential up to the pad's rim
    """
    random = np.random.default_rng(20)
    graph = sheet.graph
    pad = np.full(graph.count, -1)
    for k, covered in enumerate(pads):
        pad[covered] = k
    if len(pads):
        alike = pad[graph.low] == pad[graph.high]
        graph = Graph(graph.count, graph.low[alike], graph.high[alike], graph.weight[alike])
    patch = np.arange(graph.count)
    while graph.count > patches and len(graph.low):
        yield Step(1.0 - patches / graph.count, "Making a coarse copy of the coat")
        number, count = pairwise_aggregation(graph, graph.rows(), np.zeros(graph.count), random)
        if count == graph.count:
            break
        patch = number[patch]
        graph = graph.merged(number, count)
    weight = added(patch, sheet.area, graph.count)
    lone = weight <= 0.0  # patches of unplated bridges only
    share = np.where(lone[patch], 1.0, sheet.area)
    total = added(patch, share, graph.count)
    middle = np.stack([added(patch, share * axis, graph.count) / total for axis in sheet.mesh.points.T], axis=1)
    piece = np.empty(graph.count, dtype=np.intp)
    piece[patch] = sheet.piece
    return AggregatedNetwork(patch, _coarse(sheet, patch, middle, pad >= 0), weight, middle, piece)


def _coarse(sheet: Sheet, patch: Index, middle: Vector, held: NDArray[np.bool_]) -> Graph:
    fine, points = sheet.graph, sheet.mesh.points
    a, b = patch[fine.low], patch[fine.high]
    cross = np.flatnonzero(a != b)
    a, b, weight = a[cross], b[cross], fine.weight[cross]
    # to a pad it is as far as to its rim
    ends = [
        np.where(held[end][:, None], points[end], middle[patch[end]]) for end in (fine.low[cross], fine.high[cross])
    ]
    between = ends[1] - ends[0]
    span = points[fine.high[cross]] - points[fine.low[cross]]
    square = np.einsum("ij,ij->i", between, between)
    part = np.einsum("ij,ij->i", span, between) / np.maximum(square, 1e-300)
    even = Graph.of(a, b, weight * part, len(middle))
    stiff = Graph.of(a, b, weight, len(middle))
    return Graph(even.count, even.low, even.high, np.maximum(even.weight, MIN_COUPLING_SHARE * np.abs(stiff.weight)))
