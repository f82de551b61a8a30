"""Where a wire may touch: what is preferred, what is avoided, and what is said."""

from __future__ import annotations

import models
import numpy as np
import pytest

from addon.engine.reporting.finding_text import texts
from addon.engine.coat import contact
from addon.engine.mesh import inspection
from addon.engine.visibility import openness
from addon.engine.coat import drop, sheet, study, wires
from addon.engine.settings.job import read_job
from addon.engine.settings.part import Wire
from addon.engine.progress import run_to_end
from addon.engine.reasons import ReasonCode
from addon.engine.mesh.surface import Surface


def surface(*parts: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*parts, **marks)))


def rank(part: Surface, **more: object) -> contact.Contacts:
    settings = {"up": (0, 0, 1), "sheet_resistance": 0.5, "density": 100.0, **more}
    return run_to_end(contact.rank(part, **settings))


BAR = models.moved(models.box((60, 10, 6), (24, 4, 3)), scale=1e-3)
BELL = models.moved(models.cup(15, 40, 3, 48, 12), scale=1e-3, turn=np.diag([1.0, -1.0, -1.0]))  # mouth down


def test_best_place_on_a_bar_is_in_its_middle():
    """Even current: the nearer to the middle, the less is lost at the ends; and only the underside hides a mark."""
    found = rank(surface(BAR)).ranked
    assert found[0].point[0] == pytest.approx(0.03, abs=0.004)
    assert found[0].normal == pytest.approx([0, 0, -1])
    assert found[0].hidden
    assert found[0].place.faces == "down"
    hidden = [one for one in found if one.hidden]
    assert [one.drop for one in hidden] == sorted(one.drop for one in hidden)


@pytest.mark.slow
def test_loss_that_is_told_is_that_of_the_coat_itself():
    """The best place's volts, checked on the full network, not on its coarse copy."""
    part = surface(BAR)
    best = rank(part).ranked[0]
    pads = wires.specified_pads(part, [Wire(tuple(best.point), contact.DEFAULT_PAD_M)])
    fitted, covered = run_to_end(sheet.with_pads(part, run_to_end(sheet.build(part)), pads))
    loss = run_to_end(drop.Loss.build(drop.WiredSheet.of(fitted, covered), 0.5))
    assert best.drop == pytest.approx(np.nanmax(run_to_end(loss.at_points(100.0 * fitted.area))), rel=0.02)


@pytest.mark.slow
def test_every_plated_patch_is_in_the_ranking():
    """A cone's apex, of needles, has patches that are no triangle's first corner: without them the network fell apart."""
    found = rank(surface(models.moved(models.lathe([(0, 0), (8, 0), (0, 40)], 32), scale=1e-3)))
    assert sorted(found.places[0].patch) == np.flatnonzero(found.patches.area > 0).tolist()


def test_faces_that_show_are_left_alone():
    """With the underside declared to show, everything else hides a mark, and nothing on the underside is suggested."""
    part = surface(BAR)
    under = part.normal[:, 2] < -0.5
    found = rank(surface(BAR, show=under)).ranked
    assert all(not under[one.face] for one in found)
    assert all(one.hidden for one in found)
    assert found[0].reasons[0].code == ReasonCode.HIDDEN_OFF_SHOW


def test_a_part_that_shows_all_over_still_gets_a_place_and_is_told():
    part = surface(BAR, show=np.ones(len(BAR[1]), dtype=bool))
    best = rank(part).ranked[0]
    assert not best.hidden
    assert any(reason.code == ReasonCode.ON_SHOW for reason in best.reasons)


@pytest.mark.slow
def test_hollow_hides_and_gas_is_avoided():
    """A bell with its mouth down: inside, but not where gas stays."""
    part = surface(BELL)
    inner = np.linalg.norm(part.centroid[:, :2], axis=1) < 0.0155
    inside = inner & (part.normal[:, :2] * part.centroid[:, :2]).sum(axis=1).__lt__(-1e-6)
    seen = run_to_end(openness.survey(part)).openness
    dry = np.where(inside & (part.centroid[:, 2] > -0.02), 1.0, 0.0)
    found = rank(part, openness=seen, dry=dry).ranked
    assert all(dry[one.face] == 0 for one in found)
    assert all(seen[one.face] >= contact.MIN_REACHABLE_OPENNESS for one in found)
    assert found[0].hidden


@pytest.mark.slow
def test_each_piece_gets_its_best_first_the_larger_before_the_smaller():
    small = models.moved(models.sphere(0.004, 2), (0.03, 0.03, 0.0))
    part = surface(small, BAR)
    found = rank(part)
    assert found.pieces == 2
    assert {one.piece for one in found.ranked[:2]} == {0, 1}
    on_bar = part.shell[found.ranked[0].face] == part.shell[-1]
    assert on_bar
    alone = rank(surface(BAR)).ranked[0]
    assert found.ranked[0].drop == pytest.approx(alone.drop, rel=0.05)


def test_suggestions_are_well_apart():
    found = rank(surface(BAR)).ranked
    size = surface(BAR).size
    for i, one in enumerate(found):
        for other in found[:i]:
            assert np.linalg.norm(one.point - other.point) >= contact.MIN_SPACING_OVER_SIZE * size


@pytest.mark.slow
def test_turned_part_gets_the_same_place():
    """Part and up turned together: the same face of the same bar, the same loss, and both at the middle of its length.

    Across the bar any place is as good: at the middle of a strip fed there the loss is least (strip, L/2 to either side).
    """
    turn = models.rotation(5)
    here = rank(surface(BAR)).ranked[0]
    there = rank(surface(models.moved(BAR, turn=turn)), up=turn @ (0, 0, 1)).ranked[0]
    assert there.drop == pytest.approx(here.drop, rel=0.05)
    assert there.normal == pytest.approx(turn @ here.normal, abs=1e-9)
    for along in (here.point[0], (turn.T @ there.point)[0]):
        assert along == pytest.approx(0.030, abs=0.003)  # half the width of a patch of the coarse copy


@pytest.mark.slow
def test_same_input_gives_the_same_suggestions():
    """To the bit: reports of one job are the same bytes."""
    first, second = rank(surface(BAR)).ranked, rank(surface(BAR)).ranked
    assert [one.drop for one in first] == [one.drop for one in second]
    assert all((one.point == other.point).all() for one, other in zip(first, second, strict=True))


def test_metal_part_loses_nothing_anywhere():
    found = rank(surface(BAR), sheet_resistance=0.0).ranked
    assert {one.drop for one in found} == {0.0}
    assert found[0].reasons[1].code == ReasonCode.PART_CONDUCTS


@pytest.mark.slow
def test_a_part_in_very_many_pieces_is_told_of_the_largest():
    """Sixty separate balls: wires for the largest few, the others are left to a warning."""
    balls = [
        models.moved(models.sphere(0.002 + 1e-5 * i, 1), (0.006 * (i % 10), 0.006 * (i // 10), 0)) for i in range(60)
    ]
    part = surface(*balls)
    found = rank(part)
    assert found.pieces == 60
    assert len(found.places) == contact.MAX_WIRED_PIECES
    told = {int(part.shell[one.face]) for one in found.best}
    assert told == set(np.argsort(-np.bincount(part.shell, part.area))[: contact.MAX_WIRED_PIECES].tolist())
    result = run_to_end(study.run(part, read_job({"effort": {"panels": 500}}), contacts=found))
    assert len(result.wires) == contact.MAX_WIRED_PIECES
    assert result.unserved == 60 - contact.MAX_WIRED_PIECES
    assert any("52 separate pieces" in sentence for sentence in texts(result.findings))
