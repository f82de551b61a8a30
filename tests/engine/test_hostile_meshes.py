"""Meshes that no print has: one sentence before any analysis, or results without a traceback and in bounded work."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine import study
from addon.engine.errors import InputError
from addon.engine.hanging import mass
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.units import MM

import models
from tracers import EmbreeTracer

BOX = models.moved(models.box((20, 30, 10)), scale=MM)
CORNER = np.array([[0, 0, 0], [30, 0, 0], [0, 30, 0]]) * MM


def answer(points, triangles, only=("deposit", "gas", "drainage", "narrow", "openness"), job=None):
    return run_to_end(study.run(Part.of("part.stl", points, triangles), read_job(job or {}), EmbreeTracer, only=only))


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (BOX[0] * 1e-6, "is 3e-05 mm long, and less than 0.01 mm"),
        (BOX[0] * 1e6, "is 3e+04 m long, and more than 10 m"),
        (BOX[0] * 3e38, "long, and more than 10 m"),
        (BOX[0] + 1e6, "lies 1e+06 m from the origin"),
        (np.where(BOX[0] == BOX[0].max(), 1e200, BOX[0]), "more than 10 m"),
        (np.where(BOX[0] == BOX[0].max(), np.inf, BOX[0]), "not finite"),
        (np.full(BOX[0].shape, 0.01), "no face has an area"),
    ],
)
def test_a_model_out_of_all_bounds_is_one_sentence(points, said):
    with np.errstate(all="raise", under="ignore"), pytest.raises(InputError) as caught:
        answer(points, BOX[1])
    assert said in str(caught.value) and "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("factor", "unit", "likely", "length"),
    [(1000, "m", "mm", "30 mm"), (0.0001, "mm", "m", "3 mm"), (1000, "inch", "mm", "1.18e+03 mm")],
)
def test_the_sentence_names_the_unit_that_makes_a_usual_part(factor, unit, likely, length):
    """A file in one unit read as another is off by the ratio of the two."""
    points = BOX[0] * factor
    with pytest.raises(InputError) as caught:
        answer(points, BOX[1], job={"part": {"unit": unit}})
    if unit == "inch":  # 30 m / 25.4 is no usual part in any unit
        assert "check its unit and scale" in str(caught.value)
    else:
        assert f"say part.unit = '{likely}', and it is {length} long" in str(caught.value)


def test_a_point_that_no_face_uses_does_no_harm():
    found = answer(np.vstack([BOX[0], [[1e9, 0, 0]]]), BOX[1], only=["deposit"])
    assert found.results.deposit.area == pytest.approx(2 * (6 + 3 + 2) * 1e-4)


DEGENERATE = {  # beside those of test_hostile_models, whose whole studies say so as well
    "one triangle on edge": (CORNER[:, [2, 0, 1]], [[0, 1, 2]]),
    "two triangles": (np.vstack([CORNER, [[0.03, 0.03, 0]]]), [[0, 1, 2], [1, 3, 2]]),
    "a triangle in one place": (
        np.vstack([BOX[0], np.full((3, 3), 0.005)]),
        np.vstack([BOX[1], np.arange(3) + len(BOX[0])]),
    ),
    "a box of 0.01 mm as a file keeps it": ((BOX[0] / 0.03 * 0.01).astype(np.float32).astype(float) * MM, BOX[1]),
    "a box of 0.011 mm": (BOX[0] * (0.011 / 30), BOX[1]),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", DEGENERATE)
def test_flat_and_tiny_meshes_are_answered(name):
    """Finite ways up, or a reason in words; no warning of numpy on the way."""
    found = answer(*DEGENERATE[name], only=("deposit", "gas", "narrow", "openness", "hanging"))
    hanging = found.results.hanging
    assert hanging.suggestions and all(np.isfinite(one.cost) for one in hanging.suggestions)


@pytest.mark.parametrize("thickness", [1e-4, 1e-3, 1e-2, 1.0, 30.0])
def test_what_is_weighed_is_sampled_at_a_bounded_number_of_points(thickness):
    """About `SAMPLES` points, however thin the box: 2.7 million before at 1e-3 mm."""
    points = mass.sample_points(np.array([[0, 0, 0], [40, 30, thickness]]) * MM, 0)
    assert mass.SAMPLE_CELLS <= len(points) < 1.3 * mass.SAMPLE_CELLS
    assert (points >= 0).all() and (points[:, :2] <= np.array([40, 30]) * MM).all()
