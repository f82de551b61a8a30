"""Edges, neighbors and connected pieces, against libraries that have them too."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from addon.engine.linalg.labels import connected
from addon.engine.mesh.topology import Topology

import models
from scans import dirty_bunny

OPEN_CUP = (models.cup(rows=2)[0], models.cup(rows=2)[1][5:])
MODELS = {"box": models.box(), "torus": models.torus(), "open cup": OPEN_CUP, "plate": models.plate(cells=(3, 4))}


@pytest.mark.parametrize("name", MODELS)
def test_edges_and_neighbors_are_those_of_trimesh(name):
    points, triangles = MODELS[name]
    topology = Topology.of(triangles, len(points))
    peer = trimesh.Trimesh(points, triangles, process=False)
    assert {tuple(edge) for edge in topology.edges} == {tuple(edge) for edge in np.sort(peer.edges_unique)}
    shared = topology.edge_faces[topology.edge_faces[:, 1] >= 0]
    assert {tuple(pair) for pair in np.sort(shared)} == {tuple(pair) for pair in np.sort(peer.face_adjacency)}
    starts, ends = topology.neighbors
    for point, expected in enumerate(peer.vertex_neighbors):
        assert sorted(ends[starts[point] : starts[point + 1]]) == sorted(expected)


def test_the_edges_of_a_triangle_run_from_corner_to_corner():
    points, triangles = models.torus(around=7, across=5)
    topology = Topology.of(triangles, len(points))
    for k in range(3):
        ends = np.stack([triangles[:, k], triangles[:, (k + 1) % 3]], axis=1)
        assert (topology.edges[topology.face_edges[:, k]] == np.sort(ends, axis=1)).all()


def test_large_models_are_sorted_the_other_way_with_the_same_result():
    """Points numbered so high that edge and place do not fit into one number of 64 bits."""
    points, triangles = models.cup()
    far = 1 << 30
    near, spread = Topology.of(triangles, len(points)), Topology.of(triangles + far, len(points) + far)
    assert (spread.edges == near.edges + far).all()
    assert (spread.face_edges == near.face_edges).all()
    assert (spread.half_edges == near.half_edges).all()


def test_edges_of_more_than_two_faces_and_collapsed_faces():
    """Three triangles on one edge; a fourth that is a line has no edge of its own."""
    triangles = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4], [2, 0, 2]], dtype=np.int32)
    topology = Topology.of(triangles, 5, skip=np.array([False, False, False, True]))
    assert topology.edges[topology.non_manifold_edges].tolist() == [[0, 1]]
    assert len(topology.open) == 6
    assert (topology.face_edges[3] == -1).all()


@pytest.mark.slow
@settings(deadline=None, max_examples=200)
@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.just(n), st.lists(st.tuples(*[st.integers(0, n - 1)] * 2)))))
def test_connected_pieces_are_those_of_scipy(graph):
    count, pairs = graph
    a, b = np.array(pairs, dtype=np.int32).reshape(-1, 2).T
    label, pieces = connected(count, a, b)
    expected, same = connected_components(coo_matrix((np.ones(len(a)), (a, b)), shape=(count, count)), directed=False)
    assert pieces == expected
    assert len({*zip(label.tolist(), same.tolist(), strict=True)}) == pieces
    assert (np.unique(label, return_index=True)[1] == np.sort(np.unique(label, return_index=True)[1])).all()


@pytest.mark.parametrize("hub", [0, 500, 999])
def test_a_star_and_a_chain_are_one_piece_each(hub):
    """The shapes that are worst for hooking by number: one hub for all, and one long line."""
    others = np.setdiff1d(np.arange(1000), [hub])
    assert connected(1000, np.full(999, hub), others)[1] == 1
    order = np.random.default_rng(hub).permutation(1000)
    assert connected(1000, order[:-1], order[1:])[1] == 1


def test_what_is_left_out_or_turned_needs_no_sort():
    """The same as the topology of the triangles that are left, or as they run then, on a scan with doubled faces."""
    points, triangles = dirty_bunny()
    random = np.random.default_rng(5)
    whole = Topology.of(triangles, len(points))
    for share in (0.0, 0.1, 0.5, 1.0):  # a few are looked up at their edges, many found among all
        skip, which = random.random((2, len(triangles))) < share
        turned = np.where(which[:, None], triangles[:, ::-1], triangles)
        for found, wanted in (
            (whole.without(skip), Topology.of(triangles, len(points), skip)),
            (whole.turned(which), Topology.of(turned, len(points))),
            (whole.without(skip).turned(which), Topology.of(turned, len(points), skip)),
        ):
            for name in ("edges", "edge_faces", "face_edges", "non_manifold_edges", "starts", "half_edges"):
                np.testing.assert_array_equal(getattr(found, name), getattr(wanted, name), err_msg=name)
