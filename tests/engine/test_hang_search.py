"""The search for a way up, on parts whose answer is known by how they are built."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from addon.engine.reporting.finding_text import texts
from addon.engine.mesh import inspection
from addon.engine.geometry import attitude
from addon.engine.hanging import search
from addon.engine.hanging.fit import LIQUID_MARGIN_M, extreme_points, fit
from addon.engine.hanging.balance import Load
from addon.engine.hanging.lift import gas_load
from addon.engine.hanging.lift import balance_with_gas
from addon.engine.hanging.score import Swept, spoilt, sweep, sweep_over
from addon.engine.settings.options import Hang
from addon.engine.settings.tank import Tank
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end

from addon.engine.trapping.relief import relief_of
import models
from hangs import searched

MM = 1e-3


def surface_of(model):
    return run_to_end(inspection.inspect(Part.of("part", *model)))


def cup(turn=None):
    """A cup 20 mm wide and 20 mm deep, its mouth up before it is turned."""
    return models.moved(models.cup(10 * MM, 20 * MM, 2 * MM), turn=turn)


def hung(model, trace, **settings):
    surface = surface_of(model)
    return searched(surface, trace(surface), **{"directions": 300, **settings})


def three_cups(turn):
    """Three deep cups side by side, their mouths leaning 80 degrees from one axis, a third of a turn apart.

    None holds gas only where all three mouths look level or up. That is a three-cornered patch of the sphere about the axis,
    10 degrees wide to its sides and atan(tan 10 / cos 60) = 19.4 to its corners: some 2 % of all ways up.
    """
    cups = []
    for k in range(3):
        lean, about = np.radians(80), 2 * np.pi * k / 3
        axis = np.array([np.sin(lean) * np.cos(about), np.sin(lean) * np.sin(about), np.cos(lean)])
        place = 40 * MM * np.array([np.cos(about), np.sin(about), 0])
        cups.append(models.moved(models.cup(6 * MM, 18 * MM, 2 * MM, around=24), place, attitude.turn_up(axis).T))
    return models.moved(models.joined(*cups), turn=turn)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_one_patch_without_gas_is_found_from_any_starting_rotation(trace, seed):
    """The answer is known by how the part is built, and no other way up has it."""
    turn = models.rotation(seed)
    found = hung(three_cups(turn), trace, weights=Hang(gas=1, underside=0, held=0, show=0, mark=0, hold=0))
    best = found.suggestions[0]
    assert best.trapped == pytest.approx(0.0, abs=1e-10)
    assert np.degrees(np.arccos(best.up @ turn @ [0, 0, 1])) < 19.5
    surface = surface_of(three_cups(turn))
    around = run_to_end(sweep(surface, relief_of(surface), attitude.sphere(400)))
    away = around.up @ turn @ [0, 0, 1] < np.cos(np.radians(21))
    assert around.trapped[away].min() > 1e-9


def test_the_scores_turn_with_the_part():
    """Turning part and way up together changes nothing (invariance)."""
    turn = models.rotation(5)
    ups = attitude.sphere(20)
    here, there = surface_of(cup()), surface_of(cup(turn))
    a = run_to_end(sweep(here, relief_of(here), ups))
    b = run_to_end(sweep(there, relief_of(there), ups @ turn.T))
    np.testing.assert_allclose(b.trapped, a.trapped, atol=1e-5 * a.trapped.max())
    np.testing.assert_allclose(b.held, a.held, atol=1e-5 * a.held.max())


def test_held_liquid_is_gas_upside_down():
    """Liquid with one way up stays where gas would with the other (mirror of the same construction)."""
    surface = surface_of(cup())
    ups = attitude.sphere(40)
    scores = run_to_end(sweep(surface, relief_of(surface), ups))
    np.testing.assert_allclose(scores.held[:20], scores.trapped[20:])


def bottle():
    """A closed cylinder about z with a hollow 16 mm wide that narrows by 45 degrees to a mouth of 6 mm at z = 20 mm."""
    outer, inner = [(0, -2), (10, -2), (10, 20)], [(3, 20), (3, 17), (8, 12), (8, 0), (0, 0)]
    return models.lathe(models.steps(np.array([*outer, *inner]) * MM, 2), 48)


@pytest.mark.slow
def test_a_pair_frees_what_no_single_way_up_can(trace):
    """Two bottles bottom to bottom: a hollow is free of gas only with its mouth at least 45 degrees up (its shoulder), so of
    two opposite ones one always holds some; two ways up in turn leave no face dry twice (construction; swept to be sure)."""
    two = models.joined(bottle(), models.moved(bottle(), (0, 0, -6 * MM), np.diag([1.0, -1.0, -1.0])))
    surface = surface_of(two)
    every = run_to_end(sweep(surface, relief_of(surface), attitude.sphere(600)))
    assert every.dry.min() > 1e-2 * surface.plated_area.sum()
    whole = hung(two, trace)
    found, best = whole.pair, whole.suggestions[0]
    assert found is not None
    assert found.gain == pytest.approx(best.dry + best.underside - found.missed)
    assert found.pays  # a hollow of two, which is more than 5 % of the surface
    gas = [gas_load(relief_of(surface), one.up).displaced for one in (found.first, found.second)]
    assert min(gas) > 0
    assert found.missed < 1e-3 * surface.plated_area.sum()
    shares = [spoilt(surface, relief_of(surface), one.up) for one in (found.first, found.second)]
    assert (surface.plated_area @ (shares[0] * shares[1])) == pytest.approx(found.missed)


def test_one_way_up_that_frees_all_needs_no_second(trace):
    """A cube on a corner keeps no gas and has no level underside (its sides lie 35 degrees from upright, geometry)."""
    cube = models.moved(models.box((20 * MM,) * 3), turn=models.rotation(8))
    assert hung(cube, trace).pair is None


@pytest.fixture(scope="module")
def split_cups():
    """The three cups in some thousand triangles, a little rough."""
    points, triangles = three_cups(np.eye(3))
    for _ in range(2):
        points, triangles = trimesh.remesh.subdivide(points, triangles)
    points = points + np.random.default_rng(0).normal(0.0, 0.01 * MM, points.shape)
    return surface_of((points, triangles.astype(np.int32)))


def test_an_aggregated_surface_holds_the_gas_of_the_whole_one(split_cups):
    """Against the whole surface; mouth down each of the three holds pi r^2 d (by hand; 24 corners, so a little less)."""
    whole = Swept.of(split_cups, relief_of(split_cups))
    few = whole.aggregated(2500)
    assert len(few.relief.face) < 2600
    np.testing.assert_allclose(few.areas.sum(axis=1), whole.areas.sum(axis=1), rtol=1e-9)
    ups = np.concatenate([attitude.sphere(14), [[0, 0, 1], [0, 0, -1]]])[[*range(7), 14, *range(7, 14), 15]]
    full, rough = (run_to_end(sweep_over(one, ups)) for one in (whole, few))
    most = 3 * np.pi * 6**2 * 18 * 1e-9
    assert np.abs(rough.trapped - full.trapped).max() < 0.02 * most
    assert np.abs(rough.dry - full.dry).max() < 0.02 * whole.areas[0].sum()
    np.testing.assert_allclose(rough.underside + rough.dry, full.underside + full.dry, atol=0.02 * whole.areas[0].sum())


@pytest.mark.slow
def test_a_search_on_an_aggregated_surface_states_its_error_and_finds_the_same(split_cups, trace, monkeypatch):
    """Against the search over the whole surface: what is offered is told exactly, and costs no more than the error."""
    weights = Hang(gas=1, underside=0, held=0, show=0, mark=0, hold=0)
    full = searched(split_cups, trace(split_cups), weights=weights)
    monkeypatch.setattr(search, "MAX_FULL_SWEEP_TRIANGLES", 5000)
    monkeypatch.setattr("addon.engine.hanging.score.AGGREGATED_TRIANGLES", 3000)
    found = searched(split_cups, trace(split_cups), weights=weights)
    assert full.swept is None
    assert full.sampling_error == 0
    assert found.swept < 3100
    assert 0 < found.sampling_error < 0.01
    best, own = found.suggestions[0], full.suggestions[0]
    assert best.cost <= own.cost + 2 * found.sampling_error
    pair = np.array([best.up, -best.up])
    exact = run_to_end(sweep(split_cups, relief_of(split_cups), pair))
    assert (best.trapped, best.dry, best.underside, best.held) == pytest.approx(
        (exact.trapped[0], exact.dry[0], exact.underside[0], exact.held[0]), rel=1e-9
    )


def test_the_front_keeps_what_nothing_beats():
    """Pareto: by hand, (1, 3) and (3, 1) and (2, 2) stay, (3, 3) does not."""
    cost = np.array([[1.0, 3.0], [3.0, 1.0], [2.0, 2.0], [3.0, 3.0]])
    assert search.pareto_front(cost).tolist() == [True, True, True, False]


def test_a_long_bar_fits_only_along_the_tank():
    """250 mm in a tank of 300 x 200 x 250 at 220 mm: along the length yes, upright no, by hand."""
    points, _ = models.box((250 * MM, 10 * MM, 10 * MM))
    hull = extreme_points(points)
    flat = fit(hull, np.array([0.0, 0, 1]), Tank(), prefer=0.0)
    upright = fit(hull, np.array([1.0, 0, 0]), Tank())
    assert flat.fits
    assert flat.slack == pytest.approx(300 * MM - 2 * LIQUID_MARGIN_M - 250 * MM, abs=1e-9)
    assert not upright.fits
    assert upright.slack == pytest.approx(220 * MM - 2 * LIQUID_MARGIN_M - 250 * MM, abs=1e-9)


def test_a_light_print_floats_and_is_told_how_much_is_missing(trace):
    """A hollow cube of PLA, walls t: net = rho_p (a^3 - (a - 2t)^3) - rho_b a^3 (Archimedes)."""
    a, t = 20 * MM, 1.2 * MM
    found = hung(models.box((a, a, a)), trace, infill=0.0, walls=t)
    expected = 1240.0 * (a**3 - (a - 2 * t) ** 3) - 1172.0 * a**3
    assert found.start.floats
    assert found.start.net == pytest.approx(expected, rel=0.01)
    assert found.settles_up is None
    assert any("floats" in warning for warning in texts(found.findings))


def test_the_last_bits_decide_no_rank():
    """All sides of a cube cost the same: whatever noise of 1e-13 is on the scores (another order of a sum, another number
    of threads), the same ways up come out in the same order, the model's own first among equals."""
    surface = surface_of(models.box(20 * MM * np.ones(3)))
    ups = np.concatenate([attitude.sphere(60), np.eye(3), -np.eye(3)])
    scores = run_to_end(sweep(surface, relief_of(surface), ups))
    offered = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        columns = ("trapped", "dry", "underside", "held", "dry_weighted", "underside_weighted")
        noisy = {name: getattr(scores, name) * (1 + 1e-13 * rng.standard_normal(len(ups))) for name in columns}
        cost = search.costs(type(scores)(up=ups, **noisy), 1e-3, 8e-6)
        offered.append(search.distinct(scores, search.total(cost, Hang()), 8))
    assert all(one == offered[0] for one in offered)
    flat = np.zeros(len(ups))
    assert ups[search.cheapest(flat, ups)] == pytest.approx([0, 0, 1])


def test_no_gas_swings_a_part_by_nothing():
    """Not by the 1e-8 of an arc cosine of nearly one, which came and went with the rounding."""
    surface = surface_of(models.box(np.array([10, 20, 30]) * MM))
    contacts = np.random.default_rng(3).uniform(0, 1, (40, 3)) * [10 * MM, 20 * MM, 30 * MM]
    swings = []
    middle = surface.points.mean(axis=0)
    load = Load(0.02, middle, 6e-6, middle)
    gas = gas_load(relief_of(surface), np.array([0.0, 0.0, 1.0]))
    for contact in contacts:
        swings.append(balance_with_gas(load, gas, 1172.0, contact)[1])
    assert set(swings) == {0.0}
