"""Rack, anode holders, shields and thief: closed solids that can be printed, clear of the part and its wires, that stand
where the tank is. Meshes and distances are judged by trimesh and libigl, beams by integration; the engine knows neither."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import trimesh

from addon.engine.errors import InputError
from addon.engine.helpers import apart, beam, shield, thief
from addon.engine.helpers.anode_holder import AnodeHolders
from addon.engine.helpers.printed import MIN_WALL, Printed, under
from addon.engine.helpers.trial import ALIKE, Evenness
from addon.engine.helpers.trial import Tank as TriedTank
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import Progress, run_to_end
from addon.engine.settings.job import read_job
from addon.engine.settings.tank import Tank
from addon.engine.study import Study, kinds, printed, run, together
from addon.engine.study.stands import printed_in
from addon.engine.tank.arrange import arrange
from addon.engine.tank.body import Role
from addon.engine.units import MM

import models
from tracers import EmbreeTracer

pytestmark = pytest.mark.slow

PLATE = models.box((40, 3, 30), (10, 1, 8))
CUP = models.cup(10, 20, 1.5, around=24)
SKIP = "field, coat, narrow, fits"


def stood(model: models.Model, *names: str, **sections: dict) -> Study:
    part = models.part(models.moved(model, scale=MM))
    effort = {"directions": 50, "rays": 16, "panels": 500, "skip": SKIP}
    settings = {"part": {"file": "x.stl", "hang": "as set", **sections.pop("part", {})}, "effort": effort, **sections}
    return run_to_end(run(part, read_job(settings), EmbreeTracer, only=names))


TWO_ROWS = {"rack": {"positions_mm": [[x, 0, z] for z in (155, 70) for x in (-50, 0, 50)], "turns_deg": [0] * 6}}
ROUND = {
    "tank": {"shape": "cylinder", "size_mm": [200, 250], "level_mm": 220},
    "anode": [{"plate_mm": [60, 90], "centre_mm": [0, y, 120], "normal": [0, -y, 0]} for y in (70, -70)],
}


@pytest.fixture(scope="module")
def plate() -> Study:
    """One window and one distance are enough here: each that is tried costs a solution."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shield, "PLACES", (8 * MM,))
        patch.setattr(shield, "WINDOWS", (0.7,))
        patch.setattr(thief, "AWAY", (5 * MM,))
        return stood(PLATE, "anode_holder", "shield", "thief")


@pytest.fixture(scope="module")
def rack() -> Study:
    return stood(CUP, "rack_holder", **TWO_ROWS)


@pytest.fixture(scope="module")
def bowl() -> Study:
    return stood(CUP, "anode_holder", **ROUND)


@pytest.fixture(params=["rack", "anode-holder", "shield", "thief", "round"])
def one(request, plate, rack, bowl) -> tuple[Study, Printed]:
    study = {"rack": rack, "round": bowl}.get(request.param, plate)
    name = "anode-holder" if request.param == "round" else request.param
    found = printed_in(study.results)
    assert name in found, study.reasons
    return study, found[name]


def solid(made: Printed) -> trimesh.Trimesh:
    return trimesh.Trimesh(made.points / MM, made.triangles, process=False)


def test_it_is_closed_and_of_the_stated_bodies(one):
    mesh = solid(one[1])
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == one[1].bodies
    assert mesh.volume * MM**3 == pytest.approx(one[1].volume, rel=1e-9)
    assert mesh.area_faces.min() > 0


def test_it_prints_without_support_and_no_wall_is_too_thin(one):
    """Nothing looks down by more than 45 degrees but what lies on the bed, each body by itself: common practice."""
    for body in solid(one[1]).split():
        height, flat = body.triangles_center @ one[1].flat, one[1].flat
        down = body.face_normals @ flat < -np.sin(np.radians(45.5))
        bed = height < (body.vertices @ flat).min() + 0.01
        assert body.area_faces[down & ~bed].sum() == 0.0
        assert body.area_faces[down & bed].sum() > 50
        own = run_to_end(inspect(models.part((body.vertices * MM, body.faces.astype(np.int32)))))
        _, through = EmbreeTracer(own).first_hit(own.centroid - 1e-6 * own.normal, -own.normal)
        assert through.min() > MIN_WALL - 0.01 * MM


