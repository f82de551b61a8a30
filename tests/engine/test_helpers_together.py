"""All helpers of one tank at once: their rods stack on the rim, none meets another, and one field is solved with all.

Distances by libigl, points and bodies by trimesh; rods as lines, by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh

from addon.engine.errors import InputError
from addon.engine.field import solve as field
from addon.engine.helpers import placement
from addon.engine.helpers.trial import Evenness
from addon.engine.helpers.trial import Tank as TriedTank
from addon.engine.mesh.inspection import inspect
from addon.engine.progress import Progress, run_to_end
from addon.engine.settings.job import read_job
from addon.engine.study import Study, printed, run, stands, together
from addon.engine.units import MM

import models
from tracers import EmbreeTracer

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("coarse_coat")]

BLOCK = models.box((30, 20, 25), (8, 6, 6))
EFFORT = {"directions": 50, "rays": 16, "panels": 500}
ALL = ("hanger", "anode_holder", "thief", "shield")


def stood(model: models.Model, *names: str, skip: str = "coat, narrow, fits", **sections: dict) -> Study:
    part = models.part(models.moved(model, scale=MM))
    effort = {**EFFORT, "skip": skip}
    settings = {"part": {"file": "x.stl", "hang": "as set"}, "effort": effort, **sections}
    return run_to_end(run(part, read_job(settings), EmbreeTracer, only=names))


def placed(**sections: dict) -> Study:
    """All four where whatever is tried evens the deposit out: only where they stand counts."""

    def solved(_tank: object, shields: Sequence[object] = (), thieves: Sequence[object] = ()) -> Progress[Evenness]:
        yield from ()
        return Evenness(0.9 if shields or thieves else 0.5, 0.2 if thieves else 0.0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TriedTank, "solved", solved)
        return stood(BLOCK, *ALL, skip="field, coat, narrow, fits", **sections)


@pytest.fixture(scope="module")
def whole() -> Study:
    return placed(hanger={"on_rods": True})


@pytest.fixture(scope="module")
def on_the_rim() -> Study:
    return placed()


def test_a_hanger_stands_among_shields_former_and_anode_holders(whole):
    """Each keeps the clearance from each other, the thief's wire from the hanger too, which it runs beside."""
    together.check_apart(whole)
    found = [one for one in stands.helper_bodies(whole, stands.arranged(whole)) if one.name != "anode-holder"]
    assert [one.name for one in found] == ["shield", "thief", "hanger", "thief"]
    meshes = [
        trimesh.Trimesh(one.corners.reshape(-1, 3), np.arange(3 * len(one.corners)).reshape(-1, 3)) for one in found
    ]
    surfaces = [run_to_end(inspect(models.part((mesh.vertices, mesh.faces.astype(np.int32))))) for mesh in meshes]
    for one, mesh in zip(found, meshes, strict=True):
        points = trimesh.sample.sample_surface_even(mesh, 1500, seed=1)[0]
        for other, surface in zip(found, surfaces, strict=True):
            if other.name != one.name:
                assert EmbreeTracer(surface).nearest(points).min() >= whole.job.hanger.clearance
    loop = whole.results.thief.corners
    assert abs(loop[:, 1] - loop[0, 1]).max() < 1e-9 and abs(loop[0, 1]) > 5 * MM  # off the middle plane of the block


