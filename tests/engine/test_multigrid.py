"""The solver of conductance networks against independent direct solvers."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.linalg import spsolve

from addon.engine.linalg import multigrid
from addon.engine.coat import laplacian
from addon.engine.linalg.sparse import Graph, Product, falling, sorted_keys
from addon.engine.progress import run_to_end
from addon.engine.mesh.topology import Topology

import models


def matrix(graph: Graph, ground: np.ndarray) -> scipy.sparse.csc_matrix:
    """L + diag(ground), put together by scipy."""
    low, high, weight = graph.low, graph.high, graph.weight
    off = scipy.sparse.coo_matrix((weight, (low, high)), (graph.count, graph.count))
    off = off + off.T
    return scipy.sparse.csc_matrix(scipy.sparse.diags(np.asarray(off.sum(axis=1)).ravel() + ground) - off)


def on_model(model: models.Model) -> Graph:
    points, faces = model
    return laplacian.network(points, faces, Topology.of(faces, len(points)))


def spread(count: int, seed: int = 0, around: float = 1.0) -> np.ndarray:
    """Positive numbers over several powers of ten."""
    return around * 10.0 ** np.random.default_rng(seed).uniform(-2, 2, count)


def random_graph(count: int, degree: int, seed: int) -> Graph:
    """Connected: a chain in random order and random pairs, conductances over four powers of ten."""
    random = np.random.default_rng(seed)
    order = random.permutation(count)
    a = np.concatenate([order[:-1], random.integers(0, count, degree * count)])
    b = np.concatenate([order[1:], random.integers(0, count, degree * count)])
    return Graph.of(a, b, spread(len(a), seed), count)


def star(count: int) -> Graph:
    """A hub with arms, each of two points."""
    arm = np.arange(1, count, 2)
    return Graph.of(np.concatenate([0 * arm, arm]), np.concatenate([arm, arm + 1]), spread(2 * len(arm)), count)


GRAPHS = {
    "sphere": on_model(models.sphere(1.0, 4)),
    "needles": on_model(models.cylinder(1.0, 10.0, 300, 8)),
    "stretched a hundredfold": on_model(models.moved(models.plate((100, 1), (40, 40)))),
    "random": random_graph(900, 3, 1),
    "star": star(3001),
    "chain": Graph.of(np.arange(2999), np.arange(1, 3000), spread(2999), 3000),
    "small": random_graph(7, 2, 3),
    "without pairs": Graph.of(np.arange(0), np.arange(0), np.zeros(0), 1200),
}


@pytest.mark.parametrize("graph", GRAPHS.values(), ids=GRAPHS)
def test_solution_is_that_of_a_direct_solver(graph):
    """The energy norm of the error beside the solution's, against scipy's SuperLU."""
    ground = np.zeros(graph.count)
    ground[::97] = 1.0
    ground += 0.01 * (len(graph.low) == 0)
    b = np.random.default_rng(5).normal(size=graph.count)
    full = matrix(graph, ground)
    exact = spsolve(full, b)
    found = run_to_end(multigrid.solve(run_to_end(multigrid.prepare(graph, ground)), b, tolerance=1e-8))
    off = found.x - exact
    assert found.converged
    assert np.sqrt((off @ (full @ off)) / (exact @ (full @ exact))) < 1e-7


def test_one_grounded_point_is_enough():
    """A potential is fixed by a single point: the hardest case for an iteration."""
    graph = GRAPHS["sphere"]
    ground = np.zeros(graph.count)
    ground[17] = 1e4
    b = np.full(graph.count, 1.0 / graph.count)
    exact = spsolve(matrix(graph, ground), b)
    found = run_to_end(multigrid.solve(run_to_end(multigrid.prepare(graph, ground)), b, tolerance=1e-6))
    assert np.abs(found.x - exact).max() < 1e-5 * exact.max()
    assert found.iterations < 25


def test_iterations_hardly_grow_with_size():
    """Multigrid: sixteen times the points, about the same number of steps."""
    counts = []
    for level in (3, 5):
        graph = on_model(models.sphere(1.0, level))
        ground = np.zeros(graph.count)
        ground[0] = 1.0
        hierarchy = run_to_end(multigrid.prepare(graph, ground))
        counts.append(run_to_end(multigrid.solve(hierarchy, np.ones(graph.count))).iterations)
    assert counts[1] <= counts[0] + 8


def test_a_good_guess_saves_steps_and_a_zero_side_takes_none():
    graph = GRAPHS["sphere"]
    ground = np.full(graph.count, 1e-3)
    hierarchy = run_to_end(multigrid.prepare(graph, ground))
    b = np.random.default_rng(2).normal(size=graph.count)
    first = run_to_end(multigrid.solve(hierarchy, b, tolerance=1e-8))
    again = run_to_end(multigrid.solve(hierarchy, 1.001 * b, tolerance=1e-8, start=first.x))
    assert again.iterations < first.iterations
    nothing = run_to_end(multigrid.solve(hierarchy, 0 * b))
    assert nothing.iterations == 0
    assert not nothing.x.any()


def test_steps_come_often_and_name_the_work():
    graph = GRAPHS["sphere"]
    steps = list(multigrid.prepare(graph, np.ones(graph.count)))
    assert all(0 <= step.fraction <= 1 and "network" in step.sentence for step in steps)


@settings(deadline=None, max_examples=40)
@given(st.integers(1, 60), st.integers(0, 200), st.integers(0, 10**6))
def test_graph_sums_repeated_pairs_and_product_multiplies(count, pairs, seed):
    """Graph.of and Product against scipy's sparse matrices, for any pairs, loops and repetitions among them."""
    random = np.random.default_rng(seed)
    a, b = random.integers(0, count, (2, pairs))
    weight = random.normal(size=pairs)
    graph = Graph.of(a, b, weight, count)
    assert (graph.low < graph.high).all()
    assert (np.diff(graph.low * count + graph.high) > 0).all()
    dense = np.zeros((count, count))
    np.add.at(dense, (a, b), weight)
    dense += dense.T
    np.fill_diagonal(dense, 0.0)
    starts, ends, which = graph.rows()
    order = falling(np.diff(starts))
    diagonal, x = random.normal(size=(2, count))
    product = Product(starts, ends, graph.weight[which], diagonal, order)
    expected = (np.diag(diagonal) - dense[np.ix_(order, order)]) @ x
    assert product.apply(x, np.empty(count)) == pytest.approx(expected, abs=1e-12)
    assert product.residual(x, x, np.empty(count)) == pytest.approx(x - expected, abs=1e-12)


def test_hubs_and_very_large_numbers_sort_alike():
    """Degrees beyond a byte, and keys that do not fit beside their place in one number, take the other way."""
    degree = np.random.default_rng(0).integers(0, 5000, 400)
    assert (falling(degree) == np.argsort(-degree, kind="stable")).all()
    key = np.random.default_rng(1).integers(0, 2**60, 1000)
    key[500:] = key[:500]
    order, ordered = sorted_keys(key, 60)
    assert (order == np.argsort(key, kind="stable")).all()
    assert (ordered == np.sort(key)).all()
