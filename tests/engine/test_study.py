"""What a study keeps, computes again, and calls stale."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.settings.job import read_job
from models import cup, moved, part

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")

QUICK = {"effort": {"rays": 16, "directions": 50, "panels": 500}}
WELL_COATED = {**QUICK, "coat": {"sheet_resistance_ohm_sq": 0.02}}  # few steps to the full current


@pytest.fixture
def bell():
    return part(moved(cup(0.010, 0.020, 0.001, rows=2), turn=np.diag([1, -1, -1])))


FIELDS = ("field", "field_at_target")


def walked(bell, trace, job, **how):
    """The study; its progress goes up to the whole and no further, also where results at hand are read."""
    steps, fractions = studies.run(bell, job, trace, **how), []
    while True:
        try:
            fractions.append(next(steps).fraction)
        except StopIteration as end:
            assert max(fractions) == fractions[-1] == 1.0
            return end.value


def test_every_analysis_has_its_field_of_the_results():
    """By construction of the registry: a result is found under its analysis' name, in the order of the run."""
    assert tuple(one.name for one in fields(studies.Results)) == studies.NAMES


def test_only_what_changed_is_computed_again(bell, trace):
    """Another thickness leaves gas as it is (the very same result) and asks for the deposit anew."""
    cache = studies.Cache()
    first = walked(bell, trace, read_job(QUICK), only=["deposit", "gas"], cache=cache)
    other = read_job({**QUICK, "target": {"thickness_um": 77}})
    assert studies.stale(first, bell, other) == {"deposit"}
    second = walked(bell, trace, other, only=["deposit", "gas"], cache=cache)
    assert second.results.gas is first.results.gas
    assert second.results.deposit.time > first.results.deposit.time


def test_another_part_makes_all_stale(bell, trace):
    first = walked(bell, trace, read_job(QUICK), only=["deposit", "gas"])
    other = replace(bell, points=bell.points * 1.01)
    assert studies.stale(first, other, first.job) == {"deposit", "gas"}


@pytest.mark.slow
def test_the_coat_reads_the_field_where_there_is_one(bell, trace):
    """Without a field the coat stands on its own; once the field is known it is stale, and takes it from the cache."""
    cache, job = studies.Cache(), read_job(WELL_COATED)
    alone = walked(bell, trace, job, only=["coat"], cache=cache)
    assert alone.results.field is None
    assert not studies.stale(alone, bell, job)
    walked(bell, trace, job, only=["field"], cache=cache)
    again = walked(bell, trace, job, only=["coat"], cache=cache)
    assert again.results.coat is not alone.results.coat
    assert again.keys["coat"] != alone.keys["coat"]
    assert again.results.field_at_target.density.shape == (len(bell.triangles),)
    assert not studies.stale(again, bell, job)


@pytest.mark.slow
def test_a_stale_field_makes_nothing_stale_that_did_without_it(bell, trace):
    """As a session keeps them: the field of another tank is carried along beside a coat that was computed after."""
    cache, before = studies.Cache(), read_job(WELL_COATED)
    now = replace(before, tank=replace(before.tank, level=0.15))
    field = walked(bell, trace, before, only=["field"], cache=cache)
    coat = walked(bell, trace, now, only=["coat"], cache=cache)
    assert coat.results.field is None
    both = replace(
        coat,
        results=coat.results.over(field.results),
        keys={**coat.keys, **{name: field.keys[name] for name in FIELDS}},
        reasons={name: why for name, why in coat.reasons.items() if name not in FIELDS},
    )
    assert studies.stale(both, bell, now) == set(FIELDS)


@pytest.mark.slow
def test_an_analysis_that_cannot_be_done_says_why_and_the_rest_goes_on(bell, trace):
    """Every face masked: no deposit, but gas is where it was; nothing is stale that would come out the same."""
    bare = replace(bell, masked=np.ones(len(bell.triangles), dtype=bool))
    found = walked(bare, trace, read_job(QUICK), only=["deposit", "gas", "hanging"])
    assert "nothing is plated" in found.reasons["deposit"]
    assert found.results.gas.trapped_volume > 0
    assert not studies.stale(found, bare, found.job)


@pytest.mark.slow
def test_the_field_reckons_with_the_coat_once_the_wires_are_known(bell, trace):
    """With half of the deposit on it a coat of 0.5 ohm a square loses under a mV, and not nothing.

    R = 1.7241e-8 ohm m / 15 um, the copper film's own (IEC 60028, from memory). The wire sits on the mouth's rim of a bell of
    radius r = 11 mm and length L = 21 mm: the loss is above that of a wire all round, R I L / (3 2 pi r), and below that
    and the spreading of all current from the pad's half disc a = 1.5 mm to half way round, R I ln(pi r / a) / pi; both derived.
    Without contacts the loss is said to be unknown, not zero.
    """
    cache, job = studies.Cache(), read_job(QUICK)
    alone = walked(bell, trace, job, only=["field"], cache=cache)
    assert alone.results.field.coat is None
    found = walked(bell, trace, job, only=["field", "contacts"], cache=cache).results.field
    volts = 1.7241e-8 / 15e-6 * found.current
    tube, spreading = 21 / (3 * 2 * np.pi * 11), np.log(np.pi * 11 / 1.5) / np.pi
    assert tube * volts < found.coat < (tube + spreading) * volts


@pytest.mark.slow
def test_contacts_and_coat_reckon_with_the_same_resistance(bell, trace):
    """What copper displaces of a zinc-rich primer conducts better than the primer by orders of magnitude: both tell the
    loss of the coat as it is in the bath."""
    quick = {**QUICK, "coat": {"name": "zinc-rich primer"}, "target": {"density_A_dm2": 2}}
    found = walked(bell, trace, read_job(quick), only=["contacts", "coat"])
    assert found.results.contacts.ranked[0].drop == pytest.approx(found.results.coat.worst_drop, rel=0.02)