def test_the_former_beside_a_hanger_still_prints_flat(whole):
    """Its fingers stand on the plate: nothing looks down but what lies on the bed."""
    made = whole.results.thief.printed
    mesh = trimesh.Trimesh(made.points / MM, made.triangles, process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1
    down = mesh.face_normals @ made.flat < -np.sin(np.radians(45.5))
    bed = mesh.triangles_center @ made.flat < (mesh.vertices @ made.flat).min() + 0.01
    assert mesh.area_faces[down & ~bed].sum() == 0.0 and mesh.area_faces[down & bed].sum() > 50


def test_rods_that_cross_lie_on_each_other(whole, on_the_rim):
    """The hanger's rod along x, the two others along y: at their crossings its axis is one diameter higher."""
    bars = stands.bars(whole, stands.arranged(whole))
    over = [bar for bar in bars if bar.bears == "hanger"]
    under = [bar for bar in bars if bar.bears != "hanger"]
    assert len(over) == 1 and len(under) == 4 and whole.results.hanger.on_rods
    for bar in under:
        ways = [one.end - one.start for one in (over[0], bar)]
        off = np.array([1.0, 0, 0]) @ ways[0] / np.linalg.norm(ways[0])
        assert abs(off) == pytest.approx(1) and abs(ways[1][0]) < 1e-9
        assert over[0].start[2] - bar.start[2] == pytest.approx(bar.diameter, rel=1e-9)
        size = np.array(whole.in_tank.tank.size)
        assert abs(over[0].start[0]) > size[0] / 2 and abs(bar.start[1]) > size[1] / 2  # out on the rim
    hook = whole.results.hanger.points[:, 2].max() - on_the_rim.results.hanger.points[:, 2].max()
    assert hook == pytest.approx(8 * MM, abs=0.02 * MM)


def test_rods_that_would_cross_at_one_height_are_named_with_the_remedy(on_the_rim):
    with pytest.raises(InputError, match=r"^the rods of \w+ and \w+ cross at one height .*hanger\.on_rods"):
        together.check_apart(on_the_rim)


def test_what_is_asked_for_together_is_made_to_stack():
    job = read_job({"part": {"file": "x.stl"}})
    assert printed.settled(job, {"hanger", "shield"}).hanger.on_rods
    assert not printed.settled(job, {"hanger", "anode-holder"}).hanger.on_rods
    assert not printed.settled(job, {"rack", "shield"}).hanger.on_rods


def test_rods_keep_off_the_strips_of_anode_holders():
    """Plates whose strips would sit where the rods lie first: at 0.3 of 145 mm, beside 0.25 of 175 mm."""
    anodes = [{"plate_mm": [145, 90], "centre_mm": [0, y, 100], "normal": [0, -y, 0]} for y in (60, -60)]
    study = placed(hanger={"on_rods": True}, anode=anodes, tank={"size_mm": [175, 140, 220], "level_mm": 200})
    together.check_apart(study)
    strips = study.results.anode_holder.places[:, 0]
    assert np.abs(strips).min() == pytest.approx(43.5 * MM)
    assert abs(study.results.shield.rods - 43.5 * MM) > 8 * MM


def test_shields_are_made_for_the_copies_of_the_printed_rack(on_the_rim, monkeypatch):
    """Two copies 60 mm apart along x, as a spacing that was computed: the window is 0.7 of the 90 mm that both span."""

    def solved(_tank, shields=(), thieves=()):
        yield from ()
        return Evenness(0.9 if shields else 0.5)

    monkeypatch.setattr(TriedTank, "solved", solved)
    middle = stands.arranged(on_the_rim).poses[0].of(on_the_rim.surface.points).mean(axis=0)
    spaced = SimpleNamespace(chosen=SimpleNamespace(positions=middle + [[-0.03, 0, 0], [0.03, 0, 0]]))
    bare = on_the_rim.results.without("hanger", "anode_holder", "thief", "shield").added("rack", spaced)
    study = replace(on_the_rim, results=bare)
    tracer = EmbreeTracer(study.surface)
    made = run_to_end(printed.rack_made(study, tracer))
    study = replace(study, results=bare.added("rack_holder", made))
    assert made.copies == 2 and len(stands.job_of(study).rack.positions) == 2
    assert run_to_end(printed.shield_made(study, tracer)).window[0] == pytest.approx(0.7 * 90 * MM, rel=1e-6)


@pytest.mark.parametrize(
    ("shape", "room", "small", "needed"),
    [
        ("box", (60, 50, 55), (29, 50, 55), "60 x 50 x 55"),
        ("cylinder", (37, 37, 55), (33, 33, 80), "67 x 67 x 55"),
    ],
)
def test_a_part_larger_than_its_tank_is_told_which_tank_would_do(on_the_rim, shape, room, small, needed):
    """30 x 20 x 25 mm with 15 mm of liquid all round; in a round tank its diagonal of 36.06 mm counts."""
    job = on_the_rim.in_tank

    def check(sides: Sequence[float]) -> None:
        tank = replace(job.tank, shape=shape, size=tuple(side * MM for side in sides), level=sides[2] * MM)
        half = sides[0] / 2 * MM
        inside = np.array([[-half, -half, 0], [half, sides[1] * MM - half, tank.level]])
        own = replace(stands.arranged(on_the_rim), inside=inside)
        placement.check_room(on_the_rim.surface, replace(job, tank=tank), own, "shield")

    check(room)
    with pytest.raises(InputError, match=rf"^shield: the part takes .* at least {needed} mm"):
        check(small)


def test_one_field_is_solved_with_all_in_place(whole, monkeypatch):
    """What is solved holds the volume of every helper as insulators, and the wire at the parts' potential."""
    alone, asked = run_to_end(field.run(whole.surface, whole.in_tank)), []

    def run(_surface, job, *, meshes, wire_drop):
        yield from ()
        asked.append((job, meshes))
        return alone

    known = replace(whole, results=whole.results.added("field_at_target", alone))
    monkeypatch.setattr(field, "run", run)
    found = run_to_end(together.helpers_field(known, None))
    assert found.names == ("hanger", "anode-holder", "shield", "thief") and len(asked) == 1
    job, meshes = asked[0]
    volumes = [trimesh.Trimesh(meshes[one.file].points, meshes[one.file].triangles).volume for one in job.shields]
    made = [one.volume for one in stands.printed_in(whole.results).values()]
    assert sum(volumes) == pytest.approx(sum(made) + whole.results.hanger.volume, rel=1e-6)
    wire = meshes[job.thieves[0].file]
    assert len(job.thieves) == 1 and np.array_equal(wire.points, whole.results.thief.solid[0])
    assert (found.thinnest, found.area) == (alone.thickness_spread.min, 0.0)
