"""The tank of a job that names none: it fits the part, by distances that are stated, and so do its anodes."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from addon.engine import study
from addon.engine.chemistry import bath
from addon.engine.geometry.attitude import about
from addon.engine.hanging.fit import fit
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.settings import tables
from addon.engine.settings.job import read_job, write_job
from addon.engine.settings.tank import Tank
from addon.engine.tank import vessel
from addon.engine.tank.arrange import arrange
from addon.engine.tank.body import Role

import models
from tracers import EmbreeTracer

MM = 1e-3
SIZES = list(itertools.product((4, 40, 130), (4, 40, 130), (6, 60, 250)))


def block(*size):
    """A block of that size in mm."""
    return run_to_end(inspection.inspect(models.part(models.box(np.array(size) * MM))))


def fitted(surface, **job):
    return vessel.fitted(read_job(job), surface)


def placed(surface, job):
    """(2, 3) bounds of all copies, and the anodes' corners (k, 4, 3), in the tank."""
    found = arrange(surface, job)
    points = np.vstack([pose.of(surface.points) for pose in found.poses])
    anodes = [body.points for body in found.bodies if body.role == Role.ANODE]
    return np.array([points.min(axis=0), points.max(axis=0)]), np.array(anodes)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_assumed_tank_keeps_its_distances(size):
    """20 mm above and below, 25 mm at the ends, 30 mm of rim, plates as far off as the part is wide (40 to 200 mm)."""
    surface = block(*size)
    job = fitted(surface)
    part, anodes = placed(surface, job)
    length, width, depth = job.tank.size
    assert part[0, 2] >= 20 * MM - 1e-9 and job.tank.level - part[1, 2] >= 20 * MM - 1e-9
    assert depth - job.tank.level >= 30 * MM - 1e-9
    gaps = [
        np.abs(plate[:, k] - part[side, k]).min() for k in (0, 1) for side, plate in zip((1, 0), anodes, strict=True)
    ]
    across = (1 if length >= width else 0) if job.tank.plates == "long sides" else (0 if length >= width else 1)
    wide = np.clip(max(size[:2]), 40, 200) * MM
    assert min(gaps[2 * across : 2 * across + 2]) >= wide - 1e-9
    ends = 1 - across
    assert job.tank.size[ends] / 2 - np.abs(part[:, ends]).max() >= 25 * MM - 1e-9
    assert (np.abs(anodes[..., ends]) <= job.tank.size[ends] / 2 - 10 * MM + 1e-9).all()
    assert (anodes[..., 2] >= 10 * MM - 1e-9).all() and (anodes[..., 2] <= job.tank.level - 10 * MM + 1e-9).all()
    assert size[ends] >= size[across] or size[0] == size[1]  # the broad side faces the anodes


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_no_smaller_vessel_of_the_table_would_do(size):
    """By trying every vessel against the rule, read from the table here, the plates on its long sides and on its short
    ones."""
    surface = block(*size)
    job = fitted(surface)
    broad, narrow = max(size[:2]), min(size[:2])
    plate = 1.05 * surface.plated_area.sum() / 2  # at 2 A/dm2 of part and of anode
    litres = []
    for name in tables.names("vessels"):
        inside = np.array(tables.value(tables.entry("vessels", name, "")["inside_mm"])) * MM
        for turned in (inside, inside[[1, 0, 2]]):  # the first axis runs along the plates
            level = max(size[2] + 40, (plate / (turned[0] - 20 * MM)) / MM + 20)
            level = 5 * np.ceil(level / 5 - 1e-9)
            need = np.array([broad + 50, narrow + 2 * (np.clip(broad, 40, 200) + 5), level + 30]) * MM
            if (turned >= need - 1e-12).all() and turned[2] <= 3 * need[2]:
                litres.append(inside[0] * inside[1] * level * MM)
    found = bath.batch_volume(job.batch, job.tank)
    if not litres:
        assert vessel.name_of(job.tank) == ""
        return
    assert found == pytest.approx(min(litres))
    assert vessel.name_of(job.tank) in tables.names("vessels")


def test_a_part_of_sixty_millimeters_needs_little_bath():
    """It got 13.2 L from a tank that fitted everything."""
    job = fitted(block(40, 40, 60))
    assert bath.batch_volume(job.batch, job.tank) < 3e-3


def test_a_large_part_has_its_plates_at_the_ends_of_the_vessel():
    """A part of 138 x 108 x 140 mm asks for 140 mm to plates on either side: it got a tank of 89 L, for these stood on
    its long sides."""
    job = fitted(block(138, 108, 140))
    assert job.tank.plates == "short sides" and bath.batch_volume(job.batch, job.tank) < 37e-3


