"""The printed cage for parts that no finger holds from above: two closed plates with bars that the part cannot leave.

Meshes are judged by trimesh, distances by libigl, the outline among the bars by shapely; the engine knows none of them.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import shapely.affinity
import trimesh

from addon.engine.errors import InputError
from addon.engine.helpers.hanger import Hanger
from addon.engine.helpers.printed import MIN_WALL
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import run_to_end
from addon.engine.reporting import plan_helpers
from addon.engine.settings.job import read_job
from addon.engine.study import Study
from addon.engine.units import MM

import models
from test_hanger import hung, solid
from tracers import EmbreeTracer

pytestmark = pytest.mark.usefixtures("coarse_coat")

UPRIGHT = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
PARTS = {
    "pin": models.cylinder(1.5, 30, around=32),
    "cone": models.lathe([(0, 0), (8, 0), (0, 40)], 48),
    "cube": models.box((5, 5, 5), (2, 2, 2)),
    "ring": models.moved(models.torus(10, 1, 48, 16), turn=UPRIGHT),
}


@pytest.fixture(
    scope="module", params=["pin", *(pytest.param(name, marks=pytest.mark.slow) for name in PARTS if name != "pin")]
)
def study(request) -> Study:
    return hung(PARTS[request.param], part={"hang": "as set"})


def made(study: Study) -> Hanger:
    one = study.results.hanger
    assert one is not None and one.cage is not None, study.reasons
    return one


def test_both_plates_are_closed_and_print_without_support(study):
    """One lies on the one side, the other on the other; no wall is thinner than a printer makes."""
    one = made(study)
    mesh = solid(one)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == one.bodies == 2
    assert mesh.volume * MM**3 == pytest.approx(one.volume, rel=1e-9) and mesh.area_faces.min() > 0
    bodies = sorted(mesh.split(), key=lambda body: (body.vertices @ one.flat).min())
    for body, flat in zip(bodies, (one.flat, -one.flat), strict=True):
        down = body.face_normals @ flat < -np.sin(np.radians(45.3))
        bed = body.triangles_center @ flat < (body.vertices @ flat).min() + 0.01
        assert body.area_faces[down & ~bed].sum() == 0.0 and body.area_faces[down & bed].sum() > 200
        own = run_to_end(inspect(models.part((body.vertices * MM, body.faces.astype(np.int32)))))
        _, through = EmbreeTracer(own).first_hit(own.centroid - 1e-6 * own.normal, -own.normal)
        assert through.min() > MIN_WALL - 0.01 * MM


def test_it_keeps_off_the_part_and_the_wire_leads_to_it(study):
    one, tracer = made(study), EmbreeTracer(study.surface)
    points = trimesh.sample.sample_surface_even(solid(one), 20_000, seed=1)[0] * MM
    assert tracer.nearest(points).min() >= one.clearance
    np.testing.assert_allclose(tracer.nearest(np.vstack([one.tips, one.wire])), 0.0, atol=1e-3 * MM)
    assert one.gas < 0.05e-6
    lines = plan_helpers.hanger_lines(one)
    assert any("lead it out between the bars" in line for line in lines)
    assert plan_helpers.costs("hanger", study.results) == ["No gas is kept between it and the part"]


def test_the_part_cannot_leave_it(study):
    """Across the rod its outline, moved any way a little further than is told, meets a bar; along it, a post or a
    plate meets the part."""
    one, cage = made(study), made(study).cage
    across = np.linalg.svd(one.flat[None])[2][1:]
    corners = study.surface.corners / MM
    outline = shapely.union_all([shapely.Polygon(corner @ across.T).buffer(1e-3) for corner in corners])
    middle = float((corners.reshape(-1, 3) @ one.flat).mean())
    cut = trimesh.intersections.mesh_plane(solid(one), one.flat, (middle + 0.05) * one.flat)
    bars = shapely.union_all([shapely.LineString(line @ across.T) for line in cut])
    assert not outline.intersects(bars)
    furthest = cage.shift / MM + 1.0
    for angle in np.linspace(0, 2 * np.pi, 48, endpoint=False):
        way = furthest * np.array([np.cos(angle), np.sin(angle)])
        swept = [shapely.affinity.translate(outline, *(share * way)) for share in np.linspace(0, 1, 24)]
        assert any(moved.intersects(bars) for moved in swept), angle
    part = trimesh.Trimesh(study.surface.points / MM, study.surface.triangles, process=False)
    points = trimesh.sample.sample_surface_even(solid(one), 20_000, seed=2)[0]
    for sign in (1.0, -1.0):
        assert part.contains(points + sign * (cage.play / MM + 0.4) * one.flat).any()


@pytest.mark.slow
def test_where_every_side_shows_or_the_tank_is_too_small_that_is_one_line():
    pin = PARTS["pin"]
    every = hung(pin, show=np.ones(len(pin[1]), dtype=bool), part={"hang": "as set"})
    assert every.results.hanger is None and "off the faces that show" in every.reasons["hanger"]
    narrow = hung(pin, part={"hang": "as set"}, tank={"size_mm": [40, 20, 120], "level_mm": 100})
    assert narrow.results.hanger is None and "wall or floor" in narrow.reasons["hanger"]
    assert "\n" not in every.reasons["hanger"] + narrow.reasons["hanger"]


@pytest.mark.parametrize("rim", [-1, 0, "thick", 1e6, float("nan")])
def test_a_rim_that_is_no_rim_is_one_line_that_names_the_key(rim):
    with pytest.raises(InputError, match=r"^job: hanger\.rim_mm: [^\n]*$"):
        read_job({"part": {"file": "x.stl"}, "hanger": {"rim_mm": rim}})


@pytest.mark.slow
def test_an_open_part_and_one_larger_than_its_tank_are_one_line():
    points, triangles = models.cylinder(3, 40, around=24)
    opened = hung((points, triangles[1:]), part={"hang": "as set"})
    assert opened.results.hanger is None and opened.reasons["hanger"].endswith("the mesh is open; close it first")
    large = hung((points, triangles), part={"hang": "as set"}, tank={"size_mm": [300, 200, 30], "level_mm": 25})
    assert large.results.hanger is None and "\n" not in large.reasons["hanger"]