def test_it_keeps_off_part_and_wires_as_it_says(one):
    """Points spread over it by trimesh, distances by libigl. A rack bears its wires; the others keep off them too."""
    study, made = one
    points = trimesh.sample.sample_surface_even(solid(made), 4000, seed=1)[0] * MM
    tracer = EmbreeTracer(study.surface)
    poses = arrange(study.surface, study.in_tank, {}).poses
    off = min(tracer.nearest((points - pose.shift) @ pose.turn).min() for pose in poses)
    assert off >= made.clearance - 1e-9 >= study.job.hanger.clearance - 1e-9
    assert off == pytest.approx(made.clearance, abs=1.5 * MM)  # the densest sample of either
    if np.isfinite(made.wire_clearance):
        assert made.wire_clearance >= study.job.hanger.clearance


def test_it_stands_in_its_tank(one):
    """Inside the walls, but for what hangs over the rim; hooks and saddles rest at the rim's height."""
    study, made = one
    tank, points = study.in_tank.tank, made.points
    wet = points[points[:, 2] < tank.level]
    half = np.array(tank.size[:2]) / 2
    inside = np.linalg.norm(wet[:, :2], axis=1) < half[0] if tank.shape == "cylinder" else (np.abs(wet[:, :2]) < half)
    assert np.all(inside) and points[:, 2].min() > 0
    assert tank.size[2] < points[:, 2].max() < tank.size[2] + 40 * MM


def test_wires_hang_straight_over_their_copies_in_grooves_of_the_rack(rack):
    found = rack.results.rack_holder
    anchors = printed.rack.anchors(rack.surface, rack.results.hanging, printed.wires(rack))
    wanted = np.concatenate([pose.of(anchors) for pose in arrange(rack.surface, rack.in_tank, {}).poses])
    assert found.rows == 2 and found.copies == 6 and len(found.wires) == len(wanted)
    np.testing.assert_allclose(np.sort(found.wires[:, 0]), np.sort(wanted[:, 0]), atol=0.01 * MM)
    assert np.ptp(np.append(found.wires[:, 1], wanted[:, 1])) < 5 * MM
    mesh = solid(found.printed)
    beside = np.repeat(found.wires / MM, 2, axis=0)
    beside[::2, 0] += 1.6  # a groove is 1.2 wide: beside it there is plastic, in it none
    beside[1::2, 2] -= 2
    beside[::2, 2] -= 2
    filled = mesh.contains(beside)
    assert filled[::2].all() and not filled[1::2].any()


def test_a_plate_stands_on_its_feet_and_between_its_strips(plate, bowl):
    """The plate, as thick as it was said to be, meets no strip, and its lower edge is 0.2 mm over the foot."""
    for study in (plate, bowl):
        found: AnodeHolders = study.results.anode_holder
        mesh = solid(found.printed)
        bodies = [b for b in arrange(study.surface, study.in_tank, {}).bodies if b.role == Role.ANODE]
        assert [2] * len(bodies) == list(found.strips)
        for body in bodies:
            low, high = body.bounds / MM
            flat = int(np.argmin((high - low)[:2]))
            low[flat], high[flat] = low[flat] - found.plate / MM / 2, high[flat] + found.plate / MM / 2
            corners = np.stack(np.meshgrid(*(np.linspace(a, b, 30) for a, b in zip(low, high, strict=True))), -1)
            assert not mesh.contains(corners.reshape(-1, 3)).any()
            below = corners[..., 2].min() - 0.3
            feet = np.array([[x, y, below] for x, y in np.unique(corners.reshape(-1, 3)[:, :2].round(9), axis=0)])
            assert mesh.contains(feet).any()


