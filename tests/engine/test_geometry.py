"""Frames, Morton's curve and nearest points against general-purpose libraries and by definition."""

from __future__ import annotations

import igl
import numpy as np
import pytest
from scipy.spatial import KDTree
from scipy.spatial.distance import cdist
from scipy.spatial.transform import Rotation

from addon.engine.geometry import cells, chebyshev, closest, frames, morton, nearest, solid_angle, triangles

from models import inside_out, sphere

RANDOM = np.random.default_rng(3)


@pytest.mark.parametrize("direction", [*np.eye(3), *-np.eye(3), (1e-9, 0, 1), (3, -4, 12), (-1e-3, 1e3, 2)])
def test_a_frame_is_a_rotation_with_the_direction_for_its_last_row(direction):
    found = frames.frame(direction)
    assert found[2] == pytest.approx(np.array(direction) / np.linalg.norm(direction))
    assert Rotation.from_matrix(found).as_matrix() == pytest.approx(found, abs=1e-12)  # scipy makes any matrix one


def test_codes_interleave_bits():
    """By definition: bit k of axis i stands at place 3 k + i."""
    at = RANDOM.integers(0, 2**morton.MAX_BITS, (200, 3))
    codes = morton.encode(at)
    for cell, code in zip(at.tolist(), codes.tolist(), strict=True):
        assert code == sum((cell[i] >> k & 1) << (3 * k + i) for k in range(20) for i in range(3))
    assert (morton.decode(codes) == at).all()


def test_points_in_order_are_near():
    """Along the curve of n random points of a unit cube, steps are a few n^(-1/3); at random, 0.66 (Robbins' constant)."""
    points = RANDOM.random((8000, 3))
    steps = np.linalg.norm(np.diff(points[morton.order(points)], axis=0), axis=1)
    assert steps.mean() < 2 * 8000 ** (-1 / 3)
    assert len(morton.order(np.zeros((5, 3)))) == 5


def test_nearest_points_of_triangles_are_those_of_igl():
    corners = RANDOM.normal(size=(500, 3, 3)) + RANDOM.normal(size=(500, 1, 3))
    found = closest.to_origin(corners)
    for corner, point in zip(corners, found, strict=True):
        square, _, expected = igl.point_mesh_squared_distance(np.zeros((1, 3)), corner, np.array([[0, 1, 2]]))[:3]
        assert point == pytest.approx(np.ravel(expected), abs=1e-9)
        assert point @ point == pytest.approx(float(np.ravel(square)[0]))


def test_a_triangle_without_area_is_its_edges():
    line = np.array([[[-1.0, 1, 0], [2, 1, 0], [0.5, 1, 0]]])
    assert closest.to_origin(line)[0] == pytest.approx([0, 1, 0])


def test_points_in_one_place_are_in_order_in_single_precision():
    """Scaled by a span of nothing, single precision overflowed."""
    with np.errstate(all="raise"):
        np.testing.assert_array_equal(morton.order(np.zeros((5, 3), np.float32)), np.arange(5))


@pytest.mark.parametrize("count", [2, 3, 6, 11])
def test_interpolation_between_chebyshev_zeros_is_that_of_numpy(count):
    """Zeros against numpy's chebpts1; values and derivatives against its least-squares fit, exact at this degree."""
    nodes, x = chebyshev.nodes(count), RANDOM.uniform(-1, 1, 40)
    assert np.sort(nodes) == pytest.approx(np.polynomial.chebyshev.chebpts1(count), abs=1e-15)
    values, slopes = chebyshev.cardinal(count, x)
    for k in range(count):
        fit = np.polynomial.Chebyshev.fit(nodes, np.eye(count)[k], count - 1, domain=[-1, 1])
        assert values[k] == pytest.approx(fit(x), abs=1e-12)
        assert slopes[k] == pytest.approx(fit.deriv()(x), abs=1e-10)


def test_windings_are_those_of_igl():
    """Inside, outside and beside two nested spheres, the inner one wound inward, and an open bowl."""
    (outer, faces), (inner, more) = sphere(2.0, 2), inside_out(sphere(1.0, 2))
    points, triangles = np.vstack([outer, inner]), np.vstack([faces, more + len(outer)])
    bowl = triangles[: len(faces)][outer[faces].mean(axis=1)[:, 2] < 0]
    for some in (triangles, bowl):
        places = RANDOM.uniform(-3, 3, (300, 3))
        expected = igl.winding_number(points, some.astype(np.int64), places)
        assert solid_angle.winding(places, points[some]) == pytest.approx(expected, abs=1e-9)
        rough = solid_angle.rough_winding(places, points[some])
        assert rough == pytest.approx(expected, abs=5e-3) and np.abs(rough - expected).max() > 0


@pytest.mark.parametrize("radius", [0.02, 0.15, 5.0])
def test_points_within_a_radius_are_those_of_all_pairs(radius):
    """All pairs by scipy; the same whatever the extent of the points is in cells."""
    points = np.random.default_rng(3).normal(size=(400, 3)) * (1.0, 1.0, 0.01)
    rows = np.arange(7, 400, 9)
    row, other = cells.within(points, rows, radius)
    wanted = np.nonzero(cdist(points[rows], points) < radius)
    assert set(zip(row.tolist(), other.tolist(), strict=True)) == set(zip(*map(np.ndarray.tolist, wanted), strict=True))
    assert (np.diff(row) >= 0).all()


def test_nearest_of_many_points_are_those_of_scipy():
    """On two sheets a hair apart, told apart by their normals; of equal ones the first."""
    random = np.random.default_rng(5)
    places = np.concatenate([random.random((900, 3)) * (1.0, 1.0, 1e-3), random.random((700, 3)) * (0.2, 3.0, 1.0)])
    points = np.hstack([places, 0.25 * random.choice([-1.0, 1.0], (len(places), 1))])
    queries = points[random.permutation(len(points))] + random.normal(0.0, 0.02, points.shape)
    away, _ = KDTree(points).query(queries)
    found = nearest.least(queries, points)
    assert np.linalg.norm(queries - points[found], axis=1) == pytest.approx(away, abs=1e-5)
    lattice = np.stack(np.meshgrid(*[np.arange(9.0)] * 3), axis=-1).reshape(-1, 3)
    assert (nearest.least(lattice, np.repeat(lattice, 3, axis=0)) == 3 * np.arange(len(lattice))).all()


def test_halves_keep_the_area_and_the_sense_of_a_triangle():
    """Each half across the longest edge has half of the vector of the area, and what is linear over it stays so."""
    corners = np.random.default_rng(5).normal(size=(50, 3, 3))
    longest, start = triangles.longest_edges(corners)
    sides = np.linalg.norm(corners - corners[:, [1, 2, 0]], axis=2)
    assert longest == pytest.approx(sides.max(axis=1))
    halves = triangles.bisected(corners, start)
    whole, part = (np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]) for c in (corners, halves))
    assert part == pytest.approx(np.tile(whole / 2, (2, 1)))
    linear = np.array([1.0, -2.0, 0.5])
    assert triangles.bisected(corners @ linear, start) == pytest.approx(halves @ linear)
