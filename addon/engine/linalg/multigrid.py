"""Large networks of conductances, solved in numpy alone: conjugate gradients with a K-cycle of aggregation.

The matrix is L + diag(g): the Laplacian of a graph of conductances, and a conductance g >= 0 of each point to ground.
A level's points are matched in pairs along their strongest conductances, several times per level; the
conductance between two aggregates is the sum of those that cross. Such coarse levels are too stiff for smooth
potentials: the K-cycle takes up to two steps of flexible conjugate gradients on each, and the correction that it
brings back is taken more than once (BOOST). The smoother is a Chebyshev polynomial over the upper part of the
spectrum, whose end needs no estimate: with D = (d + sum |w|) / 2 no eigenvalue of D^-1 A exceeds 2 (Gershgorin).

Sources: Y. Notay, Electron. Trans. Numer. Anal. 37 (2010) 123 (matching, K-cycle); D. Braess, Computing 55 (1995) 379
(taking the correction of an aggregation more than once); both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..filled import filled
from ..progress import Progress, Step
from .krylov import Solution
from .matching import pairwise_aggregation
from .sparse import Graph, Index, Product, Vector, added, falling

MAX_DIRECT_POINTS = 200  # points that a dense inverse takes
MATCHINGS_PER_LEVEL = 2  # matchings between one level and the next
BOOST = 1.5  # how many times the correction of the next level is taken
DEGREE = 2  # of the smoothing polynomial, before and after
BAND = (0.4, 2.0)  # eigenvalues of D^-1 A that it damps
SECOND_STEP_RESIDUAL = 0.25  # share of the residual: a first inner step that leaves less needs no second


@dataclass(frozen=True, eq=False)
class _Level:
    """One level: the matrix, the smoother's 1 / D, and the point of the next level that each point goes into.

    coarse : points of the next level, 0 on the last; inverse : dense, on a small last level
    """

    matrix: Product
    smooth: Vector
    aggregate: Index
    coarse: int
    inverse: Vector | None
    work: tuple[Vector, Vector, Vector]


@dataclass(frozen=True, eq=False)
class Hierarchy:
    """A matrix made ready for many solutions. order : (n,) the caller's number of each point."""

    order: Index
    levels: tuple[_Level, ...]

    @property
    def sizes(self) -> tuple[int, ...]:
        """Points on each level, the finest first."""
        return tuple(len(level.smooth) for level in self.levels)


def prepare(graph: Graph, ground: Vector) -> Progress[Hierarchy]:
    """The levels for the matrix L(graph) + diag(ground).

    ground : (n,) conductance of each point to ground, >= 0, and positive somewhere in each connected piece.
    Points that are near each other should have numbers that are near: that is worth a factor of two in time.
    """
    random = np.random.default_rng(20)
    levels: list[_Level] = []
    first = np.empty(0, dtype=np.intp)
    while True:
        yield Step(len(levels) / (1 + len(levels)), filled("Preparing the network: {count} points", count=graph.count))
        rows = graph.rows()
        order = falling(np.diff(rows[0]))
        if levels:
            number = np.empty_like(order)
            number[order] = np.arange(len(order))
            levels[-1] = replace(levels[-1], aggregate=number[levels[-1].aggregate])
        else:
            first = order
        diagonal = ground + graph.sums(graph.weight)
        bound = 0.5 * (diagonal + ground + graph.sums(np.abs(graph.weight)))
        aggregate, coarse = _aggregate(graph, rows, random) if graph.count > MAX_DIRECT_POINTS else (order[:0], graph)
        last = coarse.count == graph.count  # small, or nothing left to pair
        level = _Level(
            Product(rows[0], rows[1], graph.weight[rows[2]], diagonal[order], order),
            1.0 / bound[order],
            order[:0] if last else aggregate[order],
            0 if last else coarse.count,
            _inverse(graph, diagonal, order) if graph.count <= MAX_DIRECT_POINTS else None,
            (np.empty(graph.count), np.empty(graph.count), np.empty(graph.count)),
        )
        levels.append(level)
        if last:
            return Hierarchy(first, tuple(levels))
        ground = added(aggregate, ground, coarse.count)
        graph = coarse