def test_shield_and_thief_even_the_deposit_out_and_say_by_how_much(plate):
    for found in (plate.results.shield, plate.results.thief):
        assert found.even_before * (1 + ALIKE) <= found.even < 1
    assert 0 < plate.results.thief.share < 0.5
    loop = trimesh.Trimesh(*plate.results.thief.solid, process=False)
    assert loop.is_watertight and loop.body_count == 1


def test_beside_another_thief_the_parts_keep_their_current():
    """1.5 A of which a thief takes a third leave the parts 1 A; where thieves take half, 2 A do."""
    found, before = Evenness(0.6, 0.5), Evenness(0.5, 1 / 3)
    assert 1.5 * found.times(before) == pytest.approx(2.0)
    assert found.times(Evenness(0.5)) == pytest.approx(2.0)


def test_a_bar_on_two_supports_by_integration():
    """Moments by equilibrium of what is to the right, curvature summed twice."""
    forces, places, supports = np.array([2.0, 1.0, 3.0]), np.array([-0.1, 0.02, 0.13]), (-0.08, 0.08)
    modulus, inertia = 3.5e9, 2e-10
    x = np.linspace(-0.15, 0.15, 60001)
    right = forces @ (places - supports[0]) / (supports[1] - supports[0])
    push = [*-forces, forces.sum() - right, right]
    moment = sum(p * np.maximum(x - at, 0) for p, at in zip(push, [*places, *supports], strict=True))
    slope = np.concatenate([[0], np.cumsum((moment[1:] + moment[:-1]) / 2 * (x[1] - x[0]))]) / (modulus * inertia)
    rise = np.concatenate([[0], np.cumsum((slope[1:] + slope[:-1]) / 2 * (x[1] - x[0]))])
    ends = np.interp(supports, x, rise)
    rise -= ends[0] + (x - supports[0]) / (supports[1] - supports[0]) * (ends[1] - ends[0])
    at = np.array([-0.15, -0.1, 0.0, 0.02, 0.13, 0.15])
    found = beam.sag(forces, places, supports, at, modulus, inertia)
    np.testing.assert_allclose(found, -np.interp(at, x, rise), rtol=1e-5, atol=1e-12)
    middle = beam.sag([1.0], [0.0], supports, [0.0], modulus, inertia)[0]
    assert middle == pytest.approx(0.16**3 / (48 * modulus * inertia), rel=1e-9)


def test_what_is_under_the_bath_is_its_volume_below_the_level():
    points, triangles = models.box((10, 20, 30), (2, 2, 3))
    low = points[:, 2].min()
    assert under(points, triangles.astype(np.int32), low + 12) == pytest.approx(10 * 20 * 12, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "settings", "words"),
    [
        ("rack_holder", {}, "no copies are asked for"),
        ("rack_holder", {"rack": {"positions_mm": [[0, 0, 150], [0, 0, 126]]}}, "too near for a bar"),
        ("rack_holder", {"rack": {"positions_mm": [[-40, 0, 120], [40, 30, 120]]}}, "off one plane"),
        (
            "anode_holder",
            {"anode": [{"plate_mm": [50, 80], "centre_mm": [0, 98, 110], "normal": [0, -1, 0]}]},
            "too near",
        ),
        ("anode_holder", {"anode": [{"plate_mm": [50, 80], "centre_mm": [0, 0, 5], "normal": [0, 0, 1]}]}, "upright"),
        ("shield", {"tank": {"shape": "open"}}, "has no rim"),
        ("thief", {"bath": {"temperature_C": 48}}, "softens in this bath"),
    ],
)
def test_why_there_is_none_is_one_line(name, settings, words):
    study = stood(CUP, name, **settings)
    assert getattr(study.results, name) is None
    assert words in study.reasons[name] and "\n" not in study.reasons[name]


