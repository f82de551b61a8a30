"""How the field dies away in trenches, slots, holes and pores: exact roots, and fins where they hold."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.bem.influence import Liquid
from addon.engine.chemistry.kinetics import Linear
from addon.engine.tank.body import Role

import models
from cells import Bench, Surface, graded, strip

KAPPA = 25.0


def trench(deep: float, cells: int) -> float:
    """Bottom over far-field density of a trench of width 1 in a flat cathode, half of it in a box that mirrors."""
    wide, high, across = 3.0, deep + 3.0, 0.15
    bottom = graded(0.0, 0.5, cells, high=1.5)
    side = graded(0.0, deep, int(2 * cells * max(deep, 0.5)), low=1.3, high=2.5)
    top = graded(0.5, wide, 3 * cells, low=2.5)
    lid = np.linspace(0.0, wide, 11)
    lines = [
        np.stack([bottom, 0 * bottom], axis=1),
        np.stack([0 * side + 0.5, side], axis=1),
        np.stack([top, 0 * top + deep], axis=1),
        np.stack([lid, 0 * lid + high], axis=1),
    ]
    roles = [Role.PART, Role.PART, Role.PART, Role.ANODE]
    bench = Bench(
        [Surface(strip(line, across), role, True) for line, role in zip(lines, roles, strict=True)],
        Liquid(box=np.array([[0.0, 0.0, 0.0], [wide, across, high]])),
    )
    j, x = bench.solved(voltage=1.0).j, bench.centroid[:, 0]
    floor, far = bench.rows[0], bench.rows[2]
    return j[floor][x[floor] < 1.0 / cells].mean() / j[far][x[far] > 0.9 * wide].mean()


@pytest.mark.slow
@pytest.mark.parametrize(("deep", "expected"), [(0.25, 0.60538), (0.5, 0.29896), (1.0, 0.063526), (1.5, 0.013218)])
def test_trench_primary(deep, expected):
    """Bottom-centre over far field = 1/b, w ~ 2 b E(1/b^2), d ~ integral_1^b sqrt((b^2 - t^2)/(t^2 - 1)) dt: own
    Schwarz-Christoffel map, checked there by finite differences."""
    assert trench(deep, 16) == pytest.approx(expected, rel=0.03)


@pytest.mark.slow
def test_trench_converges():
    """First order: half the panels' length, half the error (constant densities on panels)."""
    coarse, fine = (trench(0.5, cells) / 0.29896 - 1.0 for cells in (8, 16))
    assert 0.3 < fine / coarse < 0.7


@pytest.mark.slow
def test_deep_trench_falls_by_e_to_pi_a_width():
    """Deep down a trench the bottom gets (4/e) exp(-pi d / w) of the far field (the map's limit, within 1 % from d = w
    on): a quarter of a width deeper takes it down by exp(-pi / 4)."""
    one, other = trench(1.25, 12), trench(1.5, 12)
    assert other / one == pytest.approx(np.exp(-np.pi / 4), rel=0.02)
    assert other == pytest.approx(4.0 / np.e * np.exp(-1.5 * np.pi), rel=0.04)


@pytest.fixture(scope="module")
def slot() -> Bench:
    """Half of a slot of width 2 and depth 5, cut along its middle by a wall; its mouth is an anode."""
    wall, floor = np.linspace(0.0, 5.0, 41), np.linspace(0.0, 1.0, 9)
    lines = [
        (np.stack([0 * wall, wall[::-1]], axis=1), Role.PART),
        (np.stack([floor, 0 * floor], axis=1), Role.PART),
        (np.stack([floor[::-1], 0 * floor + 5.0], axis=1), Role.ANODE),
    ]
    surfaces = [Surface(strip(line, 0.5), role, True) for line, role in lines]
    return Bench(surfaces, Liquid(box=np.array([[0.0, 0.0, 0.0], [1.0, 0.5, 5.0]])))


@pytest.mark.slow
@pytest.mark.parametrize(("biot", "root"), [(np.inf, 1.5707963), (10.0, 1.42887), (1.0, 0.86033), (0.389, 0.58602)])
def test_slot_decay(slot, biot, root):
    """Down a slot the density falls as exp(-mu z / b), b half the width, mu tan(mu) = b / (kappa rho) (derived)."""
    j = slot.solved(Linear(1.0 / (KAPPA * biot)), voltage=1.0).j
    z, rows = slot.centroid[:, 2], slot.rows[0]
    side = rows[(z[rows] > 2.0) & (z[rows] < 4.0)]
    if biot < 2.0:  # what comes back from the floor is no longer small: the plated floor's share is taken along
        back = (root - 1.0 * biot) / (root + 1.0 * biot)
        shape = np.exp(root * z[side]) + back * np.exp(-root * z[side])
        ratio = j[side] / shape
        assert ratio.std() / ratio.mean() < 0.02
    else:
        assert np.polyfit(z[side], np.log(j[side]), 1)[0] == pytest.approx(root, rel=0.02)


