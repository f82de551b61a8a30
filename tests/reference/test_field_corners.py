"""How the primary density goes at edges and corners: exponents of wedge solutions, and of two vertices."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.bem.influence import Liquid
from addon.engine.tank.body import Role

import models
from cells import Bench, Surface, graded, onto_sphere, strip

DEPTH = 0.3


def slope(angle: float, other: Role, near: tuple[float, float]) -> float:
    """Exponent of the density along a cathode from the tip of a wedge of liquid with one radius, an arc for an anode.

    other : what the wedge's second side is; near : distances from the tip, between which the exponent is fitted
    """
    r, turn = graded(0.0, 1.0, 26, low=3.0), np.linspace(0.0, angle, int(10 * angle) + 2)
    sides = [np.stack([r, 0 * r], axis=1), r[::-1, None] * np.array([np.cos(angle), np.sin(angle)])]
    arc = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    lines = [(sides[0], Role.PART), (arc, Role.ANODE), (sides[1], other)]
    bench = Bench(
        [Surface(strip(line, DEPTH), role) for line, role in lines],
        Liquid(
            box=np.array([[-1.5, 0.0, -1.5], [1.5, DEPTH, 1.5]])
        ),  # only its walls across the wedge touch the liquid
    )
    rows = bench.rows[0]
    half = len(rows) // 2  # the two triangles of a strip's cell
    j = bench.solved(voltage=1.0).j[rows].reshape(2, half).mean(axis=0)
    x = bench.centroid[rows, 0].reshape(2, half).mean(axis=0)
    some = (x > near[0]) & (x < near[1])
    return float(np.polyfit(np.log(x[some]), np.log(np.abs(j[some])), 1)[0])


@pytest.mark.slow
@pytest.mark.parametrize(("angle", "exponent"), [(90, 1.0), (180, 0.0), (270, -1 / 3)])
def test_two_cathodes_meet(angle, exponent):
    """r^(pi / angle - 1) where cathodes meet with so much liquid between them (wedge solutions, classical)."""
    near = (0.01, 0.2) if exponent > 0 else (0.002, 0.05)
    assert slope(np.radians(angle), Role.PART, near) == pytest.approx(exponent, abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize(("angle", "exponent"), [(45, 1.0), (90, 0.0), (120, -1 / 4), (180, -1 / 2), (270, -2 / 3)])
def test_a_cathode_meets_an_insulator(angle, exponent):
    """r^(pi / (2 angle) - 1): even at a right angle, falling to nothing below it, rising without end above it
    (classical). What singles a resist's edge out from a groove in it."""
    near = (0.01, 0.2) if exponent > 0 else (0.002, 0.05)
    assert slope(np.radians(angle), Role.INSULATOR, near) == pytest.approx(exponent, abs=0.07 if exponent > 0 else 0.05)


@pytest.mark.slow
def test_vertices():
    """Towards a cube's vertex the density rises as rho^-0.5458, towards the corner of a square plate as rho^-0.7034
    (exponents of the Fichera corner, and of J. A. Morrison and J. A. Lewis, SIAM J. Appl. Math. 31 (1976) 233: from
    memory), along a diagonal."""
    n = 20
    at = graded(-0.5, 0.5, n, low=3.0, high=3.0)
    points, faces = models.box((1, 1, 1), (n, n, n))
    flat, sheet = models.plate((1, 1), (n, n))
    plate = np.stack([*at[np.rint(n * flat[:, :2]).astype(int)].T, np.full(len(flat), 0.5)], axis=1)
    far = Surface(models.inside_out(onto_sphere(models.sphere(1, 2), 20.0)), Role.ANODE)
    for first, exponent in (
        (Surface((at[np.rint(n * points).astype(int)], faces), Role.PART), -0.5458),
        (Surface((plate, sheet), Role.PART, True, 2), -0.7034),
    ):
        bench = Bench([first, far], Liquid())
        x, y, z = bench.centroid[bench.rows[0]].T
        j = bench.solved(voltage=1.0).j[bench.rows[0]]
        rho = np.hypot(0.5 - x, 0.5 - y)
        diagonal = np.minimum(0.5 - x, 0.5 - y) > 0.45 * np.maximum(0.5 - x, 0.5 - y)
        some = (z > 0.4999) & (rho > 0.004) & (rho < 0.1) & diagonal
        fitted = np.polyfit(np.log(rho[some]), np.log(j[some]), 1)[0]
        assert fitted == pytest.approx(exponent, abs=0.04)
