"""The figures that the pages in docs/tasks tell, from the jobs that they tell, against closed forms.

Tolerances: the flat sides of a circle of 96 steps lack up to (pi / 96)^2 / 2 of their area and twice that of a volume.
"""

from __future__ import annotations

import re
import sys
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from addon.engine.findings import Code
from addon.engine.mesh.part import Part
from addon.engine.mesh.weld import compact, exact
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.study import Study, run
from addon.engine.units import A_PER_DM2, CM2, GRAM, HOUR, ML, MM, UM

from tracers import EmbreeTracer

TASKS = Path(__file__).resolve().parents[2] / "docs" / "tasks"
sys.path.insert(0, str(TASKS))
import jobs  # noqa: E402

FLAT = (np.pi / jobs.AROUND) ** 2
FARADAY = 96485.33212  # C/mol, exact SI
COPPER, NICKEL = (63.546, 8.96), (58.693, 8.908)  # g/mol, CIAAW; g/mL at 20 C, CRC Handbook (from memory, high)


@cache
def study(name: str, unit: str = "", only: tuple[str, ...] = ("deposit",)) -> Study:
    table = tomllib.loads(jobs.JOBS[name])
    model = table["part"]["file"].removesuffix(".stl")
    unit = unit or table["part"].get("unit", "mm")
    points = jobs.MODELS[model]().astype(np.float32).reshape(-1, 3).astype(float) * {"mm": MM, "m": 1.0}[unit]
    triangles = np.arange(len(points), dtype=np.int32).reshape(-1, 3)
    part = Part.of(model, *compact(points, triangles, exact(points)))
    return run_to_end(run(part, read_job(table), EmbreeTracer, only=only))


def told(page: str, what: str) -> float:
    """The figure that a page tells in the row of this name."""
    text = (TASKS / f"{page}.md").read_text(encoding="utf-8")
    found = re.search(rf"^\| {re.escape(what)} \| ([\d.]+) ", text, re.MULTILINE)
    assert found, f"{page}.md has no row '{what}'"
    return float(found[1])


def cone(profile, area: bool) -> float:
    """mm2 or mm3 of a profile turned about its axis, by Pappus: sides of cones, or frustums."""
    (r, z), (wide, high) = np.array(profile[:-1]).T, np.array(profile[1:]).T
    if area:
        return float((np.pi * (r + wide) * np.hypot(wide - r, high - z)).sum())
    return float((np.pi / 3 * (wide**2 + wide * r + r**2) * np.abs(high - z)).sum())


def test_a_bell_holds_the_air_that_its_inside_encloses():
    """Mouth down all of it: frustums. Mouth up none."""
    found = study("hang-a-bell", only=("deposit", "gas"))
    air = cone(jobs.BELL_INSIDE, area=False)
    assert found.results.gas.trapped_volume / ML == pytest.approx(air * 1e-3, rel=2 * FLAT)
    assert told("hang-a-bell", "air in it, mouth down") == pytest.approx(air * 1e-3, abs=0.05)
    area = cone([*jobs.BELL_OUTSIDE, (30.0, 0.0), *jobs.BELL_INSIDE], area=True)
    assert found.surface.plated_area.sum() / MM**2 == pytest.approx(area, rel=FLAT)
    assert told("hang-a-bell", "plated area") == pytest.approx(area / 100, abs=0.5)


def test_a_nut_has_the_area_of_a_prism_and_grows_by_coat_and_metal():
    screw = jobs.SCREW
    found = study("nut", only=("deposit", "preparation"))
    flat = 2 * np.sqrt(3) * (screw["across_mm"] / 2) ** 2 - np.pi * (screw["bore_mm"] / 2) ** 2
    around = 4 * np.sqrt(3) * screw["across_mm"] / 2 + np.pi * screw["bore_mm"]
    assert found.surface.plated_area.sum() / MM**2 == pytest.approx(2 * flat + around * screw["nut_mm"], rel=FLAT)
    grown = found.results.preparation.growth / UM
    assert grown == pytest.approx(20 + 30) == told("nut-and-bolt", "each face grows by")
    assert told("nut-and-bolt", "the bore narrows by") == pytest.approx(2 * grown)


def test_a_bolt_has_the_area_of_its_prisms():
    """The head's underside and its top are what shank and end together cover."""
    screw = jobs.SCREW
    head = 2 * np.sqrt(3) * (screw["across_mm"] / 2) ** 2
    sides = 4 * np.sqrt(3) * screw["across_mm"] / 2 * screw["head_mm"] + np.pi * screw["shank_mm"] * screw["long_mm"]
    found = study("bolt").surface.plated_area.sum() / CM2
    assert found == pytest.approx((2 * head + sides) / 100, rel=FLAT)
    assert told("nut-and-bolt", "plated area of the bolt") == pytest.approx(found, abs=0.05)


def test_six_knobs_take_six_times_the_current_of_one():
    one, six = study("copper").results.deposit, study("six-parts").results.deposit
    area = cone(jobs.KNOB_MM, area=True)
    assert one.current == pytest.approx(area * MM**2 * 2 * A_PER_DM2, rel=FLAT)
    assert told("six-parts", "current of one") == pytest.approx(one.current, abs=0.005)
    assert told("six-parts", "current of six") == pytest.approx(6 * one.current, abs=0.05)
    assert six.current == one.current and six.total_current == pytest.approx(6 * one.current)


def test_a_scan_in_the_wrong_unit_is_refused_and_open_edges_are_counted():
    """Three edges a lost triangle, none beside another; the same file in mm is a part of 0.06 mm."""
    found = study("scan")
    [fault] = [one for one in found.surface.faults if one.code == Code.MESH_OPEN]
    assert len(found.surface.topology.open) == 3 * jobs.CUP["lost"]
    assert told("scan", "open edges") == 3 * jobs.CUP["lost"]
    size = np.ptp(found.surface.points, axis=0) / MM
    assert size == pytest.approx([40, 40, 30], abs=0.3)
    assert np.ptp(study("scan", "mm").surface.points, axis=0).max() / MM == pytest.approx(0.04, abs=0.001)


def faraday(weight_density, thickness_um: float, density: float, area_dm2: float, efficiency: float):
    """Hours and grams of a divalent metal."""
    weight, heavy = weight_density
    mass = heavy * thickness_um * 1e-4 * area_dm2 * 100
    return mass * 2 * FARADAY / weight / (density * area_dm2 * efficiency) / 3600, mass


@pytest.mark.parametrize(("name", "metal", "um", "density"), [("copper", COPPER, 20, 2), ("nickel", NICKEL, 10, 3)])
def test_the_time_of_each_metal_is_faradays(name, metal, um, density):
    found = study(name)
    area = cone(jobs.KNOB_MM, area=True) * 1e-4
    hours, grams = faraday(metal, um, density, area, found.job_used.bath.efficiency)
    assert found.results.deposit.time / HOUR == pytest.approx(hours, rel=2e-3)
    assert found.results.deposit.mass / GRAM == pytest.approx(grams, rel=2e-3)
    assert told("nickel-over-copper", f"time in {name}") == pytest.approx(60 * hours, abs=0.6)
    assert told("nickel-over-copper", f"{name} on it") == pytest.approx(grams, abs=0.01)