@pytest.fixture(scope="module")
def pore() -> Bench:
    """A blind round hole of radius 1 and depth 4; above it an insulating collar, closed by an anode."""
    depth, around = 4.0, 24
    r, z = np.linspace(0.0, 1.0, 6), np.linspace(0.0, depth, 25)
    hole = np.concatenate([np.stack([r, 0 * r], axis=1), np.stack([0 * z[1:] + 1.0, z[1:]], axis=1)])
    collar = np.stack([np.ones(6), depth + np.linspace(0.0, 1.0, 6)], axis=1)
    mouth = np.stack([r[::-1], 0 * r + depth + 1.0], axis=1)
    pieces = [(hole, Role.PART), (mouth, Role.ANODE), (collar, Role.INSULATOR)]
    return Bench([Surface(models.inside_out(models.lathe(line, around)), role) for line, role in pieces], Liquid())


@pytest.mark.parametrize(
    ("biot", "root", "tolerance"),
    [(np.inf, 2.404826, 0.03), (10.0, 2.1795, 0.03), (3.0, 1.78866, 0.02), (1.0, 1.25578, 0.02)],
)
def test_round_hole_decay(pore, biot, root, tolerance):
    """Down a round hole the density falls as exp(-mu z / a), mu the first root of mu J1(mu) / J0(mu) = Bi = a / (kappa
    rho); without overpotential J0(mu) = 0 (classical, e.g. Carslaw and Jaeger; roots computed)."""
    j = pore.solved(Linear(1.0 / (KAPPA * biot)), voltage=1.0).j
    z, rows = pore.centroid[:, 2], pore.rows[0]
    side = rows[(z[rows] > 1.5) & (z[rows] < 3.0)]
    slope = np.polyfit(z[side], np.log(j[side]), 1)[0]
    assert slope == pytest.approx(root, rel=tolerance)


def test_fin_in_a_pore():
    """With Bi = 0.02 a pore is a fin: i(z) / i(0) = cosh((H - z) / lam) / cosh(H / lam), lam = sqrt(kappa rho a / 2)
    on an insulating floor (classical; 0.3 % short of the exact root here)."""
    depth, around, biot = 10.0, 20, 0.02
    z = np.linspace(0.0, depth, 41)
    wall = np.stack([0 * z + 1.0, z], axis=1)
    floor = np.array([[0.0, 0.0], [0.5, 0.0], [1.0, 0.0]])
    mouth = floor[::-1] + (0.0, depth)
    pieces = [(wall, Role.PART), (floor, Role.INSULATOR), (mouth, Role.ANODE)]
    surfaces = [Surface(models.inside_out(models.lathe(line, around)), role) for line, role in pieces]
    bench = Bench(surfaces, Liquid())
    j = bench.solved(Linear(1.0 / (KAPPA * biot)), voltage=1.0).j[bench.rows[0]]
    at, decay = depth - bench.centroid[bench.rows[0], 2], np.sqrt(0.5 / biot)
    middle = (at > 1.0) & (at < 9.5)  # a mouth that is an anode plane is no fin's end
    shape = np.cosh((depth - at) / decay)
    ratio = j[middle] / shape[middle]
    assert ratio.std() / ratio.mean() < 0.01


def test_bottom_of_a_small_blind_hole():
    """With the floor plated too, bottom over mouth is 1 / (cosh(H / lam) + m sinh(H / lam)), lam = sqrt(kappa rho a / 2),
    m = a / (2 lam) (classical fin): 0.48 and 0.17 where a hole of 2 mm is 2 and 4 mm deep, at 2 A/dm2 in a bath of 25
    S/m (polarization length 6.42 mm). The fin is 2 % off at this Bi of 0.16; the solver's hole has an even mouth."""
    a, rho = 1.0, 6.42 / KAPPA
    decay = np.sqrt(0.5 * KAPPA * rho * a)
    for depth, printed in ((2.0, 0.48), (4.0, 0.17)):
        r, z = np.linspace(0.0, a, 5), np.linspace(0.0, depth, int(8 * depth) + 1)
        hole = np.concatenate([np.stack([r, 0 * r], axis=1), np.stack([0 * z[1:] + a, z[1:]], axis=1)])
        mouth = np.stack([r[::-1], 0 * r + depth], axis=1)
        pieces = [(hole, Role.PART), (mouth, Role.ANODE)]
        bench = Bench([Surface(models.inside_out(models.lathe(line, 20)), role) for line, role in pieces], Liquid())
        j = bench.solved(Linear(rho), voltage=1.0).j[bench.rows[0]]
        bottom = bench.centroid[bench.rows[0], 2] < 1e-6
        found = np.average(j[bottom], weights=bench.area[bench.rows[0]][bottom]) * rho  # the mouth gets 1 / rho
        fin = 1.0 / (np.cosh(depth / decay) + 0.5 * a / decay * np.sinh(depth / decay))
        assert fin == pytest.approx(printed, abs=0.006)
        assert found == pytest.approx(fin, rel=0.04)
