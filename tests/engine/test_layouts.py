"""What would even a deposit out: other densities, anodes, turns, and the job without its thieves and shields."""

from __future__ import annotations

from dataclasses import replace

import models
import translations
import pytest

from addon.engine.mesh import inspection
from addon.engine.errors import InputError
from addon.engine.field.bem import influence
from addon.engine.field import layouts, room, trials
from addon.engine.field.trials import Comparison, LayoutKind, Remark, RemarkCode, Trial
from addon.engine.findings import Quantity
from addon.engine.reasons import Reason, ReasonCode
from addon.engine.reporting import language, plan_even
from addon.engine.field.solve import run
from addon.engine.settings.job import Job, read_job
from addon.engine.settings.tank import Rack
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface

pytestmark = pytest.mark.slow

TANK = {"shape": "box", "size_mm": [160, 160, 140], "level_mm": 130}


def surface(*some: models.Model) -> Surface:
    return run_to_end(inspection.inspect(models.part(*some, name="rod")))


def job(**more: object) -> Job:
    return read_job({"tank": TANK, "effort": {"panels": 1200}, "bath": {"kinetics": {"kind": "none"}}, **more})


ROD = surface(models.moved(models.cylinder(0.015, 0.06, around=32, rows=6), (0, 0, 0)))


COLLAR = models.part(models.moved(models.torus(0.026, 0.006, 16, 6), (0, 0, 0.037)))


@pytest.fixture
def only_its_own_anodes(monkeypatch):
    """No plates on the sides or all round are tried."""
    monkeypatch.setattr(room.Room, "places", lambda self: [])
    monkeypatch.setattr(room.Room, "ring", lambda self: ())


@pytest.fixture(scope="module")
def rod() -> Comparison:
    """An upright rod in a square tank."""
    return run_to_end(layouts.compare(ROD, job()))


@pytest.mark.parametrize("name", language.names()[1:])
def test_the_table_is_told_in_another_language(rod, name):
    listening, lacking = translations.listening(name)
    assert plan_even.table(rod, listening) and not lacking


def only(found: Comparison, kind: LayoutKind, **layout: object) -> Trial:
    """The one trial of a kind."""
    (row,) = (row for row in of_kind(found, kind) if all(getattr(row.layout, k) == v for k, v in layout.items()))
    return row


def of_kind(found: Comparison, kind: LayoutKind) -> list[Trial]:
    return [row for row in found.trials if row.layout.kind is kind]


def test_a_ring_is_evener_round_a_rod_than_one_side(rod):
    """Round its axis a rod in the middle of a ring sees the same everywhere; with one plate its back looks away."""
    alone = [row for row in of_kind(rod, LayoutKind.ONE_SIDE) if not row.layout.half_turn]
    ring = only(rod, LayoutKind.RING)
    assert ring.uniformity > 1.1 * max(row.uniformity for row in alone)
    assert len(ring.layout.anodes or ()) == 6


def test_a_turn_at_half_time_is_the_mean_of_both_sides(rod):
    """With one plate, by symmetry of rod and tank: as even as two plates that each give half the current.

    Without overpotential the problem is linear, so the mean of the two halves is the field of both plates at once."""
    turned = [row for row in of_kind(rod, LayoutKind.ONE_SIDE) if row.layout.half_turn]
    two = of_kind(rod, LayoutKind.TWO_SIDES)
    alone = [row for row in of_kind(rod, LayoutKind.ONE_SIDE) if not row.layout.half_turn]
    assert len(turned) == len(two) == len(alone) == 2
    for a, b in zip(sorted(turned, key=lambda r: r.layout.gap), sorted(two, key=lambda r: r.layout.gap), strict=True):
        assert a.uniformity == pytest.approx(b.uniformity, rel=0.03)
    assert min(row.uniformity for row in turned) > max(row.uniformity for row in alone)


def test_best_first_with_what_each_gains(rod):
    throws = [row.uniformity for row in rod.trials]
    for before, after in zip(throws, throws[1:], strict=False):
        assert before >= after * (1 - trials.MIN_UNIFORMITY_GAIN)
    (own,) = (row for row in rod.trials if row.own)
    last = rod.trials[-1]
    loss = {Quantity.SHARE: pytest.approx(1 - last.uniformity / own.uniformity)}
    assert last.reasons[-1] == Reason(ReasonCode.THINNEST_GETS_LESS, loss)
    assert all(row.reasons and row.density > 0 and row.voltage > 0 for row in rod.trials)


def test_time_follows_from_the_density_and_voltage_without_overpotential_too(rod):
    """Half the current takes twice the time (Faraday) at half the voltage (Ohm)."""
    (own,), half = (row for row in rod.trials if row.own), next(row for row in rod.trials if row.density == 100)
    assert half.time == pytest.approx(2 * own.time)
    assert half.voltage == pytest.approx(own.voltage / 2, rel=5e-3)
    assert half.uniformity == pytest.approx(own.uniformity, rel=5e-3)


def test_an_anode_that_gives_more_than_it_bears_is_said(rod):
    """One plate gives what two shared: its limit of 2 A/dm2 is passed where one plate's area asks for it (I = j area)."""
    current = 200 * float(ROD.plated_area.sum())
    for row in rod.trials:
        if row.layout.kind is LayoutKind.ONE_SIDE and not row.layout.half_turn:
            wide, tall = row.layout.anodes[0].plate
            codes = {reason.code for reason in row.reasons}
            assert (ReasonCode.ANODE_OVERLOADED in codes) == (current / (wide * tall) > 200), row


