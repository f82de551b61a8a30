"""What the wires of a coat carry, which piece has one, and where more are put."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from addon.engine.coat import cautions, contact, study
from addon.engine.field import solve
from addon.engine.field.result import Flag
from addon.engine.progress import run_to_end
from addon.engine.findings import Quantity, RemedyCode, Severity
from addon.engine.reporting.finding_text import texts
from addon.engine.verdict import fixes

import models
from coats import BAR, TWO, TWO_MODELS, coated, job, ranked, surface

pytestmark = pytest.mark.usefixtures("coarse_coat")


@pytest.mark.slow
def test_current_of_the_wires_adds_up():
    """Three wires carry together all that the coat collects."""
    given = job(wire=[{"point_mm": [0, 5, 4]}, {"point_mm": [60, 5, 4]}, {"point_mm": [30, 5, 0]}])
    found = coated(BAR, given)
    total = given.target.density * BAR.plated_area.sum()
    assert sum(wire.current for wire in found.wires) == pytest.approx(total, rel=1e-3)
    assert found.wires[0].current == pytest.approx(found.wires[1].current, rel=0.02)
    assert not any(wire.suggested for wire in found.wires)
    moved = [tuple(wire.second) for wire in found.wires if wire.second is not None]
    assert len(set(moved)) == len(moved)


@pytest.mark.slow
def test_suggests_a_wire_for_each_piece():
    found = coated(TWO, job())
    assert found.pieces == 2
    assert found.unserved == 0
    assert {wire.piece for wire in found.wires} == {0, 1}
    assert all(wire.suggested for wire in found.wires)
    assert not np.isnan(found.drop).any()


@pytest.mark.slow
def test_piece_without_a_wire_is_named_and_stays_bare():
    found = coated(TWO, job(wire=[{"point_mm": [0, 5, 4]}]))
    ball = TWO.shell == TWO.shell[np.argmax(TWO.centroid[:, 1])]
    assert found.unserved == 1
    assert np.isnan(found.drop[ball]).all()
    assert not np.isnan(found.drop[~ball]).any()
    assert set(found.never_covered) == set(np.flatnonzero(ball))
    assert any("no wire" in sentence and "cm2" in sentence for sentence in texts(found.findings))


@pytest.mark.slow
def test_wires_without_a_point_are_spread_where_they_help():
    one = coated(BAR, job())
    two = coated(BAR, job(wire=[{}, {}]))
    assert len(two.wires) == 2
    assert two.worst_drop < 0.65 * one.worst_drop
    mixed = coated(BAR, job(wire=[{"point_mm": [0, 5, 4]}, {"pad_mm": 2}]))
    assert [wire.suggested for wire in mixed.wires] == [False, True]
    assert mixed.wires[1].point[0] > 0.03


@pytest.mark.slow
@pytest.mark.parametrize("ohms", [0, 0.5])
def test_coat_without_a_wire_floats(ohms):
    """An insulated conductor takes no net current: a field with one of two shells wired is the field of that shell beside
    an insulator, in which the wired one takes the whole current; what floats gets no metal and counts as bare."""
    anodes = [{"plate_mm": [150, 40], "centre_mm": [0, y, 110], "normal": [0, -y, 0]} for y in (-95, 95)]
    one = job(
        wire=[{"point_mm": [0, 5, 4]}], coat={"sheet_resistance_ohm_sq": ohms}, effort={"panels": 1200}, anode=anodes
    )
    ball = TWO.shell == TWO.shell[np.argmax(TWO.centroid[:, 1])]
    contacts = run_to_end(contact.rank(TWO, up=(0, 0, 1), sheet_resistance=ohms, density=200.0))
    losses = run_to_end(study.half_grown(TWO, one, contacts))
    field = run_to_end(solve.run(TWO, one, wire_drop=losses))
    assert np.all(field.density[ball] == 0.0) and np.all(field.flag[ball] == Flag.BARE)
    assert field.bare_area >= TWO.plated_area[ball].sum() * (1 - 0.02)
    assert field.density[~ball] @ TWO.plated_area[~ball] == pytest.approx(field.current)
    masked = surface(*TWO_MODELS, masked=ball)
    alone = run_to_end(contact.rank(masked, up=(0, 0, 1), sheet_resistance=ohms, density=200.0))
    same = replace(one, target=replace(one.target, density=field.current / float(masked.plated_area.sum())))
    beside = run_to_end(solve.run(masked, same, wire_drop=run_to_end(study.half_grown(masked, same, alone))))
    assert field.voltage == pytest.approx(beside.voltage, rel=0.01)
    assert field.density[~ball] == pytest.approx(beside.density[~ball], abs=0.03 * field.density[~ball].max())
    found = run_to_end(study.run(TWO, one, contacts=contacts, density=field.density, level=field.level))
    assert set(found.never_covered) == set(np.flatnonzero(ball))
    assert float(np.nansum(found.share * TWO.plated_area)) == pytest.approx(TWO.plated_area.sum(), rel=1e-3)
    assert sum(wire.current for wire in found.wires) == pytest.approx(field.current, rel=1e-3)


DROPS = [models.moved(models.sphere(r, 1), (6e-3 * i, 0.03, 0.0)) for i, r in enumerate([1.4e-3, *[0.2e-3] * 9])]
SOILED = surface(TWO_MODELS[0], *DROPS)


def test_a_coat_in_many_pieces_is_joined_and_not_wired_piece_by_piece():
    """A scan with drops that hover beside it: wires, what is needed, finding, and what the tool can change are those of
    the pieces that are worth a wire; the others are a matter of the model."""
    wanted = job()
    contacts = ranked(SOILED, study.sheet_resistance_in_bath(wanted), wanted.target.density)
    wiring = study.wiring(SOILED, wanted, contacts)
    assert contacts.pieces == 11 and len(contacts.places) == 2
    assert {int(SOILED.shell[pad.face]) for pad in wiring.pads} == {0, 1}
    assert wiring.needed == len(wiring.pads)
    assert cautions.too_few_wires(wiring.needed, len(wiring.pads), 0.2, 0.1) == []
    (loose,) = cautions.unserved(SOILED, contacts, wiring.pads)
    assert loose.quantities[Quantity.COUNT] == 9 and loose.severity == Severity.NOTE
    assert loose.remedy.code == RemedyCode.JOIN_PIECES and fixes.fix(loose, Unused()) is None
    (both,) = cautions.unserved(SOILED, contacts, wiring.pads[:1])
    assert both.remedy.code == RemedyCode.JOIN_PIECES and both.severity == Severity.SPOILS


class Unused:
    """Of a study, nothing."""

    results = SimpleNamespace(coat=None)


def test_a_piece_that_is_worth_a_wire_is_given_one():
    wanted = job(wire=[{"point_mm": [0, 5, 4]}])
    contacts = ranked(TWO, study.sheet_resistance_in_bath(wanted), wanted.target.density)
    (without,) = cautions.unserved(TWO, contacts, study.wiring(TWO, wanted, contacts).specified)
    assert without.remedy.code == RemedyCode.ADD_WIRES and without.remedy.quantities[Quantity.WIRES] == 2
    assert fixes.fix(without, Unused()) == fixes.Fix(fixes.FixCode.SET_WIRES, 2.0)


@pytest.mark.parametrize(("share", "told"), [(0.004, False), (0.006, True)])
def test_a_bare_spot_below_half_a_percent_of_the_area_is_not_told(share, told):
    bare = cautions.Bare(share * float(BAR.plated_area.sum()), None, (0.0, 0.0, 0.0))
    assert bool(cautions.stays_bare(BAR, np.array([0]), [bare])) == told


@pytest.mark.slow
def test_wires_are_counted_for_the_current_that_the_supply_gives():
    """A coat loses volts with the current: of 8 ohm a square no four wires bear the wish, and some bear the quarter of it
    that the supply gives. A plate on 10 A in place of 50 was told that four wires do not keep 0.17 V under 0.25 V."""
    wish = job(coat={"sheet_resistance_ohm_sq": 8})
    quarter = wish.target.density * float(BAR.plated_area.sum()) / 4
    weak = replace(wish, supply=replace(wish.supply, current=quarter, step=quarter / 100))
    contacts = ranked(BAR, study.sheet_resistance_in_bath(wish), wish.target.density)
    assert study.wiring(BAR, wish, contacts).needed is None
    found = study.wiring(BAR, weak, contacts)
    assert found.needed is not None and found.needed == len(found.pads)


def test_a_small_part_gets_no_pad_wider_than_it():
    """A ball of 8 mm was told to take a wire with a spot 3 mm wide."""
    ball = surface(models.sphere(4e-3, 2))
    contacts = ranked(ball, 0.5, 200.0)
    assert contacts.pads[0].diameter == pytest.approx(0.1 * ball.size) and ball.size < 15e-3
    assert study.wiring(ball, job(), contacts).pads[0].diameter == contacts.pads[0].diameter
