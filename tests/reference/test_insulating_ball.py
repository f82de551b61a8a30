"""A printed helper as an insulator in the bath, by the way that the field with helpers goes: a ball beside a ball.

The exact field is a sum of solid harmonics about both middles, fitted to the three spheres by least squares: it meets
all conditions to a millionth, without panels, and knows nothing of the program (axially symmetric harmonics: classical).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import legendre
from numpy.typing import NDArray

from addon.engine.field import solve as field
from addon.engine.helpers import shade
from addon.engine.mesh.inspection import inspect
from addon.engine.mesh.surface import Surface
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job

import models

Array = NDArray[np.float64]
PART, BALL, APART, OUTER = 0.010, 0.020, 0.036, 0.100  # radii of part, insulator and anode; between the first two, m
DEGREES = 48
KAPPA, VOLTS = 25.0, 0.1


def harmonics(points: Array, degree: int, outward: bool) -> tuple[Array, Array]:
    """Value (n,) and gradient (n, 2) along the axis and across it, of r^-(l+1) P_l or r^l P_l at points (n, 2)."""
    r = np.linalg.norm(points, axis=1)
    c = points[:, 0] / r
    one = np.zeros(degree + 1)
    one[degree] = 1.0
    p, dp = legendre.legval(c, one), legendre.legval(c, legendre.legder(one))
    power = -(degree + 1) if outward else degree
    value = r**power * p
    radial = power * r ** (power - 1) * p
    around = r ** (power - 1) * dp  # times the gradient of the cosine, r (e_axis - c e_r)
    out = points / r[:, None]
    axis = np.array([1.0, 0.0])
    return value, radial[:, None] * out + around[:, None] * (axis - c[:, None] * out)


def exact(ball: bool) -> tuple[float, Array]:
    """Current of the part, A, and coefficients of the outward harmonics about it, with and without the ball."""
    angle = np.linspace(0.0, np.pi, 200)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    middle = np.array([APART, 0.0])
    families = [(PART, np.zeros(2), True), (OUTER, np.zeros(2), False)] + [(BALL, middle, True)] * ball

    def terms(points: Array) -> tuple[Array, Array]:
        columns, slopes = [], []
        for size, about, outward in families:
            for degree in range(DEGREES):
                value, slope = harmonics((points - about) / size, degree, outward)
                columns.append(value)
                slopes.append(slope / size)
        return np.stack(columns, axis=1), np.stack(slopes, axis=1)

    rows = [terms(PART * ring)[0], terms(OUTER * ring)[0]]
    right = [np.zeros(200), np.full(200, VOLTS)]
    if ball:
        rows.append(np.einsum("nkd,nd->nk", terms(middle + BALL * ring)[1], ring) * BALL)
        right.append(np.zeros(200))
    found, *_ = np.linalg.lstsq(np.concatenate(rows), np.concatenate(right), rcond=None)
    assert np.abs(np.concatenate(rows) @ found - np.concatenate(right)).max() < 1e-6 * VOLTS

    def density(cosine: Array) -> Array:
        at = np.stack([cosine, np.sqrt(np.maximum(1.0 - cosine**2, 0.0))], axis=1)
        return KAPPA * np.asarray(np.einsum("nkd,nd,k->n", terms(PART * at)[1], at, found))

    nodes, weights = legendre.leggauss(60)
    return float(2 * np.pi * PART**2 * weights @ density(nodes)), density(np.linspace(-1.0, 1.0, 2001))


def ball_of(radius: float, level: int) -> models.Model:
    """Of the volume of the sphere."""
    points, faces = models.sphere(1.0, level)
    a, b, c = points[faces].swapaxes(0, 1)
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6
    return points * radius * (4 / 3 * np.pi / volume) ** (1 / 3), faces


@pytest.fixture(scope="module")
def surface() -> Surface:
    return run_to_end(inspect(models.part(ball_of(PART, 4), name="part")))


@pytest.mark.slow
def test_a_ball_beside_a_ball(surface):
    """Current at one voltage without and with the insulator, and the thin end of the deposit over the thick one; without
    panels that shade it the latter would be near 1, and the current 4 % more."""
    round_ = models.part(models.inside_out(ball_of(OUTER, 3)))
    table = {
        "tank": {"shape": "open"},
        "place": {"centre_mm": [0, 0, 0]},
        "anode": [{"file": "round"}],
        "bath": {"kinetics": {"kind": "none"}, "conductivity_S_m": KAPPA},
        "supply": {"hold_V": VOLTS},
        "effort": {"panels": 1500},
    }
    job, bodies = read_job(table), {"round": round_}
    points, faces = ball_of(BALL, 3)
    alone = run_to_end(field.run(surface, job, meshes=bodies))
    helper = points + (APART, 0, 0), faces.astype(np.int32)
    found = run_to_end(shade.together(surface, job, ([helper], []), bodies, None, alone))
    (bare, _), (shaded, density) = exact(ball=False), exact(ball=True)
    assert bare == pytest.approx(4 * np.pi * KAPPA * VOLTS / (1 / PART - 1 / OUTER), rel=1e-9)  # concentric spheres
    low, high = np.quantile(density, (0.05, 0.95))  # equal steps along the axis are equal areas of a sphere
    assert [found.current_before, found.current] == pytest.approx([bare, shaded], rel=0.01)
    assert found.even == pytest.approx(low / high, rel=0.035)
