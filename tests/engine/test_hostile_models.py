"""Whole studies of models that no print has: each ends with answers or one line, and its work is bounded."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from addon.engine import study
from addon.engine.errors import InputError
from addon.engine.field import panels as field_panels
from addon.engine.field.bem.influence import Influence
from addon.engine.field.pieces import cut
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.units import MM

import models
from tracers import EmbreeTracer

pytestmark = pytest.mark.usefixtures("coarse_coat")

PANELS = 500
EFFORT = {"panels": PANELS, "rays": 16, "directions": 50}
METAL = {"coat": {"name": "none (metal part)"}}
BOX = models.moved(models.box((20, 20, 20)), scale=MM)
CORNER = np.array([[0, 0, 0], [20, 0, 0], [0, 20, 0]]) * MM


def soup(corners):
    """Points and triangles of loose triangles (m, 3, 3)."""
    return np.reshape(corners, (-1, 3)), np.arange(3 * len(corners)).reshape(-1, 3)


def plate(thickness):
    return models.moved(models.box((20, 20, thickness)), scale=MM)


def fan(blades):
    """Triangles that share one edge."""
    angle = np.linspace(0, 2 * np.pi, blades, endpoint=False)
    rim = np.stack([20 * np.cos(angle), 20 * np.sin(angle), np.full(blades, 10.0)], axis=1)
    points = np.vstack([[[0, 0, 0], [0, 0, 20]], rim]) * MM
    return points, [[0, 1, 2 + k] for k in range(blades)]


def tetrahedra(count):
    """Separate shells, 2 mm apart."""
    one = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    at = 2 * np.stack(np.unravel_index(np.arange(count), (10, 10, count // 100 + 1)), axis=1)
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    return (one + at[:, None]).reshape(-1, 3) * MM, (faces + 4 * np.arange(count)[:, None, None]).reshape(-1, 3)


CASES = {
    "one triangle": (CORNER, [[0, 1, 2]], {}),
    "three triangles": (*soup([CORNER, CORNER + 0.01, CORNER[:, [2, 0, 1]]]), {}),
    "20 random triangles": (*soup(np.random.default_rng(1).uniform(0, 0.04, (20, 3, 3))), {}),
    "a triangle in one point": (BOX[0], np.vstack([BOX[1], [[0, 0, 0]]]), {}),
    "500 triangles at one edge": (*fan(500), METAL),
    "300 tetrahedra": (*tetrahedra(300), METAL),
    "a plate of 1e-4 mm": (*plate(1e-4), {}),
    "doubled faces": (BOX[0], np.vstack([BOX[1], BOX[1]]), {}),
    "crossing boxes": (*soup(np.concatenate([BOX[0][BOX[1]], BOX[0][BOX[1]] + 0.007])), {}),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_a_hostile_model_ends_with_answers_or_one_line(name, monkeypatch):
    points, triangles, job = CASES[name]
    laid, build = [], Influence.build
    monkeypatch.setattr(Influence, "build", lambda corners, *rest: laid.append(len(corners)) or build(corners, *rest))
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            found = run_to_end(
                study.run(Part.of("part.stl", points, triangles), read_job({"effort": EFFORT, **job}), EmbreeTracer)
            )
        except InputError as fault:
            assert "\n" not in str(fault)
            return
    for analysis in study.USUAL:
        assert analysis in found.results.names or "\n" not in found.reasons[analysis]
    suggestions = found.results.hanging.suggestions
    assert suggestions and all(np.isfinite(one.cost) for one in suggestions)
    assert laid and max(laid) < 2.5 * (PANELS + len(triangles))


def test_slivers_are_cut_into_the_number_of_pieces_that_is_wanted():
    """By area alone, 1e-4 mm by 200 mm made 10,954 pieces of 50."""
    strip = np.array([[[0, 0, 0], [200, 0, 0], [200, 1e-4, 0]], [[0, 0, 0], [200, 1e-4, 0], [0, 1e-4, 0]]]) * MM
    pieces, _ = cut(strip, lambda places: np.full(places.shape[:-1], np.inf), 50)
    assert 4 <= len(pieces) < 100


@pytest.mark.slow
def test_shells_with_open_edges_are_judged_at_once(monkeypatch):
    """One product of the operators for all of them, however many."""
    calls, without = [], Influence.without
    monkeypatch.setattr(Influence, "without", lambda self, rows: calls.append(rows.sum()) or without(self, rows))
    points, triangles = soup(np.random.default_rng(1).uniform(0, 0.04, (20, 3, 3)))
    part = Part.of("part.stl", points, triangles)
    run_to_end(study.run(part, read_job({"effort": EFFORT}), EmbreeTracer, only=["field"]))
    assert len(calls) <= 3 * (1 + field_panels.MAX_BURIED_LAYERS)  # for each solution, not for each shell
