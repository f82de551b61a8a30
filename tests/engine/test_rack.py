"""Copies of a part in one tank: where they fit, what symmetry says of their shares, what distance does to them."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.reporting import plan, report
from addon.engine import study as studies
from addon.engine.errors import InputError
from addon.engine.field import rack
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end

import models

MM = 1e-3
PIECES = 240  # of a copy: enough for what is tested here


@pytest.fixture(autouse=True)
def coarse(monkeypatch):
    monkeypatch.setattr(rack, "MIN_PIECES_PER_COPY", PIECES)
    monkeypatch.setattr(rack, "MAX_PIECES_PER_COPY", PIECES)


def surface_of(model):
    return run_to_end(inspection.inspect(models.part(model)))


def block(width=30, depth=10, height=30):
    return surface_of(models.box(np.array([width, depth, height]) * MM, (3, 1, 3)))


def suggested(surface, copies, tolerance=0.1, **job):
    return run_to_end(rack.suggest(surface, read_job(job), copies, tolerance))


def test_the_grid_holds_what_a_hand_counts():
    """300 x 200 x 220 of liquid, 15 mm free all round, copies of 30 x 10 x 30, 20 mm apart: (270 + 20) / 50 = 5 in a row,
    (190 + 20) / 50 = 4 rows; along the length, for the default plates stand on the long sides."""
    grid = rack.Grid.of(block(), read_job({}))
    assert grid.axis == 0
    assert grid.most(20 * MM) == 20
    places = grid.places(7, 20 * MM)
    assert len(np.unique(places[:, 2].round(6))) == 2
    assert grid.places(21, 20 * MM) is None
    for row in places[:, 2:].round(6), places[:, 1:2]:
        assert np.isfinite(row).all()
    half = np.array([15, 5, 15]) * MM
    assert (places - half >= np.array([-135, -85, 15]) * MM - 1e-9).all()
    assert (places + half <= np.array([135, 85, 205]) * MM + 1e-9).all()
    apart = np.abs(places[:, None] - places[None])
    clear = (apart >= np.array([50, np.inf, 50]) * MM - 1e-9).any(axis=2)
    assert (clear | np.eye(7, dtype=bool)).all()


def test_columns_stand_along_the_anodes():
    """An anode at the end of the length: columns go across it, along the width (each copy must see the anode)."""
    anode = {"plate_mm": [150, 150], "centre_mm": [140, 0, 110], "normal": [-1, 0, 0]}
    assert rack.Grid.of(block(), read_job({"anode": [anode]})).axis == 1


def test_a_round_tank_takes_a_chord():
    """200 mm across, copies 10 mm deep: the chord 20 mm off the middle is 2 sqrt(100^2 - 20^2) = 196 mm, less 2 x 15 (Pythagoras)."""
    grid = rack.Grid.of(block(), read_job({"tank": {"shape": "cylinder", "size_mm": [200, 250], "level_mm": 220}}))
    wide = 2 * np.sqrt(100**2 - 20**2)
    assert grid.room[0] == pytest.approx((wide - 30) * MM, rel=2e-3)  # its wall is a polygon of the same area


@pytest.mark.slow
def test_two_copies_share_evenly_whatever_their_distance():
    """Mirror images of each other in a tank that is its own mirror image get the same current (symmetry)."""
    found = suggested(block(), 2)
    for one in found.tried:
        np.testing.assert_allclose(one.share, 1.0, atol=5e-3)
    assert found.current_each == pytest.approx(200 * 2 * (900 + 300 + 300) * MM**2, rel=1e-9)
    assert found.chosen.current == pytest.approx(2 * found.current_each, rel=1e-3)


@pytest.mark.slow
def test_a_neighbor_shades_less_from_further_away():
    """What a copy keeps of a lone one's deposit rises with the gap; the least gap within the tolerance is taken (definition)."""
    found = suggested(block(), 2, 0.12)
    least = [float(one.shaded.min()) for one in found.tried]
    assert [one.gap for one in found.tried] == sorted(one.gap for one in found.tried)
    assert least == sorted(least)
    assert least[0] < 0.85
    assert found.enough
    assert found.chosen is next(one for one in found.tried if one.off <= 0.12)
    assert suggested(block(), 2, 0.6).chosen.gap == found.tried[0].gap


@pytest.mark.slow
def test_copies_that_fill_the_tank_share_like_an_endless_row():
    """Insulating walls are mirrors: plates over the whole length, and copies that stand half a gap from the walls, are one of an
    endless row, so each gets the same (method of images); in the default layout of the same three they do not."""
    anodes = [{"plate_mm": [240, 200], "centre_mm": [0, y, 110], "normal": [0, -np.sign(y), 0]} for y in (90.0, -90.0)]
    job = read_job({"tank": {"size_mm": [240, 200, 250]}, "anode": anodes})
    part = block()
    table = rack.Trials(part, job, None, 3)
    run_to_end(table.solved(np.array([[0, 0, 110.0]]) * MM, 0.0))
    row = np.array([[-80, 0, 110], [0, 0, 110], [80, 0, 110.0]]) * MM
    np.testing.assert_allclose(run_to_end(table.solved(row, 50 * MM)).share, 1.0, atol=0.01)
    near = run_to_end(table.solved(row * [0.5, 1, 1], 10 * MM))
    assert near.share[1] < 0.95
    assert near.share[0] == pytest.approx(near.share[2], rel=0.01)


def test_too_many_copies_are_told_in_one_line():
    with pytest.raises(InputError, match=r"rack\.suggest: 60 copies do not fit the tank, \d+ do"):
        suggested(block(60, 60, 60), 60)


@pytest.mark.slow
def test_the_job_asks_the_report_and_the_plan_tell(trace):
    """[rack] suggest alone asks for it; without it neither report nor plan say a word (docs/headless.md)."""
    quick = {"effort": {"rays": 16, "directions": 50, "panels": 500, "skip": "field, coat, contacts, openness, narrow"}}
    part = models.part(models.box(np.array([30, 10, 30]) * MM, (3, 1, 3)))
    study = run_to_end(studies.run(part, read_job({**quick, "rack": {"suggest": 2}, "supply": {"max_A": 0.7}}), trace))
    table = report.build(study, {})["rack"]
    assert set(table) == {
        "wanted",
        "tolerance",
        "within_tolerance",
        "gap_mm",
        "off",
        "shares",
        "shaded",
        "cell_voltage_V",
        "positions_mm",
        "current_A",
        "current_each_A",
        "fits",
        "supply_feeds",
        "tried",
    }
    assert table["supply_feeds"] == 1
    text = plan.write(study)
    assert "Hang the 2 copies in a row along the anodes, with" in text
    assert "feed 1 of them" in text
    silent = run_to_end(studies.run(part, read_job(quick), trace))
    assert "rack" not in report.build(silent, {})
    assert "copies" not in plan.write(silent)


def test_a_part_that_fills_the_tank_or_has_no_width_is_told_of():
    """200 mm of 220 mm of liquid leave less than the margin; a flat sheet has no width for copies to stand apart by."""
    with pytest.raises(InputError, match="not even one copy has 15 mm of liquid"):
        suggested(block(40, 30, 200), 2)
    flat = surface_of(models.moved(models.plate((30 * MM, 30 * MM), (2, 2)), turn=models.rotation(0) @ np.eye(3)))
    assert rack.Grid.of(flat, read_job({})).most(20 * MM) > 0
