"""Layer steps, growth and the inset copy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.engine.printing import prepare
from addon.engine.settings.job import read_job
from addon.engine.mesh.surface import Surface
from addon.engine.units import MM, UM

import models


def surface(model, plated=None) -> Surface:
    points, triangles = model
    yes = np.ones(len(triangles), dtype=bool)
    sides = np.ones(len(triangles), dtype=np.int8)
    shell = np.zeros(len(triangles), dtype=np.int32)
    plated = yes if plated is None else plated
    return Surface("part", points, triangles, shell, yes, plated, ~yes, sides, True, 0.0)


def inspected(surface, **print_):
    job = read_job({"print": print_, "target": {"thickness_um": 30}, "coat": {"thickness_um": 40}})
    return prepare.inspect(surface, job.print, job.target, job.coat)


def wedge(angle: float) -> models.Model:
    """A closed prism with one face `angle` radians from level, 1 m wide."""
    rise = np.tan(angle)
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 0, rise], [0, 1, 0], [1, 1, 0], [1, 1, rise]])
    faces = [(0, 1, 2), (3, 5, 4), (0, 4, 1), (0, 3, 4), (1, 4, 5), (1, 5, 2), (0, 2, 5), (0, 5, 3)]
    return points, np.array(faces, dtype=np.int32)


@pytest.mark.parametrize(("layer", "degrees", "cusp"), [(0.2, 45, 141.4), (0.1, 45, 70.7), (0.2, 15, 193.2)])
def test_cusp_height(layer, degrees, cusp):
    """c = h |cos| (Dolenc and Makela, Comp.-Aided Design 26 (1994) 119): 0.2 mm at 45 degrees is 141.4 um."""
    found = inspected(surface(wedge(np.radians(degrees))), layer_mm=layer)
    assert found.staircase[6:] / UM == pytest.approx(cusp, abs=0.05)
    assert found.maximum / UM == pytest.approx(cusp, abs=0.05)


def test_level_and_upright_faces_have_no_steps():
    found = inspected(surface(models.box((1, 1, 1))))
    assert found.staircase == pytest.approx(0, abs=1e-12)
    assert found.sanding_area == 0 and found.step_area_ratio == pytest.approx(1)


def test_a_sphere_s_steps():
    """Median of |cos| over a sphere is 1/2, 95 % lie below 0.95 (z is uniform: Archimedes); steps taken as
    square enlarge the area by 0.5 + pi/4; half of it has steps above half a layer. 1 % for 5120 faces."""
    ball = surface(models.sphere(20 * MM, 4))
    found = inspected(ball, layer_mm=0.05)
    assert found.median / UM == pytest.approx(25, rel=0.01)
    assert found.p95 / UM == pytest.approx(47.5, rel=0.01)
    assert found.step_area_ratio == pytest.approx(0.5 + np.pi / 4, rel=0.01)
    assert found.sanding_area / ball.area.sum() == pytest.approx(0.5, abs=0.01)


def test_steps_turn_with_the_printer_s_up():
    ball = models.sphere(20 * MM, 3)
    turn = models.rotation(3)
    a = inspected(surface(ball), up=[0, 0, 1])
    b = inspected(surface(models.moved(ball, turn=turn)), up=list(turn[:, 2]))
    assert b.staircase == pytest.approx(a.staircase, rel=1e-6)


def test_masked_faces_do_not_count():
    ball = models.sphere(20 * MM, 3)
    low = surface(ball).centroid[:, 2] < 0
    found = inspected(surface(ball, ~low))
    assert found.sanding_area == pytest.approx(inspected(surface(ball)).sanding_area / 2, rel=0.01)


def test_growth_bores_and_threads():
    """Coat 40 um and deposit 30 um: a hole loses twice, a 60 degree thread's pitch diameter gains four times
    (ASME B1.1-2019 section 7)."""
    found = inspected(surface(models.box()))
    assert (found.growth / UM, found.bore_loss / UM, found.thread_growth / UM) == pytest.approx((70, 140, 280))


@pytest.mark.parametrize("cells", [(1, 1, 1), (3, 4, 5)])
def test_an_inset_box_is_to_size_with_sharp_edges(cells):
    box = surface(models.box((0.02, 0.03, 0.04), cells))
    found = prepare.inset(box, 100 * UM)
    assert found.points.min(axis=0) == pytest.approx([1e-4] * 3, abs=1e-12)
    assert found.points.max(axis=0) == pytest.approx(np.array([0.02, 0.03, 0.04]) - 1e-4, abs=1e-12)
    assert not len(found.inverted)


def test_each_face_moves_by_its_own_thickness():
    """A box whose faces across x get 200 um and the others 50 um: each plane lands at its own distance."""
    box = surface(models.box((0.02, 0.03, 0.04), (2, 2, 2)))
    thickness = np.where(np.abs(box.normal[:, 0]) > 0.5, 200 * UM, 50 * UM)
    found = prepare.inset(box, thickness)
    assert found.points.min(axis=0) == pytest.approx([2e-4, 5e-5, 5e-5], abs=1e-12)


def test_a_masked_face_stays_where_it_is():
    box = models.box((0.02, 0.03, 0.04), (2, 2, 2))
    floor = surface(box).normal[:, 2] < -0.5
    found = prepare.inset(surface(box, ~floor), 100 * UM)
    assert found.points[:, 2].min() == pytest.approx(0, abs=1e-12)
    assert found.points[:, 0].min() == pytest.approx(1e-4, abs=1e-12)


def test_an_inset_sphere_grows_back_to_its_radius():
    """Offsets of a smooth surface: the radius falls by the thickness, to the facets' sagitta."""
    found = prepare.inset(surface(models.sphere(20 * MM, 4)), 100 * UM)
    assert np.linalg.norm(found.points, axis=1) == pytest.approx(19.9 * MM, rel=1e-5)


def test_inset_does_not_depend_on_the_triangulation_or_the_frame():
    ball = models.moved(models.sphere(20 * MM, 2), scale=1.0)
    turn = models.rotation(5)
    a = prepare.inset(surface(ball), 100 * UM).points
    b = prepare.inset(surface(models.moved(ball, turn=turn)), 100 * UM).points
    assert b == pytest.approx(a @ turn.T, abs=1e-12)


def test_a_wall_thinner_than_the_layer_is_found():
    """A sheet 0.1 mm thick cannot give way to 0.1 mm on both sides: its faces turn over."""
    sheet = surface(models.box((0.02, 0.03, 0.0001), (4, 4, 1)))
    found = prepare.inset(sheet, 100 * UM)
    assert len(found.inverted)


def test_steps_thin_the_deposit_by_one_less_the_inverse_of_their_area():
    """The same charge on 1.231 times the area is 1 / 1.231 as thick: 18.8 % thinner, not 23 %; a sphere's steps have 0.5 +
    pi / 4 times its area."""
    found = inspected(surface(models.sphere(0.02, 4)))
    assert found.step_thinning == pytest.approx(1 - 1 / (0.5 + np.pi / 4), abs=5e-3)
    assert replace(found, step_area_ratio=1.231).step_thinning == pytest.approx(0.188, abs=5e-4)
