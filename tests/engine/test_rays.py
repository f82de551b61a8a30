"""Parallel rays against an independent ray caster, and where single precision would slip."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.engine.mesh import inspection
from addon.engine.mesh.rays import ParallelRays
from addon.engine.progress import run_to_end

import models

MIXED = models.joined(  # long slivers, a large plate and fine triangles together
    models.torus(30, 10, 64, 32),
    models.moved(models.cylinder(5, 60, 300, 1), shift=(0, 0, -30)),
    models.moved(models.box((100, 100, 1)), shift=(-50, -50, -40)),
)


@pytest.fixture(scope="module")
def mixed(trace):
    surface = run_to_end(inspection.inspect(models.part(models.moved(MIXED, scale=1e-3))))
    return surface, trace(surface)


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000))
def test_first_hits_are_those_of_embree(mixed, seed):
    """From random places in one random direction, past fine triangles, slivers and plates."""
    surface, tracer = mixed
    random = np.random.default_rng(seed)
    direction = random.normal(size=3)
    origins = random.uniform(*(surface.bounds * 1.1), size=(2000, 3))
    rays = ParallelRays(surface.points, surface.triangles, direction)
    face, distance = rays.first_hit(origins)
    expected, far = tracer.first_hit(origins, np.broadcast_to(direction, origins.shape))
    assert (rays.blocked(origins) == (face >= 0)).all()
    # a ray within single precision of an edge may go either way there: one in ten thousand
    agree = (face >= 0) == (expected >= 0)
    assert (~agree).sum() <= 1
    hit = agree & (face >= 0)
    assert (np.abs(distance[hit] - far[hit]) > 1e-5 * surface.size).sum() <= 1
    assert np.isinf(distance[face < 0]).all()


def test_a_ray_through_a_corner_or_an_edge_is_caught():
    """Straight up through every point and edge middle of a grid: a sieve for careless arithmetic."""
    points, triangles = models.plate((0.3, 0.7), (7, 11))
    middles = points[triangles][:, [0, 1, 2]].mean(axis=1), 0.5 * (points[triangles[:, 0]] + points[triangles[:, 1]])
    origins = np.vstack([points, *middles]) - (0, 0, 1)
    face, distance = ParallelRays(points, triangles, (0, 0, 2)).first_hit(origins)
    assert (face >= 0).all()
    assert distance == pytest.approx(1)


def test_every_crossing_is_found_once():
    """A random ray through a closed body crosses it an even number of times, in and out in turn."""
    points, triangles = models.moved(MIXED, turn=models.rotation(4))
    origins = np.random.default_rng(0).uniform(-60, 60, (5000, 3)) - 200 * models.rotation(7)[0]
    rays = ParallelRays(points, triangles, models.rotation(7)[0], slack=0.0)
    pairs = np.concatenate([np.stack([ray, met]) for ray, met, _ in rays.hits(origins)], axis=1)
    crossings = np.bincount(pairs[0], minlength=len(origins))
    assert (crossings % 2 == 0).all() and crossings.max() >= 4
    assert len(np.unique(pairs, axis=1).T) == pairs.shape[1]


@pytest.mark.parametrize("origins", [np.zeros((0, 3)), np.array([[0.5, 0.5, -1.0]])])
def test_few_rays_and_few_triangles(origins):
    points, triangles = models.box()
    for some, hit in ((triangles, True), (triangles[:0], False)):
        assert (ParallelRays(points, some, (0, 0, 1)).blocked(origins) == hit).all()


def test_triangles_seen_edge_on_and_without_area_are_passed():
    """A wall along the rays and a line have no inside to hit."""
    points = np.array([[0, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0.5, 0.0]], dtype=float)
    rays = ParallelRays(points, np.array([[0, 1, 2], [0, 1, 3]], dtype=np.int32), (0, 0, 1))
    assert not rays.blocked(np.array([[0, 0.25, -1], [0.0, 0.1, -5]])).any()
