"""The search for a way up, on parts whose answer is known by how they are built."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.reporting.finding_text import texts
from addon.engine.mesh import inspection
from addon.engine.geometry import attitude
from addon.engine.hanging import search, suggest
from addon.engine.hanging.fit import LIQUID_MARGIN_M, fit, support
from addon.engine.hanging.balance import Load
from addon.engine.hanging.lift import gas_load
from addon.engine.hanging.rank import filled
from addon.engine.hanging.score import spoilt, sweep
from addon.engine.settings.job import Hang, Tank
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end

from addon.engine.trapping.relief import relief_of
import models

MM = 1e-3


def surface_of(model):
    return run_to_end(inspection.inspect(Part.of("part", *model)))


def cup(turn=None):
    """A cup 20 mm wide and 20 mm deep, its mouth up before it is turned."""
    return models.moved(models.cup(10 * MM, 20 * MM, 2 * MM), turn=turn)


def hung(model, trace, **settings):
    surface = surface_of(model)
    usual = {
        "walls": 1.2 * MM,
        "infill": 1.0,
        "plastic_density": 1240.0,
        "coat_thickness": 0.0,
        "coat_density": 0.0,
        "deposit": 0.0,
        "bath_density": 1172.0,
        "tank": Tank(),
        "contacts": np.zeros((0, 3)),
        "directions": 300,
    }
    return run_to_end(suggest.run(surface, trace(surface), **{**usual, **settings}))


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
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
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


def test_the_front_keeps_what_nothing_beats():
    """Pareto: by hand, (1, 3) and (3, 1) and (2, 2) stay, (3, 3) does not."""
    cost = np.array([[1.0, 3.0], [3.0, 1.0], [2.0, 2.0], [3.0, 3.0]])
    assert search.front(cost).tolist() == [True, True, True, False]


def test_a_long_bar_fits_only_along_the_tank():
    """250 mm in a tank of 300 x 200 x 250 at 220 mm: along the length yes, upright no, by hand."""
    points, _ = models.box((250 * MM, 10 * MM, 10 * MM))
    hull = support(points)
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
        columns = ("trapped", "dry", "underside", "held", "dry_worth", "underside_worth")
        noisy = {name: getattr(scores, name) * (1 + 1e-13 * rng.standard_normal(len(ups))) for name in columns}
        cost = search.costs(type(scores)(up=ups, **noisy), 1e-3, 8e-6)
        offered.append(search.apart(scores, search.total(cost, Hang()), 8))
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
    for contact in contacts:
        swings.append(filled(surface, load, 1172.0, np.array([0.0, 0.0, 1.0]), contact)[1])
    assert set(swings) == {0.0}
