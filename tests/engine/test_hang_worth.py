"""What counts where a way up spoils a part: faces that show, faces that are thin anyway; and how it is turned."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.engine.reasons import ReasonCode
from addon.engine.mesh import inspection
from addon.engine import study as studies
from addon.engine.field import solve
from addon.engine.geometry import attitude
from addon.engine.hanging.fit import anode_directions
from addon.engine.hanging.pose import rotation
from addon.engine.hanging.score import face_weights, spoilt, sweep
from addon.engine.settings.job import read_job
from addon.engine.settings.options import Hang
from addon.engine.progress import run_to_end
from addon.engine.tank.arrange import arrange

from addon.engine.trapping.relief import relief_of
import models
from hangs import searched

pytestmark = pytest.mark.usefixtures("coarse_coat", "coarse_field")

MM = 1e-3
UP = np.array([0.0, 0.0, 1.0])


def surface_of(model, **marks):
    return run_to_end(inspection.inspect(models.part(model, **marks)))


def hung(surface, trace, **settings):
    return searched(surface, trace(surface), **{"directions": 150, **settings})


def hollowed():
    """A block of 30 mm with two like pits, 10 mm wide and deep, in its +x and -x sides (blocks of 10 mm)."""
    from grids import blocks

    cells = np.ones((3, 3, 3), dtype=bool)
    cells[0, 1, 1] = cells[2, 1, 1] = False
    points, triangles = blocks(cells)
    return points * 10 * MM, triangles


def in_pit(surface, side):
    """Triangles of the pit in the side of +x (1) or -x (-1)."""
    x, y, z = ((surface.centroid - 15 * MM) / MM).T
    return (np.abs(y) < 5.1) & (np.abs(z) < 5.1) & (side * x > 4.9) & (side * x < 14.9)


def test_a_spoilt_face_counts_by_what_it_is_worth():
    """By hand: 1, and 1 more where it shows, and up to 1 more as its density falls from the mean to nothing."""
    box = surface_of(models.box((10 * MM,) * 3), show=np.arange(12) < 2)
    density = np.full(12, 200.0)
    density[[0, 5]], density[7] = 0.0, 400.0  # the mean stays 200 with one double, two at zero and one more double
    density[8] = 400.0
    np.testing.assert_allclose(face_weights(box, None, 1.0, 1.0), [2, 2, *[1] * 10])
    np.testing.assert_allclose(face_weights(box, density, 1.0, 3.0), [5, 2, 1, 1, 1, 4, *[1] * 6])


def test_the_sweep_weighs_the_triangles_one_by_one():
    """Two sums of the same worths: whole, and triangle by triangle."""
    cup = surface_of(models.cup(10 * MM, 20 * MM, 2 * MM, rows=3))
    counts = np.random.default_rng(3).uniform(1, 3, len(cup.triangles))
    ups = attitude.sphere(12)
    scores = run_to_end(sweep(cup, relief_of(cup), ups, counts))
    each = [float((counts * cup.plated_area) @ spoilt(cup, relief_of(cup), up)) for up in ups]
    np.testing.assert_allclose(scores.dry_weighted + scores.underside_weighted, each, atol=1e-9 * cup.plated_area.sum())
    plain = run_to_end(sweep(cup, relief_of(cup), ups))
    np.testing.assert_allclose(scores.dry, plain.dry)
    np.testing.assert_allclose(plain.dry_weighted, plain.dry)


@pytest.mark.parametrize("side", [1, -1])
def test_of_two_like_pits_the_one_that_is_thin_or_shows_is_freed(trace, side):
    """Symmetry makes both ways up equal; only the current distribution, or the marks, can decide (construction)."""
    model = hollowed()
    plain = surface_of(model)
    pit = in_pit(plain, side)
    assert pit.sum() == 10
    ups = np.array([[1.0, 0, 0], [-1.0, 0, 0]])
    density = np.where(pit, 20.0, 200.0)
    for surface, field in ((plain, density), (surface_of(model, show=pit), None)):
        counts = face_weights(surface, field, 1.0, 1.0)
        scores = run_to_end(sweep(surface, relief_of(surface), ups, counts))
        spoils = scores.dry_weighted + scores.underside_weighted
        assert np.argmin(spoils) == (0 if side > 0 else 1)  # the pit's mouth looks up
        np.testing.assert_allclose(scores.dry, scores.dry[0])
    weights = Hang(gas=1, underside=1, held=0, show=0, mark=0, hold=0)
    first = hung(plain, trace, density=density, weights=weights)
    assert first.suggestions[0].thin_spoilt < 0.05 * plain.plated_area @ pit
    assert hung(plain, trace, weights=weights).suggestions[0].thin_spoilt is None


def test_what_is_spoilt_where_it_is_thin_is_said(trace):
    """The only ways up on offer to a bell of one pit that are not its best keep gas in it: the sentence names the area."""
    bell = surface_of(models.cup(10 * MM, 20 * MM, 2 * MM, rows=2))
    inner = np.linalg.norm(bell.centroid[:, :2], axis=1) < 10.1 * MM
    inner &= bell.centroid[:, 2] > -0.1 * MM
    found = hung(bell, trace, density=np.where(inner, 10.0, 200.0))
    told = [one for one in found.suggestions if one.thin_spoilt > 0.01 * bell.plated_area.sum()]
    assert told
    for one in told:
        assert any(reason.code == ReasonCode.SPOILS_THIN for reason in one.reasons)


@pytest.mark.slow
@pytest.mark.parametrize("weights", [Hang(gas=100, held=0, underside=0), Hang(gas=0, held=100, underside=0), Hang()])
def test_weights_hide_no_way_up_that_is_best_at_one_thing(trace, weights):
    """A tilted cup frees itself of gas one way and of bath the other (construction): both are offered whatever is weighed."""
    cup = surface_of(models.moved(models.cup(10 * MM, 20 * MM, 2 * MM), turn=models.rotation(2)))
    found = hung(cup, trace, weights=weights).suggestions
    assert min(one.dry for one in found) < 0.03 * cup.plated_area.sum()
    assert min(one.held for one in found) < 0.03 * cup.volume
    assert [one.cost for one in found] == sorted(one.cost for one in found)
    assert any(one.best for one in found)


@pytest.mark.slow
def test_the_deposit_map_stays_with_the_part_when_it_is_turned():
    """What the ranking rests on: a bar turned by 90 and 180 degrees before one near plate, the harshest case, solved each time.

    Less than a tenth of the deposit lands elsewhere (half the area integral of the difference over the whole); a map that had
    nothing to do with the part would move about as much as its own spread, here a fifth (its mean departure is 2 x 0.1).
    """
    bar = surface_of(models.box((60 * MM, 10 * MM, 10 * MM), (18, 3, 3)))
    maps = []
    for turn in (0, 90, 180):
        job = read_job(
            {
                "anode": [{"plate_mm": [120, 120], "centre_mm": [0, 50, 110], "normal": [0, -1, 0]}],
                "place": {"turn_deg": turn},
                "effort": {"panels": 800},
            }
        )
        maps.append(run_to_end(solve.run(bar, job)).density)
    area = bar.plated_area
    for other in maps[1:]:
        assert area @ np.abs(other - maps[0]) / (2 * area @ maps[0]) < 0.1


@pytest.mark.slow
def test_a_field_that_is_there_is_counted_and_called_stale_without(trace):
    """Only asked for the hanging, none; with a field in the cache, its map is counted and the old answer is stale."""
    cache, part = studies.Cache(), models.part(hollowed())
    job = read_job({"effort": {"directions": 50, "rays": 16, "panels": 500}, "part": {"hang": "as set"}})
    alone = run_to_end(studies.run(part, job, trace, only=["hanging"], cache=cache))
    assert alone.results.hanging.suggestions[0].thin_spoilt is None
    with_field = run_to_end(studies.run(part, job, trace, only=["hanging", "field"], cache=cache))
    assert with_field.results.hanging.suggestions[0].thin_spoilt is not None
    assert with_field.keys["hanging"] != alone.keys["hanging"]


def test_a_turn_that_is_suggested_looks_to_the_anodes_in_the_tank(trace):
    """A face that looks along +x, anodes at +y and -y: put into the job, the turn brings it to look along y (arrangement)."""
    model = models.box((30 * MM, 20 * MM, 10 * MM), (6, 4, 2))
    east = model[0][model[1]].mean(axis=1)[:, 0] > 29.9 * MM
    surface = surface_of(model, show=east)
    job = read_job({})
    one = next(
        one
        for one in hung(surface, trace, anodes=anode_directions(job)).suggestions
        if abs(one.up[0]) < 0.5 and one.fits
    )
    hangs = replace(job, part=replace(job.part, up=tuple(one.up)), place=replace(job.place, turn=one.turn))
    turn = arrange(surface, hangs).poses[0].turn
    np.testing.assert_allclose(rotation(one.euler), turn, atol=1e-9)
    assert abs((turn @ [1.0, 0.0, 0.0])[1]) > 0.85
    assert any(reason.code in (ReasonCode.TURNED, ReasonCode.TURNED_TO_FIT) for reason in one.reasons)


def test_a_part_without_show_faces_is_turned_only_to_fit(trace):
    """250 mm in a tank of 300 x 200: along its length as modelled; modelled across, only a turn makes room (by hand)."""
    for size, turned in (((250, 20, 10), False), ((20, 250, 10), True)):
        bar = surface_of(models.box(np.array(size) * MM, (5, 5, 1)))
        fitting = [one for one in hung(bar, trace, directions=50).suggestions if one.fits]
        assert fitting
        assert all((one.turn != 0.0) == turned for one in fitting)
