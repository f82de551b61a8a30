"""How the field dies away in trenches, holes and pores, and how it rises at edges: exact roots and exponents."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.influence import Liquid
from addon.engine.kinetics import Linear
from addon.engine.tank import Role

import models
from cells import Bench, Surface, graded, onto_sphere, strip

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


@pytest.mark.parametrize(("deep", "expected"), [(0.5, 0.29896), (1.0, 0.063526)])
def test_trench_primary(deep, expected):
    """Bottom-centre over far field = 1/b, w ~ 2 b E(1/b^2), d ~ integral_1^b sqrt((b^2 - t^2)/(t^2 - 1)) dt: own
    Schwarz-Christoffel map, checked there by finite differences. The error falls with the panels."""
    coarse, fine = (trench(deep, cells) / expected - 1.0 for cells in (8, 16))
    assert abs(fine) < 0.03
    assert 0.3 < fine / coarse < 0.7


@pytest.fixture(scope="module")
def pore() -> Bench:
    """A blind round hole of radius 1 and depth 4; above it an insulating collar, closed by an anode."""
    depth, around = 4.0, 24
    r, z = np.linspace(0.0, 1.0, 6), np.linspace(0.0, depth, 25)
    hole = np.concatenate([np.stack([r, 0 * r], axis=1), np.stack([0 * z[1:] + 1.0, z[1:]], axis=1)])
    collar = np.stack([np.ones(6), depth + np.linspace(0.0, 1.0, 6)], axis=1)
    mouth = np.stack([r[::-1], 0 * r + depth + 1.0], axis=1)
    pieces = [(hole, Role.PART), (mouth, Role.ANODE), (collar, Role.INSULATOR)]
    return Bench(
        [Surface(models.inside_out(models.lathe(line, around)), role) for line, role in pieces], Liquid()
    )


@pytest.mark.parametrize(("biot", "root", "tolerance"), [(np.inf, 2.404826, 0.03), (1.0, 1.25578, 0.02)])
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


def test_edge_exponents():
    """Primary density rises as r^(pi / angle - 1): r^(-1/3) where 270 degrees of liquid meet at a cube's edge, and
    falls as r along a square inner corner (wedge solutions, classical)."""
    n = 12
    at = graded(-0.5, 0.5, n, low=2.5, high=2.5)
    points, faces = models.box((1, 1, 1), (n, n, n))
    cube = at[np.rint(n * points).astype(int)], faces
    far = models.inside_out(onto_sphere(models.sphere(1, 2), 20.0))
    bench = Bench([Surface(cube, Role.PART), Surface(far, Role.ANODE)], Liquid())
    j, (x, y, z) = bench.solved(voltage=1.0).j, bench.centroid.T
    near = (x > 0.4999) & (np.abs(z) < 0.15) & (y > 0.4) & (y < 0.497)
    slope = np.polyfit(np.log(0.5 - y[near]), np.log(j[near]), 1)[0]
    assert slope == pytest.approx(-1.0 / 3.0, abs=0.02)

    line = graded(0.0, 2.0, 16, low=2.0)
    ends = np.linspace(0.0, 2.0, 9)
    legs = [np.stack([line, 0 * line], axis=1), np.stack([0 * line, line], axis=1)]
    far_legs = [np.stack([0 * ends + 2.0, ends], axis=1), np.stack([ends, 0 * ends + 2.0], axis=1)]
    roles = [Role.PART, Role.PART, Role.ANODE, Role.ANODE]
    bench = Bench(
        [Surface(strip(leg, 0.2), role, True) for leg, role in zip(legs + far_legs, roles, strict=True)],
        Liquid(box=np.array([[0.0, 0.0, 0.0], [2.0, 0.2, 2.0]])),
    )
    j, x = bench.solved(voltage=1.0).j[bench.rows[0]], bench.centroid[bench.rows[0], 0]
    near = (x > 0.03) & (x < 0.4)
    slope = np.polyfit(np.log(x[near]), np.log(j[near]), 1)[0]
    assert slope == pytest.approx(1.0, abs=0.05)
