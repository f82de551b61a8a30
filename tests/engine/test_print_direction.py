"""Which way up to print: steps under filler, coat and deposit, overhangs and supports, what is left to sand."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.printing import orientation, steps
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.units import MM, UM

import models
from tracers import EmbreeTracer

UP = np.array([0.0, 0.0, 1.0])


def surface(model, **marks) -> Surface:
    return run_to_end(inspection.inspect(models.part(models.moved(model, scale=MM), **marks)))


def searched(part: Surface, bath_up=UP, **printing) -> orientation.Orientation:
    job = read_job({"print": {"layer_mm": 0.2, **printing}})
    return run_to_end(
        orientation.search(part, EmbreeTracer(part), job.print, np.full(len(part.area), 70 * UM), np.array(bath_up))
    )


def stairs(slope: float, count: int = 12) -> Polygon:
    """The section of layers of height 1 on a slope (radians to level); solid below."""
    tread = 1.0 / np.tan(slope)
    corners = [(k * tread + side * tread, -k) for k in range(count) for side in (0, 1)]
    return Polygon([(0.0, -count - 5.0), *corners, (count * tread, -count - 5.0)])


@pytest.mark.parametrize("degrees", [25, 45, 70])
@pytest.mark.parametrize("layer", [0.3, 0.8])
def test_an_even_layer_lowers_steps_as_a_parallel_curve_does(degrees, layer):
    """Of the section grown by shapely: from crest to valley across the slope, in the middle of the flight."""
    slope = np.radians(degrees)
    grown = stairs(slope).buffer(layer, quad_segs=64)
    across = np.array([np.sin(slope), np.cos(slope)])
    points = np.array(grown.exterior.coords)
    along = points @ [np.cos(slope), -np.sin(slope)]
    pitch = 1.0 / np.sin(slope)  # along the slope, from step to step
    middle = points[(along > 4 * pitch) & (along < 7 * pitch)] @ across
    told = steps.remaining_step(np.array([np.cos(slope)]), 1.0, 0.0, layer)[0]
    assert told == pytest.approx(np.ptp(middle), abs=2e-3)


def test_filler_runs_to_the_height_that_its_volume_fills():
    """Steps of 1 on 45 degrees: what fills a right-angled groove of depth c up to x has the area x^2 (shapely)."""
    groove = Polygon([(-1, 1), (0, 0), (1, 1)])
    for fill in (0.25, 0.6):
        filled = groove.intersection(box(-1, 0, 1, fill)).area
        mean = filled / 2.0
        assert steps.remaining_step(np.array([np.sqrt(0.5)]), np.sqrt(2.0), mean, 0.0)[0] == pytest.approx(1.0 - fill)


def test_a_tilted_box_is_laid_on_a_face():
    """Tilted by 30 degrees all six faces have steps or an edge on the bed; on a face there is nothing to sand."""
    tilt = np.array([[1, 0, 0], [0, np.cos(np.pi / 6), -0.5], [0, 0.5, np.cos(np.pi / 6)]])
    found = searched(surface(models.moved(models.box((20, 30, 10)), turn=tilt)))
    best = found.better
    assert best is not None and best.effort == 0 and best.bed_area > 0
    assert np.abs(tilt.T @ best.up).max() == pytest.approx(1, abs=1e-6)
    assert found.as_set.effort > 0


def test_supports_under_a_cap_stand_on_the_foot():
    """A reel: disks of 10 mm radius on a stem of 3 mm, 96 sides. The support fills the ring: pi (10^2 - 3^2) mm2 above and
    as much below."""
    profile = [(0, 0), (10, 0), (10, 2), (3, 2), (3, 12), (10, 12), (10, 14), (0, 14)]
    found = searched(surface(models.lathe(profile, 96)))
    ring = np.pi * (100 - 9) * (96 / (2 * np.pi)) * np.sin(2 * np.pi / 96) * MM**2
    assert found.as_set.overhang_area == pytest.approx(ring, rel=1e-3)
    assert found.as_set.landing_area == pytest.approx(ring, rel=1e-2)
    assert found.as_set.height == pytest.approx(14 * MM)


def test_the_larger_ball_is_sanded_first():
    """Steps of h |cos| on a ball with none below 25 um: pi R^2 h (1 - (25 um / h)^2) to take away (Archimedes); no
    growth. 2 % for 1280 faces."""
    small, large = models.sphere(5, 3), models.moved(models.sphere(10, 3), (30, 0, 0))
    part = surface(models.joined(small, large))
    job = read_job({"print": {"layer_mm": 0.2}})
    found = steps.sanding(part, job.print, np.zeros(len(part.area)), UP)
    assert np.linalg.norm(found.regions[0].point - [0.03, 0, 0]) == pytest.approx(10 * MM, rel=0.02)
    assert all(a.effort >= b.effort for a, b in pairwise(found.regions))
    whole = np.pi * 0.2 * (1 - 0.125**2) * (5**2 + 10**2) * MM**3
    assert found.effort == pytest.approx(whole, rel=0.02)


def test_faces_that_do_not_show_cost_next_to_nothing():
    ball = models.sphere(10, 3)
    show = np.zeros(len(ball[1]), dtype=bool)
    show[0] = True
    assert searched(surface(ball, show=show)).as_set.effort < 0.2 * searched(surface(ball)).as_set.effort


def test_a_way_up_costs_the_same_in_any_frame():
    cone = models.lathe([(0, 0), (15, 0), (4, 12), (0, 12)], 24)
    turn = models.rotation(6)
    up = (turn @ UP).tolist()
    as_is = searched(surface(cone))
    turned = searched(surface(models.moved(cone, turn=turn)), up, up=up)
    assert turned.as_set.effort == pytest.approx(as_is.as_set.effort, rel=1e-6)
    assert turned.as_set.rough_area == pytest.approx(as_is.as_set.rough_area, rel=1e-6)


def test_the_layer_height_that_vanishes_under_filler():
    """On a cone of 45 degrees filler of f = 50 um leaves c - sqrt(2 f c) of steps of c: 2 um of 104 um, those of layers of
    147 um. At 200 um it takes half of the steps' 141 um."""
    part = surface(models.lathe([(0, 0), (10, 0), (0, 10)], 256))
    job = read_job({"print": {"layer_mm": 0.2, "filler_um": 50}})
    found = steps.sanding(part, job.print, np.zeros(len(part.area)), UP)
    step = (5 + np.sqrt(27)) ** 2 * UM  # the root of c - 10 sqrt(c) = 2
    assert found.hidden_layer == pytest.approx(step * np.sqrt(2), rel=2e-3)
    assert found.hidden_filler == pytest.approx(100 * UM / np.sqrt(2), rel=1e-3)
