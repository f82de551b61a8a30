"""A coat that never bears the wanted current: field, findings, schedule and report are of the current that flows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.engine import schedule
from addon.engine.coat import current_limit
from addon.engine.coat.study import half_grown
from addon.engine.coat.wiring import wiring
from addon.engine.field import solve
from addon.engine.field.problem import Control
from addon.engine.findings import Code, Quantity
from addon.engine.progress import run_to_end
from addon.engine.reporting import report
from addon.engine.settings.job import read_job
from addon.engine.study import findings, run

import models

pytestmark = pytest.mark.usefixtures("coarse_coat")

MM = 1e-3
JOB = {
    "bath": {"name": "acid copper, high throw"},
    "coat": {"name": "graphite lacquer"},
    "target": {"density_A_dm2": 3.0},
    "tank": {"size_mm": [140, 120, 120], "level_mm": 100},
    "effort": {"panels": 500, "rays": 16, "skip": "hanging"},
}
ONLY = ("deposit", "contacts", "coat", "field")


@pytest.fixture(scope="module")
def cup():
    return models.part(models.moved(models.cup(10.0, 25.0, 1.5), scale=MM))


@pytest.fixture(scope="module")
def study(cup, trace):
    return run_to_end(run(cup, read_job(JOB), trace, only=ONLY))


@pytest.mark.slow
def test_the_field_is_that_of_the_current_that_flows(study):
    """What is solved again on the kept operators is what the same tank gives for that current from the beginning, to the
    error that is stated: its panels are laid by another coarse solution. Less current is more even; Faraday's time."""
    found, wish, coat = study.results.field, study.results.field_at_target, study.results.coat
    surface, job, contacts = study.surface, study.in_tank, study.results.contacts
    flows = found.current / wish.current
    assert flows < 0.95 and found.control == Control.COAT
    lost = run_to_end(half_grown(surface, job, contacts, coat.pads))
    slower = replace(job, target=replace(job.target, density=flows * job.target.density))
    alone = run_to_end(solve.run(surface, slower, wire_drop=lost))
    assert found.voltage == pytest.approx(alone.voltage, rel=found.error)
    assert found.density_spread.median == pytest.approx(alone.density_spread.median, rel=found.error)
    assert found.uniformity > wish.uniformity and found.time == pytest.approx(wish.time / flows, rel=1e-6)


@pytest.mark.slow
def test_schedule_report_and_findings_tell_one_current(study):
    """The wish is told once, with what it would take; whether the bath suits the density is said of what flows."""
    found, timetable = study.results.field, schedule.of_study(study)
    assert timetable.full_current == pytest.approx(found.current, rel=1e-6)
    assert timetable.limited_by == study.results.coat.held != ""
    assert timetable.wanted_current == pytest.approx(found.wanted_current, rel=1e-6)
    told = report.build(study, {})
    assert told["field"]["current_A"] == pytest.approx(told["schedule"]["full_current_A"], rel=1e-6)
    assert told["field"]["control"] == "coat"
    codes = {one.code: one.quantities for one in findings.of_study(study)}
    limit = codes[Code.COAT_LIMITS_CURRENT]
    assert limit[Quantity.CURRENT] == pytest.approx(found.wanted_current)
    assert limit[Quantity.LIMIT_CURRENT] == pytest.approx(found.current)
    density = found.current / float(study.surface.plated_area.sum())
    for code in (Code.ABOVE_WINDOW, Code.BELOW_WINDOW, Code.NEAR_LIMITING):
        assert code not in codes or codes[code][Quantity.DENSITY] == pytest.approx(density)


@pytest.mark.slow
def test_field_start_and_plan_are_of_the_same_wires(study, cup, trace):
    """Where the job names no wires, as many as the coat needs; where it names one, that one alone."""
    contacts = study.results.contacts
    wanted = wiring(study.surface, study.in_tank, contacts)
    assert study.results.field.level.coat.spread.pads == study.results.coat.pads == wanted.pads
    point = [float(x) for x in contacts.ranked[0].point / MM]
    given = wiring(study.surface, read_job({**JOB, "wire": [{"point_mm": point}]}), contacts)
    assert len(given.pads) == 1 < len(wanted.pads)
    better = wiring(study.surface, read_job({**JOB, "coat": {"sheet_resistance_ohm_sq": 0.1}}), contacts)
    assert wanted.needed is None and better.needed == len(better.pads)


@pytest.mark.slow
def test_one_small_patch_does_not_hold_the_start_down(study):
    """A patch of less than the share of the area that may burn counts for nothing, however much it gets; one of more
    does."""
    spread = study.results.field.level.coat.spread
    share = np.where(spread.free, spread.area, np.inf) / spread.area.sum()
    for wanted, held in ((0.5, False), (3.0, True)):
        order = np.argsort(share)
        some = order[np.cumsum(share[order]) <= wanted * current_limit.MAX_IGNORED_BURNT_SHARE]
        density = np.ones(len(spread.own))
        density[some] = 9.0
        assert current_limit.robust_maximum(spread, density) == (9.0 if held else 1.0)
