"""One hanging: field, map, gas and findings are of the way up that the part really hangs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.findings import Code, Quantity
from addon.engine.hanging.hung import is_recommended
from addon.engine.progress import run_to_end
from addon.engine.reporting import plan, report
from addon.engine.settings.job import Job, read_job
from addon.engine.study import findings as study_findings
from addon.engine.units import MM

from models import box, cup, moved, part, sphere

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")

EFFORT = {"effort": {"directions": 50, "rays": 16, "panels": 600}, "part": {"infill": 1}}
ANODES = [{"plate_mm": [100, 60], "centre_mm": [0, y, 110], "normal": [0, -np.sign(y), 0]} for y in (90.0, -90.0)]
BELL = moved(cup(10, 20, 1.5, 24), turn=np.diag([1.0, -1.0, -1.0]), scale=MM)  # its mouth down, so it is full of gas


@pytest.fixture(scope="module")
def free(trace) -> studies.Study:
    return run_to_end(studies.run(part(BELL, name="bell"), read_job(EFFORT), trace))


@pytest.fixture(scope="module")
def fixed(trace) -> studies.Study:
    job = read_job({**EFFORT, "anode": ANODES, "effort": {**EFFORT["effort"], "skip": "coat, openness, narrow"}})
    return run_to_end(studies.run(part(BELL, name="bell"), job, trace))


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ({}, True),
        ({"part": {"up": [1, 0, 0]}}, True),
        ({"tank": {"shape": "cylinder", "size_mm": [200, 250]}}, True),
        ({"wire": [{"point_mm": [0, 0, 0]}]}, True),
        ({"tank": {"shape": "open"}}, False),
        ({"tank": {"shape": "mesh", "file": "tank.stl"}}, False),
        ({"anode": ANODES}, False),
        ({"shield": [{"file": "shield.stl"}]}, False),
        ({"thief": [{"file": "thief.stl"}]}, False),
        ({"place": {"turn_deg": 0}}, False),
        ({"rack": {"positions_mm": [[0, 0, 110]]}}, False),
        ({"rack": {"suggest": 2}}, True),  # where copies go is found afterwards
        ({"part": {"hang": "as set"}}, False),
        ({"anode": ANODES, "part": {"hang": "recommended"}}, True),
    ],
)
def test_the_job_decides_whether_the_part_is_turned(table, expected):
    """The contract: recommended where nothing is fixed, as set where something is, and the key above both."""
    assert is_recommended(read_job(table)) is expected


def test_the_panels_hang_the_part_as_it_stands():
    """Their settings come without what was written by hand: the scene shows the part as it hangs."""
    assert not is_recommended(Job())
    assert not is_recommended(replace(read_job({}), specified=None))


@pytest.mark.slow
def test_field_gas_and_findings_are_of_the_recommended_way_up(free):
    table = report.build(free, {})
    best = table["hanging"]["suggestions"][0]["up"]
    assert table["field"]["up"] == table["hanging"]["recommended_up"] == best
    assert table["gas"]["up"] == [0, 0, 1]
    assert table["gas"]["trapped_mL"] == pytest.approx(12 * np.sin(np.pi / 12) * 20 * 0.1, rel=1e-6)  # 24-gon, 20 deep
    assert table["gas_hung"]["up"] == best
    assert table["gas_hung"]["trapped_mL"] < 0.05
    assert {"gas-trapped", "better-way-up"}.isdisjoint(one["code"] for one in table["findings"])


@pytest.mark.slow
def test_the_plan_says_once_what_it_would_be_as_modeled(free):
    text = " ".join(plan.write(free).split())
    assert text.count("As modeled") == 1
    assert "Vent of" not in text


@pytest.mark.slow
def test_the_field_is_that_of_the_same_part_turned_by_hand(free, trace):
    """Invariance: the job with the recommended way up written into it, and as set, has the same field."""
    up = tuple(free.results.hung.up)
    place = {} if not free.results.hung.turn else {"place": {"turn_deg": float(np.degrees(free.results.hung.turn))}}
    job = read_job({**EFFORT, "part": {"infill": 1, "up": list(up), "hang": "as set"}, **place})
    by_hand = run_to_end(studies.run(part(BELL, name="bell"), job, trace, only=["field", "contacts"]))
    assert by_hand.results.hung is None
    np.testing.assert_allclose(by_hand.results.field.density, free.results.field.density, rtol=1e-6)
    assert by_hand.results.contacts.ranked[0].face == free.results.contacts.ranked[0].face


@pytest.mark.slow
def test_a_job_that_fixes_something_hangs_as_set_and_names_the_gain(fixed):
    table = report.build(fixed, {})
    assert table["field"]["up"] == [0, 0, 1]
    assert table["gas_hung"] is None and table["drainage_hung"] is None
    (better,) = (one for one in study_findings.of_study(fixed) if one.code == Code.BETTER_WAY_UP)
    told = next(one for one in table["findings"] if one["code"] == "better-way-up")["quantities"]
    best = table["hanging"]["suggestions"][0]
    assert told["gas_gain_mL"] == pytest.approx(table["gas"]["trapped_mL"] - best["trapped_mL"], abs=1e-4)
    up = [better.remedy.quantities[axis] for axis in (Quantity.UP_X, Quantity.UP_Y, Quantity.UP_Z)]
    assert up == pytest.approx(best["up"], abs=1e-5)
    assert any(one.code == Code.GAS_TRAPPED for one in study_findings.of_study(fixed))


@pytest.mark.slow
def test_contacts_are_clear_of_gas_as_hung(free):
    """As modeled the bell's whole inside is dry; as hung it is wet, and no contact stands in what gas is left."""
    dry = free.results.gas_hung.face
    assert all(dry[one.face] == 0 for one in free.results.contacts.ranked)


@pytest.mark.slow
def test_a_part_is_turned_only_for_a_gain(trace):
    """A ball is as good one way up as another and stays; a block is tipped off its level underside, a sixth of it."""
    job = read_job({**EFFORT, "part": {"infill": 1, "up": [1, 0, 0]}})
    ball = run_to_end(studies.run(part(moved(sphere(10, 4), scale=MM)), job, trace, only=["hanging"]))
    assert not ball.turned and ball.results.hung.up == pytest.approx([1, 0, 0])
    block = run_to_end(studies.run(part(moved(box((10, 10, 10)), scale=MM)), job, trace, only=["hanging"]))
    assert block.turned and block.results.hung.hanging.as_set.underside == pytest.approx(100 * MM**2)
    assert block.results.gas_hung.level_underside_area == 0.0


@pytest.mark.slow
def test_without_the_search_the_part_hangs_as_modeled(trace):
    job = read_job({**EFFORT, "effort": {**EFFORT["effort"], "skip": "hanging, coat, openness, contacts, narrow"}})
    found = run_to_end(studies.run(part(BELL), job, trace))
    assert found.results.hung is None and not found.turned
    assert report.build(found, {})["field"]["up"] == [0, 0, 1]
