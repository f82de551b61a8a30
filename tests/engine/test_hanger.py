"""The printed hanger: a closed solid that can be printed, free of the part but at its tips, and that holds the part."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
import trimesh

from addon.engine.errors import InputError
from addon.engine.helpers import beam, pads
from addon.engine.helpers.fingers import MIN_WALL, TIP_GAP_M
from addon.engine.helpers.hanger import Hanger
from addon.engine.helpers.lattice import union
from addon.engine.helpers.pads import TIP_ZONE
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.study import Study, run
from addon.engine.tank.arrange import arrange
from addon.engine.units import MM

import models
import scans
from tracers import EmbreeTracer

pytestmark = pytest.mark.usefixtures("coarse_coat")

DEMO = Path(__file__).parents[2] / "docs" / "demo" / "finial.py"
QUICK = {"directions": 50, "rays": 16, "skip": "field, coat, narrow, fits"}


def finial() -> models.Model:
    corners = runpy.run_path(str(DEMO))["finial"](4000).astype(float).reshape(-1, 3)
    points, place = np.unique(corners, axis=0, return_inverse=True)
    return points, place.reshape(-1, 3).astype(np.int32)


def bunny() -> models.Model:
    points, triangles = scans.coarse_mended_bunny()
    return points / MM, triangles


CUP = models.cup(10, 20, 1.5, around=64)
MODELS = {
    "cup": lambda: CUP,
    "bell": lambda: models.moved(CUP, turn=np.diag([1.0, -1.0, -1.0])),
    "ring": lambda: models.torus(20, 3),
    "finial": finial,
    "bunny": bunny,
}


def hung(model: models.Model, show: object = None, **sections: dict) -> Study:
    marks = {} if show is None else {"show": show}
    part = models.part(models.moved(model, scale=MM), **marks)
    settings = {"part": {"file": "x.stl", **sections.pop("part", {})}, "effort": QUICK, **sections}
    return run_to_end(run(part, read_job(settings), EmbreeTracer, only=["hanger"]))


@pytest.fixture(
    scope="module",
    params=["cup", *(pytest.param(name, marks=pytest.mark.slow) for name in MODELS if name != "cup")],
)
def study(request) -> Study:
    return hung(MODELS[request.param]())


def made(study: Study) -> Hanger:
    assert study.results.hanger is not None, study.reasons
    return study.results.hanger


def solid(one: Hanger) -> trimesh.Trimesh:
    return trimesh.Trimesh(one.points / MM, one.triangles, process=False)


@pytest.mark.slow
def test_it_is_one_closed_solid_turned_outward(study):
    one = made(study)
    mesh = solid(one)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1
    assert mesh.volume * MM**3 == pytest.approx(one.volume, rel=1e-9)
    assert mesh.area_faces.min() > 0


def test_it_keeps_off_the_part_but_touches_it_at_its_tips(study):
    """Distances by trimesh's sampling and libigl, neither of which the engine knows."""
    one, surface = made(study), study.surface
    tracer = EmbreeTracer(surface)
    points = trimesh.sample.sample_surface_even(solid(one), 20_000, seed=1)[0] * MM
    away = np.linalg.norm(points[:, None] - one.tips, axis=2).min(axis=1) > TIP_ZONE
    assert tracer.nearest(points[away]).min() >= one.clearance
    assert tracer.nearest(points).min() > 0.5 * TIP_GAP_M
    np.testing.assert_allclose(tracer.nearest(one.tips), 0.0, atol=1e-3 * MM)
    np.testing.assert_allclose(EmbreeTracer(surface_of(one)).nearest(one.tips), TIP_GAP_M, atol=0.06 * MM)


def surface_of(one: Hanger):
    return run_to_end(inspect(models.part((one.points, one.triangles))))


def test_the_wire_presses_the_part_against_every_tip(study):
    """Three forces upright at the tips, the wire's pull and the net load are in balance, and no tip pulls: statics,
    solved by numpy. Two tips: their line alone."""
    one, hanging = made(study), study.results.hanging
    pose = arrange(study.surface, study.in_tank, {}).poses[0]
    tips, wire = pose.of(one.tips), pose.of(one.wire)
    for state in (hanging.start, hanging.end):
        load = pose.of(state.point) if np.isfinite(state.point).all() else pose.of(hanging.body.centre)
        arms = np.vstack([np.ones(len(tips)), tips[:, :2].T])
        wanted = np.array([one.pull - state.net, *(one.pull * wire[:2] - state.net * load[:2])])
        if len(tips) == 2:
            along = tips[1, :2] - tips[0, :2]
            arms, wanted = (np.vstack([m[:1], along @ m[1:]]) for m in (arms, wanted[:, None]))
            wanted = wanted[:, 0]
        assert (np.linalg.solve(arms, wanted) > 0).all()


def test_it_prints_on_its_back_without_support(study):
    """No face looks down by more than 45 degrees from upright but the back on the bed: common practice of printing.

    0.3 degrees more: the planes of the lattice are rounded to 0.01 mm, and no slope is shorter than 2 mm.
    """
    one = made(study)
    mesh = solid(one)
    height = mesh.triangles_center @ one.flat
    down = mesh.face_normals @ one.flat < -np.sin(np.radians(45.3))
    bed = height < (mesh.vertices @ one.flat).min() + 0.01
    assert mesh.area_faces[down & ~bed].sum() < 3.0  # mm2: where a slope ends in a step
    assert mesh.area_faces[down & bed].sum() > 500


def test_no_wall_is_thinner_than_a_printer_makes(study):
    """By rays of an independent library from every face inward."""
    one = made(study)
    own = surface_of(one)
    start = own.centroid - 1e-6 * own.normal
    _, through = EmbreeTracer(own).first_hit(start, -own.normal)
    assert through.min() > MIN_WALL - 0.01 * MM