def test_what_cannot_be_made_is_told_before_anything_is_computed():
    job = read_job({"part": {"file": "x.stl"}, "bath": {"temperature_C": 48}})
    for what in kinds.BY_OPTION:
        with pytest.raises(InputError, match="softens"):
            printed.check(job, what)
    with pytest.raises(InputError, match="no copies"):
        printed.check(read_job({"part": {"file": "x.stl"}}), "rack")
    with pytest.raises(InputError, match="no rim"):
        printed.check(replace(read_job({"part": {"file": "x.stl"}}), tank=Tank(shape="open")), "hanger")


@pytest.fixture(scope="module")
def unsolved() -> Study:
    """Anode holders, frames and former where whatever is tried evens the deposit out: only where they stand counts."""

    def solved(_tank: object, shields: Sequence[object] = (), thieves: Sequence[object] = ()) -> Progress[Evenness]:
        yield from ()
        return Evenness(0.9 if shields or thieves else 0.5, 0.2 if thieves else 0.0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TriedTank, "solved", solved)
        return stood(PLATE, "anode_holder", "shield", "thief")


def test_all_of_one_tank_stay_apart(unsolved):
    """Anode holders, two frames, a former and its wire in one tank, each from each: distances by libigl, of points
    that trimesh spreads."""
    together.check_apart(unsolved)
    made = printed_in(unsolved.results)
    surfaces = {
        name: run_to_end(inspect(models.part((one.points, one.triangles.astype(np.int32)))))
        for name, one in made.items()
    }
    tracers = {name: EmbreeTracer(surface) for name, surface in surfaces.items()}
    spread = {name: trimesh.sample.sample_surface_even(solid(one), 3000, seed=1)[0] * MM for name, one in made.items()}
    for name, other in combinations(made, 2):
        away = min(tracers[other].nearest(spread[name]).min(), tracers[name].nearest(spread[other]).min())
        assert away >= unsolved.job.hanger.clearance
        found = apart.distance(*(one.points[one.triangles] for one in (made[name], made[other])), 5 * MM)
        assert found <= away + 1e-9 or np.isinf(found)


def test_two_that_get_in_each_other_s_way_are_named_in_one_line(unsolved, rack):
    """A rack's bar lies where the former's does: both are in the plane of the parts."""
    both = replace(unsolved, results=replace(unsolved.results, rack_holder=rack.results.rack_holder))
    with pytest.raises(
        InputError, match=r"^rack and (shield|thief) come nearer to each other .* than 0\.4 mm; print only one"
    ):
        together.check_apart(both)
    box, other = models.box((10, 10, 10), (1, 1, 1)), models.box((4, 4, 40), (1, 1, 1))
    corners = [(points * MM)[faces] for points, faces in (box, other)]
    shifts = [corners[1] + np.array([x * MM, 0, 0]) - corners[1].mean((0, 1)) + corners[0].mean((0, 1)) for x in (0, 8)]
    assert apart.distance(corners[0], shifts[0], MM) == 0.0
    assert apart.distance(corners[0], shifts[1], 2 * MM) == pytest.approx(1.0 * MM, rel=1e-9)


def test_the_stems_of_a_shield_give_way_as_two_bars_do(unsolved):
    """A fifth of a frame's weight at its lower end: F l3 / 3EI, I of two bars of 8 x 4 mm (PLA: 3.5 GPa, 1.24 g/mL)."""
    made = unsolved.results.shield.printed
    mass = solid(made).volume / made.bodies * 1e-9 * 1240
    length = unsolved.job.tank.size[2] - unsolved.job.hanger.rod - 2 * MM - made.points[:, 2].min()
    inertia = 2 * 8e-3 * 4e-3**3 / 12
    assert made.sway == pytest.approx(0.2 * mass * 9.80665 * length**3 / (3 * 3.5e9 * inertia), rel=0.01)
