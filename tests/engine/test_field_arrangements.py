"""What else hangs in the tank: racks, thieves, shields; and one line where something has no room."""

from __future__ import annotations

import itertools
from dataclasses import replace

import models
from cubes import EDGE, cube, solved, surface
import numpy as np
import pytest

from addon.engine.errors import InputError
from addon.engine.field.solve import run
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end
from addon.engine.tank.arrange import arrange
from addon.engine.tank.body import Role
from addon.engine.tank.summary import summary


@pytest.mark.slow
def test_two_copies_shade_each_other():
    """On a rack of two each draws half; the sides that face each other get less than the outer ones; a copy that is
    turned by half is the other's mirror image."""
    part = surface(cube(4))
    rack = {"positions_mm": [[-16, 0, 110], [16, 0, 110]], "turns_deg": [0, 180]}
    field = solved(part, {"rack": rack}, panels=1500)
    assert field.part_currents[0] == pytest.approx(field.part_currents[1], rel=0.002)
    assert sum(field.part_currents) == pytest.approx(field.current)
    inner, outer = (field.density[part.normal[:, 0] * way > 0.9].mean() for way in (1, -1))
    assert inner < 0.85 * outer


@pytest.mark.slow
def test_a_thief_takes_from_what_is_near_it():
    """A rod beside the cube lowers the density of the near face; its own current comes on top of the part's."""
    part = surface(cube(4))
    rod = models.part(models.moved(models.box((0.004, 0.004, 0.03)), (0.014, -0.002, 0.095)))
    fields = [
        solved(part, {"thief": [{"file": "rod.stl"}] if thief else []}, meshes={"rod.stl": rod})
        for thief in (False, True)
    ]
    near = part.normal[:, 0] > 0.9
    assert fields[1].density[near].mean() < 0.93 * fields[0].density[near].mean()
    assert fields[1].thief_current > 0
    assert sum(fields[1].part_currents) == pytest.approx(fields[0].current, rel=1e-4)


@pytest.mark.slow
def test_a_shield_shades_what_is_behind_it():
    """A board between one anode and the cube."""
    part = surface(cube(4))
    board = models.part(models.moved(models.box((0.06, 0.004, 0.06)), (-0.03, 0.02, 0.08)))
    table = {"shield": [{"file": "board.stl"}], "bath": {"kinetics": {"kind": "none"}}}
    field = solved(part, table, meshes={"board.stl": board})
    shaded, open_ = (field.density[part.normal[:, 1] * way > 0.9].mean() for way in (1, -1))
    assert shaded < 0.8 * open_


def body(*some: models.Model):
    return models.part(*some)


PLATE = {"plate_mm": [50, 50], "centre_mm": [0, 90, 110], "normal": [0, -1, 0]}
BALL = models.sphere(0.005, 2)


@pytest.mark.parametrize(
    ("table", "meshes", "words"),
    [
        ({"place": {"centre_mm": [145, 0, 100]}}, {}, ["part", "+x wall", "5 mm", "place.centre_mm"]),
        ({"place": {"centre_mm": [0, 0, 215]}}, {}, ["part", "5 mm above the liquid"]),
        ({"place": {"centre_mm": [0, 0, 5]}}, {}, ["part", "floor", "5 mm"]),
        ({"place": {"centre_mm": [0, 86, 110]}}, {}, ["part and anode 1 overlap by 1 mm"]),
        ({"anode": [{**PLATE, "centre_mm": [0, 10.05, 110]}]}, {}, ["part touches anode 1", "0.05 mm"]),
        ({"anode": [{**PLATE, "centre_mm": [0, 120, 110]}]}, {}, ["anode 1", "+y wall", "20 mm"]),
        ({"anode": [{**PLATE, "centre_mm": [0, 90, 300]}]}, {}, ["anode 1", "above the liquid"]),
        ({"anode": [{"file": "lost.stl"}]}, {}, ["anode 1", "lost.stl"]),
        (
            {"anode": [{"file": "b"}]},
            {"b": body(models.moved(BALL, (0, 0, 0.11)))},
            ["part and anode 1 overlap"],
        ),
        (
            {"rack": {"positions_mm": [[0, 0, 110], [15, 0, 110]]}},
            {},
            ["copy 1", "copy 2", "overlap by 5 mm"],
        ),
        ({"shield": [{"file": "s"}]}, {"s": body(models.plate((0.02, 0.02)))}, ["shield 1", "thickness"]),
        (
            {"tank": {"shape": "mesh", "file": "t", "level_mm": 80}},
            {"t": body(models.plate())},
            ["above the rim"],
        ),
    ],
)
def test_what_cannot_stand_is_said_in_one_line(table, meshes, words):
    """Which objects, by how much, and what to change."""
    with pytest.raises(InputError) as fault:
        solved(surface(cube()), table, panels=500, meshes=meshes)
    line = str(fault.value)
    assert "\n" not in line
    for word in words:
        assert word in line


@pytest.mark.slow
def test_what_stands_close_to_a_fine_part_does_not_meet_it():
    """Ten microns off a ball of 20,480 faces, whose panels bulge out: its own faces decide, as of a small part."""
    ball = surface(models.moved(models.sphere(0.01, 5), (0, 0, 0)))
    ways = np.array(list(itertools.product((-1.0, 1.0), repeat=3)))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    drops = [models.moved(models.sphere(0.001, 2), way * (0.01 + 0.001 + 1e-5) + (0, 0, 0.11)) for way in ways]
    meshes = {f"{k}": body(drop) for k, drop in enumerate(drops)}
    job = {"shield": [{"file": name} for name in meshes]}
    assert solved(ball, job, panels=500, meshes=meshes).current > 0
    meshes["0"] = body(models.moved(models.sphere(0.001, 2), ways[0] * 0.0109 + (0, 0, 0.11)))
    with pytest.raises(InputError, match="overlap"):
        solved(ball, job, panels=500, meshes=meshes)


def test_no_conductivity_no_plating():
    """A bath that does not conduct, and a part of which nothing is plated."""
    job = read_job({})
    with pytest.raises(InputError, match="conductivity_S_m"):
        run_to_end(run(surface(cube()), replace(job, bath=replace(job.bath, conductivity=0.0))))
    with pytest.raises(InputError, match="nothing is plated"):
        run_to_end(run(surface(cube(), masked=np.ones(12, dtype=bool)), job))


def test_assumed_plates_serve_the_thieves_as_well():
    """A thief of the cube's own area doubles the area that the usual ratio is taken of; plates were cut for the part."""
    part, job = surface(cube()), read_job({"thief": [{"file": "t"}], "rack": {"positions_mm": [[0, 0, 110]]}})
    thief = models.part(models.moved(cube(), (0.05, 0.0, 0.11)))
    alone = arrange(part, replace(job, thieves=()))
    beside = arrange(part, job, {"t": thief})
    areas = [
        sum(
            float(np.ptp(one.points[:, 0]) * np.ptp(one.points[:, 2])) for one in found.bodies if one.role == Role.ANODE
        )
        for found in (alone, beside)
    ]
    assert areas[1] == pytest.approx(2 * areas[0], rel=1e-6)
    assert summary(part, job, {"t": thief}).thief_area == pytest.approx(6 * EDGE**2)