def test_gas_of_part_and_hanger_is_that_of_the_part(study):
    assert made(study).gas < 0.05e-6


def test_a_box_of_boxes_is_its_closed_form():
    points, triangles = union(
        [((0, 0, 0), (1, 2, 3)), ((0.5, 0.5, 1), (2, 1, 2)), ((0, 0, 3), (1, 1, 4)), ((1, 0, 0), (2, 0.25, 0.5))]
    )
    mesh = trimesh.Trimesh(points, triangles, process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(6 + 0.5 + 1 + 0.125, rel=1e-12)


def test_beams_by_integration():
    """Twice integrated curvature, and the least eigenvalue of w'' = -P w / (E I) on a clamped bar by differences."""
    modulus, inertia, length, force, moment = 3.5e9, 2e-10, 0.12, 1.5, 0.02
    x = np.linspace(0, length, 20001)
    curvature = (force * (length - x) + moment) / (modulus * inertia)
    step = x[1]
    slope = np.concatenate([[0], np.cumsum((curvature[1:] + curvature[:-1]) / 2 * step)])
    sag = float(((slope[1:] + slope[:-1]) / 2 * step).sum())
    assert beam.deflection(force, moment, length, modulus, inertia) == pytest.approx(sag, rel=1e-6)
    n = 200
    h = length / n  # half of a bar of twice the length on two hinges: even about its middle
    matrix = (2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)) / h**2
    matrix[0, 1] *= 2
    least = np.sort(np.linalg.eigvals(matrix).real)[0] * modulus * inertia
    assert beam.buckling(length, modulus, inertia) == pytest.approx(least, rel=1e-4)
    assert beam.second_moment(0.01, 0.004) == pytest.approx(0.01 * 0.004**3 / 12)


def test_a_floating_part_does_not_roll_off_two_fingers():
    """A ridge of radius r under two level tips, its balance point d below: turned by a small angle it rolls to one side.
    The energy of pull and lift, by differences, holds it upright at the pull that is asked for (1.5 times the least, and
    that with d in place of d - r), and lets it turn over at half of it."""
    u, v = np.arange(-30, 31) * pads.PITCH, np.arange(-60, 61) * pads.PITCH
    radius, below, lift = 6 * MM, 40 * MM, 0.004
    top = np.sqrt(np.maximum(radius**2 - u**2, 0.0)) - radius
    height = np.where(np.abs(u) < radius, top, -np.inf)[:, None] + np.zeros(len(v))
    seen = pads.Top(u, v, height, np.ones(height.shape, dtype=bool), np.full(height.shape, 0.5))
    stance = pads.two(seen, 5 * MM, 1.2 * MM, 0.5 * MM, [pads.Held(-lift, np.array([0.0, 0.0, -below]))])
    assert stance is not None and stance.front is None

    def energy(turn, pull):
        """Joules over GRAVITY, below a level plane: the middle of the ridge's circle stays r under it."""
        wire = -radius + radius * np.cos(turn)
        balance = -radius - (below - radius) * np.cos(turn)
        return -pull * wire - lift * balance

    def stiffness(pull):
        return (energy(0.01, pull) - 2 * energy(0.0, pull) + energy(-0.01, pull)) / 1e-4

    least = lift * (below - radius) / radius
    assert stiffness(least) == pytest.approx(0.0, abs=1e-9)
    assert stiffness(stance.pull) > 0 > stiffness(stance.pull / 2)
    assert stance.pull == pytest.approx(1.5 * lift * below / radius, rel=0.02)  # the radius is read off rays


@pytest.mark.slow
@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"tank": {"shape": "open"}}, "has no rim"),
        ({"part": {"material": "PLA"}, "bath": {"temperature_C": 48}}, "softens in this bath"),
        ({"tank": {"size_mm": [300, 200, 60], "level_mm": 60}}, "too near for a hanger"),
    ],
)
def test_why_there_is_none_is_one_line(settings, words):
    study = hung(CUP, **settings)
    assert study.results.hanger is None
    assert words in study.reasons["hanger"] and "\n" not in study.reasons["hanger"]


@pytest.mark.slow
def test_no_finger_stands_on_a_face_that_shows():
    model = models.box((30, 30, 20), (12, 12, 8))
    centre = model[0][model[1]].mean(axis=1)
    half = centre[:, 0] > centre[:, 0].mean()
    one = hung(model, show=half, part={"hang": "as set"}).results.hanger
    assert one is not None
    assert (one.tips[:, 0] < (model[0][:, 0].mean() + 0.5) * MM).all()
    with pytest.raises(InputError, match="off the faces that show"):
        raise InputError(hung(model, show=centre[:, 2] > 1, part={"hang": "as set"}).reasons["hanger"])


@pytest.mark.slow
@pytest.mark.parametrize("model", [models.box((10, 10, 10), (8, 8, 8)), models.cylinder(1.0, 40)], ids=["cube", "rod"])
def test_small_and_thin_parts_hang_too(model):
    """A cube of 10 mm, and a rod of 2 mm that lies level: closed, and off the part but for the tips."""
    lying = np.array([[0, 0, 1.0], [0, 1, 0], [-1, 0, 0]])
    study = hung(models.moved(model, turn=lying), part={"hang": "as set"})
    one = made(study)
    assert solid(one).is_watertight and solid(one).body_count == 1
    points = trimesh.sample.sample_surface_even(solid(one), 5_000, seed=1)[0] * MM
    away = np.linalg.norm(points[:, None] - one.tips, axis=2).min(axis=1) > TIP_ZONE
    assert EmbreeTracer(study.surface).nearest(points[away]).min() >= one.clearance