def test_what_no_vessel_takes_gets_a_box_to_measure():
    surface = block(900, 100, 300)
    job = fitted(surface)
    part, _ = placed(surface, job)
    assert vessel.name_of(job.tank) == ""
    assert job.tank.size[0] >= 0.95 and job.tank.size[1] >= 0.1 + 2 * 0.205 and part[0, 2] >= 20 * MM


def test_the_hanging_and_the_copies_count():
    """On its side a rod is long, not tall; copies that the job places, or that are to be spaced, have room."""
    rod = block(20, 20, 150)
    upright, lying = fitted(rod), fitted(rod, part={"up": [1, 0, 0]})
    assert upright.tank.level == pytest.approx(0.19) and lying.tank.level == pytest.approx(0.06)
    assert max(lying.tank.size[:2]) >= 0.2
    turned = fitted(block(150, 20, 20), place={"turn_deg": 90})
    across = int((turned.tank.size[0] > turned.tank.size[1]) == (turned.tank.plates == "long sides"))
    assert across == 0  # the plates face the broad side
    places = [[-80, 0, 60], [0, 0, 60], [80, 0, 60]]
    row = fitted(block(40, 40, 60), rack={"positions_mm": places})
    assert row.tank.size[0] >= 0.2 + 2 * 0.025 and row.tank.level == pytest.approx(0.11)
    many = fitted(block(40, 40, 60), rack={"suggest": 6})
    assert bath.batch_volume(many.batch, many.tank) > 2 * bath.batch_volume(row.batch, row.tank) / 3


@pytest.mark.parametrize(
    "own", [{"tank": {"level_mm": 220}}, {"anode": []}, {"tank": {"shape": "open"}}], ids=["level", "no anode", "open"]
)
def test_what_the_job_says_of_the_tank_stays(own):
    job = read_job(own)
    assert vessel.fitted(job, block(40, 40, 60)) is job


@pytest.mark.parametrize("size", [(40, 40, 60), (130, 40, 6), (40, 4, 60)], ids=str)
def test_the_anodes_have_the_area_that_the_bath_asks_for(size):
    """Facing area between once and twice the part's (the bath's usual ratio), and below 2 A/dm2 at 2 A/dm2 on the part."""
    surface = block(*size)
    _, anodes = placed(surface, fitted(surface))
    area = sum(np.ptp(plate[:, 2]) * np.linalg.norm(np.ptp(plate[:, :2], axis=0)) for plate in anodes)
    ratio = area / surface.plated_area.sum()
    assert 1.0 <= ratio <= 2.0


@pytest.mark.parametrize("density", [3.0, 8.0])
def test_the_tank_has_room_for_anodes_below_their_limit(density):
    """A nickel job of 40 x 40 x 60 mm in a flat position took a level of 85 mm, too low for the plates it asked for."""
    surface = block(40, 60, 40)
    job = fitted(surface, bath={"name": "nickel, sulfamate"}, target={"density_A_dm2": density})
    _, anodes = placed(surface, job)
    area = sum(np.ptp(plate[:, 2]) * np.linalg.norm(np.ptp(plate[:, :2], axis=0)) for plate in anodes)
    assert density * 100 * surface.plated_area.sum() / area <= job.bath.anode_limit
    assert job.tank.size[2] - job.tank.level >= 30 * MM - 1e-9


@pytest.mark.slow
def test_a_study_settles_the_tank_and_is_not_stale_by_it():
    part = models.part(models.box(np.array([40, 40, 60]) * MM))
    job = read_job({})
    done = run_to_end(study.run(part, job, EmbreeTracer, only=["deposit", "hanging"]))
    assert done.job.tank.assumed and not study.stale(done, part, job)
    again = read_job(write_job(done.job))
    assert again.tank.size == pytest.approx(done.job.tank.size) and not vessel.is_assumed(again)
    assert all(one.fits for one in done.results.hanging.suggestions)  # not judged by a tank that nobody has


def test_a_part_that_lies_askew_is_turned_to_ask_for_less_bath():
    """A bar modeled at 45 degrees: turned along the vessel it needs the bath of the same bar modeled straight."""
    straight = models.moved(models.box(np.array([90, 10, 10]) * MM))
    askew = models.moved(straight, turn=about(np.radians(45)))
    volumes = []
    for model in (straight, askew):
        job, surface = read_job({}), run_to_end(inspection.inspect(models.part(model)))
        choice = vessel.bath_volume(vessel.fitted(job, surface), surface)
        found = fit(surface.points, np.array([0.0, 0.0, 1.0]), Tank(shape="open"), None, choice)
        turned = vessel.fitted(replace(job, place=replace(job.place, turn=found.yaw)), surface)
        volumes.append(bath.batch_volume(turned.batch, turned.tank))
    assert volumes[1] == pytest.approx(volumes[0])
    askew_volume = bath.batch_volume(job.batch, vessel.fitted(job, surface).tank)
    assert askew_volume > 1.05 * volumes[0]
