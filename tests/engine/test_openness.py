"""Openness against view factors of the radiation-heat-transfer catalogue (from memory) and a peer's rays."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.geometry.frames import frame
from addon.engine.visibility import openness
from addon.engine.visibility.depth import DepthBuffers
from addon.engine.progress import run_to_end
from addon.engine.units import MM

import models
from scans import coarse_bunny


def inspect(*parts, **settings):
    return run_to_end(inspection.inspect(models.part(*(models.moved(p, scale=MM) for p in parts)), **settings))


def survey(surface, **settings):
    return run_to_end(openness.survey(surface, **settings))


def bowl(around=32):
    """Half a hollow sphere, inner radius 10, open upward."""
    t = np.linspace(0, np.pi / 2, 17)
    inner, outer = (np.stack([r * np.sin(t), -r * np.cos(t)], axis=1) for r in (10, 11))
    return models.lathe(np.vstack([outer, inner[::-1]]), around)


@pytest.mark.parametrize("model", [models.sphere(10, 2), models.box((10, 20, 30), (3, 3, 3))])
def test_a_convex_body_sees_the_whole_bath(model):
    found = survey(inspect(model))
    assert (found.openness == 1).all()
    assert (found.minimum, found.median, found.hidden_area, found.error) == (1, 1, 0, 0)


@pytest.mark.slow
def test_the_inside_of_half_a_sphere_sees_one_half_everywhere():
    """Every part of a sphere sees each other part by its share of the sphere: the missing half is 1/2."""
    surface = inspect(bowl(40))
    inside = np.einsum("ij,ij->i", surface.normal, surface.centroid) < -5 * MM
    found = survey(surface, rays=160)
    miss = found.openness[inside] - 0.5
    assert abs(miss.mean()) < 0.01  # facets lie a little below the sphere
    assert np.sqrt((miss**2).mean()) < 1.5 * found.error < 0.03


@pytest.mark.slow
@pytest.mark.parametrize("depth", [10, 20])
def test_the_bottom_of_a_round_hole(depth):
    """R^2 / (R^2 + H^2) from the middle of the bottom; less deep than wide it is not sheltered."""
    surface = inspect(models.cup(10, depth, 1, 32, 4))
    x, y, z = surface.centroid.T
    middle = (np.abs(z) < 1e-9) & (np.hypot(x, y) < 2 * MM)
    found = [survey(surface, rays=128, seed=k) for k in range(2)]
    seen = np.mean([one.openness[middle].mean() for one in found])
    assert seen == pytest.approx(1 / (1 + (depth / 10) ** 2), abs=0.02)
    if depth < 20:
        assert not any(one.hidden[middle].any() for one in found)


@pytest.mark.slow
def test_the_bottom_of_a_long_trench():
    """sin of half the angle to the rims, (w/2) / sqrt((w/2)^2 + h^2), for a strip of the bottom's middle."""
    wall = [((-26 + 50 * k, -400, 0), (2, 800, 24)) for k in (0, 1)]
    sides = [models.moved(models.box(size), shift=at) for at, size in wall]
    floor = models.moved(models.box((48, 800, 2), (9, 1, 1)), shift=(-24, -400, -2))
    surface = inspect(*sides, models.moved(floor, shift=(0, 0, 0)))
    x, y, z = surface.centroid.T
    up = surface.normal[:, 2] > 0.99
    middle = up & (np.abs(z) < 1e-6) & (np.abs(x) < 3 * MM)
    assert middle.sum() == 2
    seen = np.mean([survey(surface, rays=256, seed=k).openness[middle].mean() for k in range(2)])
    assert seen == pytest.approx(24 / np.hypot(24, 24), abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("model", [coarse_bunny(), models.moved(models.cup(10, 20, 1, 40, 6), scale=MM)])
def test_faces_see_the_same_as_by_rays_of_an_independent_caster(trace, model):
    """A real scan, and a closed body: cosine-weighted random rays of embree, within the errors of both."""
    surface = run_to_end(inspection.inspect(models.part(model)))
    random = np.random.default_rng(5)
    face = random.choice(np.flatnonzero(surface.wetted & (surface.area > 0)), 300, replace=False)
    many = 400
    normal = np.repeat(surface.normal[face], many, axis=0)
    toward = random.normal(size=normal.shape)
    toward /= np.linalg.norm(toward, axis=1, keepdims=True)
    toward = normal + 0.999999 * toward  # Lambert's law: a point on the unit sphere that touches the face
    origin = np.repeat(surface.centroid[face] + surface.lift * surface.normal[face], many, axis=0)
    seen = 1 - trace(surface).blocked(origin, toward).reshape(len(face), many).mean(axis=1)
    found = survey(surface, rays=32)
    apart = found.openness[face] - seen
    noise = np.hypot(found.error, np.sqrt((seen * (1 - seen) / many).mean()))
    assert np.sqrt((apart**2).mean()) < 1.3 * noise
    assert abs(apart.mean()) < 0.01


@pytest.mark.slow
def test_the_error_is_the_one_that_is_stated():
    """The spread of the result over seeds is the stated error, within a half."""
    surface = inspect(bowl(20))
    runs = [survey(surface, seed=k) for k in range(4)]
    shares = np.array([run.openness for run in runs])
    partly = ((shares > 0) & (shares < 1)).all(axis=0)
    spread = np.sqrt(shares[:, partly].var(axis=0, ddof=1).mean())
    stated = np.sqrt(np.mean([run.error**2 for run in runs]))
    assert 1 / 1.5 < spread / stated < 1.5
    assert stated < 0.03  # as many random rays would leave 0.5 / sqrt(64) = 0.06


@pytest.mark.slow
def test_more_rays_less_error():
    surface = inspect(models.cup(rows=2, around=24))
    errors = [survey(surface, rays=rays).error for rays in (16, 64, 200)]
    assert errors[0] > 2 * errors[1] > 3 * errors[2]


@pytest.mark.slow
def test_the_same_seed_gives_the_same_answer():
    surface = inspect(models.cup(around=24))
    one, same, other = (survey(surface, seed=seed).openness for seed in (3, 3, 4))
    assert (one == same).all() and (one != other).any()


@pytest.mark.slow
def test_the_answer_turns_with_the_part_and_grows_with_it():
    """Other directions then, so equal within the error only; the order of faces does not matter at all."""
    points, triangles = models.cup(rows=2, around=24)
    plain = survey(inspect((points, triangles)))
    turned = survey(inspect(models.moved((points, triangles), turn=models.rotation(2), scale=7)))
    assert np.sqrt(((plain.openness - turned.openness) ** 2).mean()) < 3 * plain.error
    order = np.random.default_rng(0).permutation(len(triangles))
    shuffled = survey(inspect((points, triangles[order])))
    assert np.allclose(shuffled.openness, plain.openness[order])


def test_sealed_and_repeated_faces_have_no_openness():
    hollow = models.moved(models.sphere(3, 2), shift=(10, 10, 10))
    surface = inspect(models.box((20, 20, 20)), hollow)
    found = survey(surface)
    assert np.isnan(found.openness[12:]).all() and (found.openness[:12] == 1).all()
    assert not found.hidden[12:].any()


def test_faces_inside_another_body_see_nothing():
    """Overlap left in the model: the end of the peg that is in the block."""
    peg = models.moved(models.box((4, 4, 20)), shift=(8, 8, 10))
    surface = inspect(models.box((20, 20, 20), (4, 4, 4)), peg)
    found = survey(surface)
    inner = (surface.shell == 1) & (surface.normal[:, 2] < -0.5)
    assert (found.openness[inner] == 0).all() and found.hidden[inner].all()
    assert found.hidden_area >= 16 * MM**2


def test_a_sheet_shows_its_worse_side():
    """A plate over a block, 1 mm apart: its lower side is sheltered though its upper side is free."""
    plate = models.moved(models.plate((20, 20), (8, 8)), shift=(0, 0, 11))
    block = models.box((20, 20, 10))
    middle = np.s_[len(block[1]) + 50 : len(block[1]) + 60]
    both = survey(inspect(block, plate, sheet_sides=2)).openness[middle]
    one = survey(inspect(block, plate, sheet_sides=1)).openness[middle]
    assert (one > 0.99).all() and (both < 0.3).all()


def test_large_meshes_get_fewer_rays_and_say_so():
    surface = inspect(models.cup(around=24))
    few = survey(surface, rays=64, budget=20 * len(surface.triangles))
    assert few.rays == 20
    assert few.error > survey(surface, rays=64).error
    assert survey(surface, rays=64, budget=1).rays == openness.MIN_RAYS


def by_buffers(monkeypatch, surface, **settings):
    monkeypatch.setattr(openness, "MAX_EXACT_FACES", 0)
    return survey(surface, **settings)


@pytest.mark.slow
def test_a_convex_body_sees_the_whole_bath_through_depth_buffers(monkeypatch):
    found = by_buffers(monkeypatch, inspect(models.sphere(10, 2)))
    assert (found.openness == 1).all()


@pytest.mark.slow
def test_the_inside_of_half_a_sphere_sees_one_half_through_depth_buffers(monkeypatch):
    """As above: the closed form 1/2, with the error of the directions and no more."""
    surface = inspect(bowl(64))
    inside = np.einsum("ij,ij->i", surface.normal, surface.centroid) < -5 * MM
    found = by_buffers(monkeypatch, surface, rays=100)
    miss = found.openness[inside] - 0.5
    assert miss.mean() == pytest.approx(0, abs=0.01)
    assert np.sqrt((miss**2).mean()) < 1.5 * found.error < 0.03


@pytest.mark.slow
def test_the_bottom_of_a_round_hole_through_depth_buffers(monkeypatch):
    """R^2 / (R^2 + H^2), as above, in the deepest."""
    surface = inspect(models.cup(10, 20, 1, 32, 4))
    x, y, z = surface.centroid.T
    middle = (np.abs(z) < 1e-9) & (np.hypot(x, y) < 2 * MM)
    seen = by_buffers(monkeypatch, surface, rays=128).openness[middle].mean()
    assert seen == pytest.approx(1 / 5, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("model", [coarse_bunny(), models.moved(models.cup(10, 20, 1, 40, 6), scale=MM)])
def test_depth_buffers_see_what_single_rays_see(monkeypatch, model):
    """Along the same directions, on an open scan and a closed body: apart by less than the directions' own error."""
    surface = run_to_end(inspection.inspect(models.part(model)))
    exact = survey(surface, rays=32)
    monkeypatch.setattr(openness, "MAX_EXACT_FACES", 0)
    apart = (survey(surface, rays=32).openness - exact.openness)[surface.wetted]
    assert np.sqrt((apart**2).mean()) < exact.error
    assert abs(apart.mean()) < 0.005


@pytest.mark.slow
def test_a_sheet_shows_its_worse_side_through_depth_buffers(monkeypatch):
    plate = models.moved(models.plate((20, 20), (8, 8)), shift=(0, 0, 11))
    block = models.box((20, 20, 10))
    middle = np.s_[len(block[1]) + 50 : len(block[1]) + 60]
    both = by_buffers(monkeypatch, inspect(block, plate, sheet_sides=2)).openness[middle]
    one = by_buffers(monkeypatch, inspect(block, plate, sheet_sides=1)).openness[middle]
    assert (one > 0.99).all() and (both < 0.3).all()


def test_both_ways_are_drawn_as_each_is():
    """Of an open surface, drawn once for both: depth and triangle of every pixel as along each direction."""
    points, triangles = coarse_bunny()
    corners = points[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-30)[:, None]
    buffers = DepthBuffers(points, triangles, normal)
    turn, shift = frame([0.3, -0.5, 0.8]), np.array([0.2, -0.1])
    for found, row in zip(buffers.both_ways(turn, shift, False), (1.0, -1.0), strict=True):
        alone = buffers.along(turn * np.array([[1.0], [1.0], [row]]), shift, False)
        np.testing.assert_allclose(found.depth(), alone.depth(), rtol=1e-4, atol=0.05)
        assert (found.front() == alone.front()).mean() > 0.999


def test_what_is_drawn_keeps_its_number():
    """A cube in few pixels: of the faces that look against the direction alone, and through pixels of another size."""
    points, triangles = models.box((1.0, 1.0, 1.0))
    corners = points[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    buffers = DepthBuffers(points, triangles, normal)
    for some in (buffers, buffers.at_pixel(0.05)):
        for against, sign in ((True, -1.0), (False, 1.0)):
            front = some.along(np.eye(3), np.zeros(2), against).front()
            shown = np.unique(front[front < len(triangles)])
            assert (sign * normal[shown, 2] > 0.9).all() and len(shown) == 2
            assert (front < len(triangles)).sum() * some.pixel**2 == pytest.approx(1.0, abs=0.15)
