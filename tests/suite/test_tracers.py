"""Blender's rays against embree's (embreex, Apache-2.0), an independent ray caster."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.mesh.surface import Surface
from addon.suite.scene import tracers
from addon.suite.scene.tracers import HostTracer

import models
from tracers import EmbreeTracer


def surface(model: models.Model) -> Surface:
    points, triangles = model
    every = np.ones(len(triangles), dtype=bool)
    shell = np.zeros(len(triangles), dtype=np.int32)
    sides = np.ones(len(triangles), dtype=np.int8)
    return Surface("model", points, triangles, shell, every, every, ~every, sides, True, 0.0)


def rays(of: Surface, each: int, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Rays off every face into its open half-space, in no order."""
    rng = np.random.default_rng(seed)
    face = rng.permutation(np.arange(len(of.triangles)).repeat(each))
    direction = rng.normal(size=(len(face), 3)) * rng.uniform(0.1, 10, size=(len(face), 1))
    away = np.sign(np.einsum("ij,ij->i", direction, of.normal[face]))
    return of.centroid[face] + of.lift * of.normal[face], direction * away[:, None]


PARTS = {
    "a cup in mm": surface(models.moved(models.cup(around=48, rows=8), scale=1e-3)),
    "a cup far from the origin": surface(
        models.moved(models.cup(around=48, rows=8), (0.7, -0.4, 0.2), models.rotation(3), scale=1e-3)
    ),
    "a small ring": surface(models.torus(1.5e-3, 0.4e-3)),
}


@pytest.mark.parametrize("many", [False, True], ids=["tree", "nodes"])
@pytest.mark.parametrize("name", PARTS)
def test_hits_are_those_of_embree(name, many, monkeypatch):
    """Both ways give embree's faces and distances; ties at edges aside, which single precision decides."""
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 0 if many else 10**9)
    part = PARTS[name]
    origins, directions = rays(part, 6)
    face, distance = HostTracer(part).first_hit(origins, directions)
    wanted, length = EmbreeTracer(part).first_hit(origins, directions)
    differ = face != wanted
    assert (wanted >= 0).mean() > 0.05
    assert differ.mean() < 2e-4
    both = ~differ & (face >= 0)
    np.testing.assert_allclose(distance[both], length[both], rtol=1e-9, atol=1e-12 * part.size)
    assert np.isinf(distance[face < 0]).all()


@pytest.mark.parametrize("many", [False, True], ids=["tree", "nodes"])
def test_blocked_says_the_same_as_first_hit(many, monkeypatch):
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 0 if many else 10**9)
    origins, directions = rays(PARTS["a cup in mm"], 4)
    tracer = HostTracer(PARTS["a cup in mm"])
    np.testing.assert_array_equal(tracer.blocked(origins, directions), tracer.first_hit(origins, directions)[0] >= 0)


def test_batches_come_back_in_the_order_of_the_rays(monkeypatch):
    """Several evaluations of the nodes, sorted inside for speed, answer row for row."""
    origins, directions = rays(PARTS["a small ring"], 3)
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 10**9)
    wanted = HostTracer(PARTS["a small ring"]).blocked(origins, directions)
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 0)
    monkeypatch.setattr(tracers, "BATCH", 1000)
    np.testing.assert_array_equal(HostTracer(PARTS["a small ring"]).blocked(origins, directions), wanted)


def test_nearest_is_the_distance_to_a_sphere():
    """From outside and inside, |r - R| on a sphere, up to the sagitta of its facets (closed form)."""
    ball = surface(models.sphere(5e-3, 5))
    rng = np.random.default_rng(1)
    points = rng.normal(size=(500, 3))
    points *= (rng.uniform(1e-3, 2e-2, 500) / np.linalg.norm(points, axis=1))[:, None]
    wanted = np.abs(np.linalg.norm(points, axis=1) - 5e-3)
    np.testing.assert_allclose(HostTracer(ball).nearest(points), wanted, atol=5e-6)


def test_no_datablock_stays(add, monkeypatch):
    """A cast leaves the file as it was: no block more, the same scene, selection and mode."""
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 0)
    own = add(models.box())
    before = blocks()
    HostTracer(PARTS["a cup in mm"]).first_hit(*rays(PARTS["a cup in mm"], 1))
    assert blocks() == before
    assert bpy.context.scene.name == "Scene" and own.select_get()


def test_no_datablock_stays_after_a_failure(monkeypatch):
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 0)
    before = blocks()
    with pytest.raises((ValueError, RuntimeError, IndexError)):
        HostTracer(PARTS["a small ring"]).first_hit(np.zeros((5, 3)), np.zeros((4, 3)))
    assert blocks() == before


def blocks() -> dict[str, list[str]]:
    """The names of all data-blocks, by kind."""
    kinds = {name: getattr(bpy.data, name) for name in dir(bpy.data)}
    found = {name: kind for name, kind in kinds.items() if isinstance(kind, bpy.types.bpy_prop_collection)}
    return {name: [block.name for block in kind] for name, kind in found.items()}


def test_a_tree_from_a_mesh_answers_as_one_from_lists(monkeypatch):
    """Of a large part, with nothing left in the file."""
    part, blocks = (
        PARTS["a cup in mm"],
        {name: len(getattr(bpy.data, name)) for name in ("scenes", "meshes", "objects")},
    )
    origins, directions = rays(part, 5)
    monkeypatch.setattr(tracers, "MIN_RAYS_FOR_NODES", 10**9)
    found = []
    for least in (10**9, 0):
        monkeypatch.setattr(tracers, "MIN_MESH_TRIANGLES", least)
        tracer = HostTracer(part)
        found.append((*tracer.first_hit(origins[:2000], directions[:2000]), tracer.nearest(origins[:200])))
    for one, other in zip(*found, strict=True):
        np.testing.assert_array_equal(one, other)
    assert blocks == {name: len(getattr(bpy.data, name)) for name in blocks}