def solve(
    hierarchy: Hierarchy, b: Vector, *, tolerance: float = 1e-6, limit: int = 300, start: Vector | None = None
) -> Progress[Solution]:
    """x with (L + diag(ground)) x = b.

    b, start : (n,) right side and first guess, in the caller's order
    tolerance : of the error beside the solution, both in the energy norm. A step of conjugate gradients takes
    alpha p.r off the squared error, and what is left is less than the last step took, for the steps shrink fast.
    """
    matrix, work = hierarchy.levels[0].matrix, hierarchy.levels[0].work[0]
    b = b[hierarchy.order]
    x = np.zeros_like(b) if start is None else start[hierarchy.order]
    r = matrix.residual(b, x, np.empty_like(b))
    norm = float(np.linalg.norm(b))
    p, image = np.zeros_like(b), np.empty_like(b)
    power, count, first = 1.0, 0, 0.0
    converged = norm == 0.0 or not r.any()
    while not converged and count < limit:
        z = _cycle(hierarchy.levels, 0, r)
        if count:
            z -= np.multiply(p, float(z @ image) / power, out=work)
        p = z
        matrix.apply(p, image)
        power = float(p @ image)
        if not power > 0.0:
            break
        step = float(p @ r) / power
        x += np.multiply(p, step, out=work)
        r -= np.multiply(image, step, out=work)
        count += 1
        gain = step * step * power
        first = max(first, gain)
        goal = max(tolerance**2 * abs(float(b @ x)), 1e-300)
        converged = gain <= goal
        way = np.log(first / max(gain, goal)) / max(np.log(first / goal), 1e-12)
        yield Step(float(np.clip(way, 0.0, 1.0)), filled("Solving for the potential: step {count}", count=count))
    out = np.empty_like(x)
    out[hierarchy.order] = x
    residual = float(np.linalg.norm(r)) / norm if norm else 0.0
    return Solution(out, residual, count, bool(converged))


def _inverse(graph: Graph, diagonal: Vector, order: Index) -> Vector:
    full = np.diag(diagonal)
    full[graph.low, graph.high] = full[graph.high, graph.low] = -graph.weight
    return np.linalg.inv(full[np.ix_(order, order)])


def _cycle(levels: tuple[_Level, ...], depth: int, r: Vector) -> Vector:
    """An approximation of A^-1 r on one level."""
    level = levels[depth]
    if level.inverse is not None:
        return level.inverse @ r
    x = _smooth(level, r, None)
    if level.coarse:
        left = level.matrix.residual(r, x, level.work[0])
        correction = _correction(levels, depth + 1, added(level.aggregate, left, level.coarse))
        x += correction.take(level.aggregate, out=left, mode="clip")
    return _smooth(level, r, x)


def _correction(levels: tuple[_Level, ...], depth: int, r: Vector) -> Vector:
    """BOOST A^-1 r on one level, by one or two steps of flexible conjugate gradients."""
    level = levels[depth]
    c = _cycle(levels, depth, r)
    if level.inverse is not None:
        return BOOST * c
    v = level.matrix.apply(c, np.empty_like(c))
    rho = float(c @ v)
    if not rho > 0.0:
        return c
    alpha = float(c @ r) / rho
    left = r - alpha * v
    if float(left @ left) <= SECOND_STEP_RESIDUAL**2 * float(r @ r):
        return (BOOST * alpha) * c
    d = _cycle(levels, depth, left)
    w = level.matrix.apply(d, level.work[0])
    gamma = float(d @ v)
    second = float(d @ w) - gamma * gamma / rho
    if not second > 0.0:
        return (BOOST * alpha) * c
    beta = float(d @ left) / second
    return (BOOST * (alpha - gamma * beta / rho)) * c + (BOOST * beta) * d


def _smooth(level: _Level, r: Vector, x: Vector | None) -> Vector:
    """DEGREE steps of Chebyshev's iteration for A x = r over BAND, from x (which changes), or from zero."""
    _, left, move = level.work
    middle, half = (BAND[1] + BAND[0]) / 2, (BAND[1] - BAND[0]) / 2
    ratio = half / middle
    if x is None:
        np.multiply(level.smooth, r, out=move)
        move *= 1.0 / middle
        x = move.copy()
    else:
        np.multiply(level.smooth, level.matrix.residual(r, x, left), out=move)
        move *= 1.0 / middle
        x += move
    for _ in range(DEGREE - 1):
        level.matrix.residual(r, x, left)
        left *= level.smooth
        following = 1.0 / (2.0 * middle / half - ratio)
        left *= 2.0 * following / half
        move *= following * ratio
        move += left
        x += move
        ratio = following
    return x


def _aggregate(graph: Graph, rows: tuple[Index, Index, Index], random: np.random.Generator) -> tuple[Index, Graph]:
    """The aggregate of each point after MATCHINGS_PER_LEVEL matchings, and the graph of the aggregates.

    Two aggregates join only where the conductance between them is not small beside the smoother's diagonal over both:
    their relative motion is then left to the smoother instead of the next level.
    """
    whole, hold = np.arange(graph.count), graph.sums(np.abs(graph.weight))
    for again in range(MATCHINGS_PER_LEVEL):
        number, count = pairwise_aggregation(graph, graph.rows() if again else rows, hold, random)
        whole, graph, hold = number[whole], graph.merged(number, count), added(number, hold, count)
    return whole, graph
