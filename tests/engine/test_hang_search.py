"""The search for a way up, on parts whose answer is known by how they are built."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine import mesh
from addon.engine.hang import attitude, search, suggest
from addon.engine.hang.fit import MARGIN, fit, support
from addon.engine.hang.score import sweep
from addon.engine.job import Tank
from addon.engine.part import Part
from addon.engine.steps import finish

import models

MM = 1e-3


def surface_of(model):
    return finish(mesh.inspect(Part.of("part", *model)))


def cup(turn=None):
    """A cup 20 mm wide and 20 mm deep, its mouth up before it is turned."""
    return models.moved(models.cup(10 * MM, 20 * MM, 2 * MM), turn=turn)


def hung(model, trace, **settings):
    surface = surface_of(model)
    usual = {
        "walls": 1.2 * MM, "infill": 1.0, "plastic_density": 1240.0, "coat_thickness": 0.0, "coat_density": 0.0,
        "deposit": 0.0, "bath_density": 1172.0, "tank": Tank(), "contacts": np.zeros((0, 3)), "directions": 300,
    }  # fmt: skip
    return finish(suggest.run(surface, trace(surface), **{**usual, **settings}))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_cup_is_freed_of_gas_from_any_starting_rotation(trace, seed):
    """A cup holds gas unless its mouth is up by at least a level wall, so the best keeps none (construction)."""
    turn = models.rotation(seed)
    best = hung(cup(turn), trace).suggestions[0]
    assert best.trapped == pytest.approx(0.0, abs=1e-9)
    assert best.up @ (turn @ [0, 0, 1]) > -0.05


def test_the_scores_turn_with_the_part():
    """Turning part and way up together changes nothing (invariance)."""
    turn = models.rotation(5)
    ups = attitude.sphere(20)
    here, there = surface_of(cup()), surface_of(cup(turn))
    a = finish(sweep(here, here.relief, ups))
    b = finish(sweep(there, there.relief, ups @ turn.T))
    np.testing.assert_allclose(b.trapped, a.trapped, atol=1e-5 * a.trapped.max())
    np.testing.assert_allclose(b.held, a.held, atol=1e-5 * a.held.max())


def test_held_liquid_is_gas_upside_down():
    """Liquid with one way up stays where gas would with the other (mirror of the same construction)."""
    surface = surface_of(cup())
    ups = attitude.sphere(40)
    scores = finish(sweep(surface, surface.relief, ups))
    np.testing.assert_allclose(scores.held[:20], scores.trapped[20:])


def test_a_pair_frees_what_no_single_way_up_can(trace):
    """Two cups mouth to opposite sides, joined at their floors: one is always down; swapping frees both."""
    two = models.joined(cup(), models.moved(cup(np.diag([1.0, -1.0, -1.0])), (0, 0, -5 * MM)))
    found = hung(two, trace)
    surface = surface_of(two)
    single = finish(sweep(surface, surface.relief, np.array([[0, 0, 1.0], [0, 0, -1.0]])))
    assert single.trapped.min() > 1e-6
    assert found.pair is not None
    assert found.pair.missed < 0.1 * min(found.pair.first.dry + found.pair.first.underside, surface.plated_area.sum())


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
    assert flat.slack == pytest.approx(300 * MM - 2 * MARGIN - 250 * MM, abs=1e-9)
    assert not upright.fits
    assert upright.slack == pytest.approx(220 * MM - 2 * MARGIN - 250 * MM, abs=1e-9)


def test_a_light_print_floats_and_is_told_how_much_is_missing(trace):
    """A hollow cube of PLA, walls t: net = rho_p (a^3 - (a - 2t)^3) - rho_b a^3 (Archimedes)."""
    a, t = 20 * MM, 1.2 * MM
    found = hung(models.box((a, a, a)), trace, infill=0.0, walls=t)
    expected = 1240.0 * (a**3 - (a - 2 * t) ** 3) - 1172.0 * a**3
    assert found.start.floats
    assert found.start.net == pytest.approx(expected, rel=0.01)
    assert found.settles_up is None
    assert any("floats" in warning for warning in found.warnings)