def test_another_density_integrates_nothing_and_plates_on_sides_once(monkeypatch):
    """Four sets of panels for fifteen trials: as it is, turned, the sides, the ring. Nothing for what is taken away."""
    built = []
    some = job(effort={"panels": 500}, shield=[{"file": "collar.stl"}], thief=[{"file": "hoop.stl"}])
    hoop = models.part(models.moved(models.torus(0.025, 0.002, 16, 4), (0, 0, 0.09)))
    build = influence.Influence.build.__func__

    def counted(cls, *args, **more):
        built.append(1)
        return build(cls, *args, **more)

    monkeypatch.setattr(influence.Influence, "build", classmethod(counted))
    found = run_to_end(layouts.compare(ROD, some, {"collar.stl": COLLAR, "hoop.stl": hoop}))
    assert len(built) == 4
    gone = {row.layout.without for row in found.trials}
    assert gone == {(), ("thief 1",), ("shield 1",), ("thief 1", "shield 1")}
    assert len(found.trials) == 12  # of one-sided plates no turn is tried: what hangs there has no two equal sides


def test_a_trial_that_is_taken_over_is_what_the_job_then_is(rod):
    """The ring's plates as the job's own anodes: the same figures, from a field of its own."""
    ring = only(rod, LayoutKind.RING)
    field = run_to_end(run(ROD, replace(job(), anodes=ring.layout.anodes)))
    assert field.density_spread.p5 / 200 == pytest.approx(ring.low, rel=0.05)  # 2 A/dm2 is the mean
    assert field.voltage == pytest.approx(ring.voltage, rel=0.03)


def test_a_field_that_is_turned_at_half_time_is_the_mean_of_both_halves(only_its_own_anodes):
    """One plate: each face gets what it and the face opposite get without the turn, halved (symmetry); the current stays."""
    plate = [{"plate_mm": [100, 60], "centre_mm": [0, 70, 65], "normal": [0, -1, 0]}]
    few = {"panels": 700}
    still = run_to_end(run(ROD, job(anode=plate, effort=few)))
    turned = run_to_end(run(ROD, job(anode=plate, place={"half_turn": True}, effort=few)))
    y = ROD.normal[:, 1]
    front, back = still.density[y > 0.9].mean(), still.density[y < -0.9].mean()
    assert front > 1.2 * back
    for side in (y > 0.9, y < -0.9):
        assert turned.density[side].mean() == pytest.approx((front + back) / 2, rel=0.02)
    assert turned.current == pytest.approx(still.current, rel=1e-4)
    assert turned.uniformity > still.uniformity
    found = run_to_end(layouts.compare(ROD, job(anode=plate, place={"half_turn": True}, effort={"panels": 500})))
    (own,) = (row for row in found.trials if row.own)
    assert own.layout.half_turn and only(found, LayoutKind.NOT_TURNED).uniformity < own.uniformity


def test_with_and_without_a_shield(rod, only_its_own_anodes):
    """A collar round the rod's foot lowers what its edge gets; without it the trial is the bare rod's."""
    shielded = job(shield=[{"file": "collar.stl", "name": "collar"}])
    found = run_to_end(layouts.compare(ROD, shielded, {"collar.stl": COLLAR}))
    (own,), (alone,) = ((row for row in some.trials if row.own) for some in (found, rod))
    without = only(found, LayoutKind.WITHOUT_BODIES, without=("collar",))
    assert without.uniformity == pytest.approx(alone.uniformity, rel=0.03)
    assert without.voltage == pytest.approx(alone.voltage, rel=0.02)
    assert own.voltage > without.voltage
    foot = (ROD.centroid[:, 2] < 0.011) & (ROD.normal[:, 2] > -0.5)
    with_, bare = (
        run_to_end(run(ROD, table, meshes={"collar.stl": COLLAR})).density[foot].mean() for table in (shielded, job())
    )
    assert with_ < 0.95 * bare


def test_each_copy_of_a_rack_tells_its_share(only_its_own_anodes):
    """Three in a row, equally far apart: the middle one gets least, the outer two the same."""
    row = replace(
        job(effort={"panels": 500}), rack=Rack(((-0.04, 0.0, 0.065), (0.0, 0.0, 0.065), (0.04, 0.0, 0.065)), ())
    )
    found = run_to_end(layouts.compare(ROD, row))
    (own,) = (trial for trial in found.trials if trial.own)
    assert sum(own.shares) == pytest.approx(3)
    assert own.shares[0] == pytest.approx(own.shares[2], rel=0.01)
    assert own.shares[1] < 0.97 * own.shares[0]


def test_what_has_no_room_is_noted_and_what_cannot_stand_is_refused():
    narrow = job(tank={"shape": "box", "size_mm": [60, 36, 140], "level_mm": 130}, effort={"panels": 500})
    found = run_to_end(layouts.compare(ROD, narrow))
    assert Remark(RemarkCode.NO_ROOM_AT_SIDES) in found.remarks or any(
        remark.code is RemarkCode.SIDES_REFUSED and remark.fault for remark in found.remarks
    )
    with pytest.raises(InputError, match="rod: its top is"):
        run_to_end(layouts.compare(ROD, job(place={"centre_mm": [0, 0, 120]})))


def test_a_hollow_that_no_anode_reaches_is_said():
    """The floor of a deep cup: no layout changes it, and the notes say so."""
    cup = surface(models.cup(0.008, 0.05, 0.002, around=24, rows=6))
    found = run_to_end(layouts.compare(cup, job(effort={"panels": 500})))
    assert Remark(RemarkCode.OUT_OF_REACH) in found.remarks


def test_nothing_plated_is_one_line():
    masked = run_to_end(inspection.inspect(models.part(models.box((0.01, 0.01, 0.01)), name="box", masked=[True] * 12)))
    with pytest.raises(InputError, match="box: nothing is plated"):
        run_to_end(layouts.compare(masked, job()))
