"""Capacitance and charge density of plain shapes by the layer operators, against closed forms and known values.

A conductor at unit potential carries q with S q = 1; its capacitance over 4 pi epsilon_0 is the length
C = integral q dA / (4 pi), and the resistance from the shape to infinity in a liquid 1 / (4 pi kappa C).
"""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.field.bem.layers import LayerOperators
from addon.engine.linalg.krylov import gmres
from addon.engine.progress import run_to_end

from models import Model, box, lathe, moved, plate, rotation, sphere

CUBE = 0.6606781541  # J. Helsing and K.-M. Perfekt, Appl. Comput. Harmon. Anal. 34 (2013) 445 (from memory)
PLATE = 0.366788  # F. H. Read, J. Comput. Phys. 133 (1997) 1 gives 0.36679 (from memory); six digits by extrapolation


def charge(model: Model) -> tuple[float, np.ndarray, LayerOperators]:
    """Capacitance (a length), density at unit potential, and the operators."""
    points, faces = model
    layers = LayerOperators(points[faces], double=False)
    found = run_to_end(gmres(layers.single, np.ones(layers.n), precondition=lambda v: v / layers.diagonal))
    assert found.converged
    return float(found.x @ layers.area) / (4 * np.pi), found.x, layers


def graded(model: Model) -> Model:
    """A box or plate of even cells, its cells drawn together at its edges (Chebyshev points)."""
    points, faces = model
    low, size = points.min(axis=0), np.ptp(points, axis=0)
    return low + size * (1 - np.cos(np.pi * (points - low) / np.where(size > 0, size, 1.0))) / 2, faces


def slopes(errors: list[float]) -> np.ndarray:
    """Orders of convergence between refinements that halve the panels."""
    return np.log2(np.abs(errors[:-1]) / np.abs(errors[1:]))


@pytest.mark.slow
def test_sphere() -> None:
    """C = a (Coulomb). The flat panels cut the sphere: the error is that of their area, second order."""
    errors = [charge(sphere(1.0, level))[0] - 1 for level in (2, 3, 4)]
    assert errors[-1] == pytest.approx(0, abs=0.001)
    assert (slopes(errors) > 1.9).all()


@pytest.mark.slow
def test_cube() -> None:
    """Helsing and Perfekt's value, within 0.5 % on even panels and 0.03 % on panels graded to the edges."""
    even = [charge(box(cells=(k, k, k)))[0] / CUBE - 1 for k in (8, 16)]
    fine = [charge(graded(box(cells=(k, k, k))))[0] / CUBE - 1 for k in (8, 16)]
    assert even[0] == pytest.approx(0, abs=0.005)
    assert fine[1] == pytest.approx(0, abs=0.0003)
    assert slopes(even)[0] > 1.2  # the density rises as r^(-1/3) at the edges: order 4/3
    assert slopes(fine)[0] > 1.9


def test_square_plate() -> None:
    """Both sides of a sheet. The density rises as r^(-1/2): first order on even panels, second on graded ones."""
    even = [charge(plate(cells=(k, k)))[0] / PLATE - 1 for k in (12, 24)]
    fine = [charge(graded(plate(cells=(k, k))))[0] / PLATE - 1 for k in (12, 24, 48)]
    assert fine[2] == pytest.approx(0, abs=0.0005)
    assert slopes(even)[0] > 0.9
    assert (slopes(fine) > 1.8).all()


def test_thin_disk() -> None:
    """C = 2 a / pi, classical (both sides of a free disk), within 0.2 %."""
    rings = np.sin(np.pi / 2 * np.linspace(0, 1, 17))
    capacitance, _, _ = charge(lathe(np.stack([rings, 0 * rings], axis=1), 64))
    assert capacitance == pytest.approx(2 / np.pi, rel=0.002)


@pytest.mark.slow
@pytest.mark.parametrize("ratio", [2.0, 3.0, 5.0])
def test_prolate_spheroid(ratio: float) -> None:
    """C = sqrt(a2 - b2) / ln((a + sqrt(a2 - b2)) / b), and pole over equator a / b (Smythe, Landkof; from memory)."""
    points, faces = sphere(1.0, 4)
    capacitance, q, layers = charge((points * [1, 1, ratio], faces))
    root = np.sqrt(ratio**2 - 1)
    assert capacitance == pytest.approx(root / np.log(ratio + root), rel=0.005)
    assert q.max() / q[np.abs(layers.centroid[:, 2]) < 0.02 * ratio].mean() == pytest.approx(ratio, rel=0.03)


@pytest.mark.slow
def test_density_on_an_ellipsoid() -> None:
    """q / Q = (x2/a4 + y2/b4 + z2/c4)^(-1/2) / (4 pi a b c) (Smythe; from memory), face by face within 2 %."""
    axes = np.array([3.0, 2.0, 1.0])
    points, faces = sphere(1.0, 4)
    capacitance, q, layers = charge(moved((points * axes, faces), turn=rotation(2)))
    on = layers.centroid @ rotation(2)
    on /= np.sqrt(((on / axes) ** 2).sum(axis=1))[:, None]
    wanted = capacitance / np.prod(axes) / np.sqrt((on**2 / axes**4).sum(axis=1))
    assert q / wanted == pytest.approx(np.ones(len(q)), abs=0.02)
    assert np.sqrt(np.mean((q / wanted - 1) ** 2)) < 0.004


@pytest.mark.slow
@pytest.mark.parametrize(("model", "exponent"), [(plate(cells=(48, 48)), -1 / 2), (box(cells=(24, 24, 24)), -1 / 3)])
def test_density_rises_at_an_edge(model: Model, exponent: float) -> None:
    """Across the middle of an edge the density goes as r^(pi/beta - 1): beta 360 degrees -1/2, 270 degrees -1/3."""
    _, q, layers = charge(graded(model))
    x = layers.centroid
    some = (np.abs(x[:, 2]) < 1e-9) & (np.abs(x[:, 1] - 0.5) < 0.05) & (x[:, 0] > 0.008) & (x[:, 0] < 0.06)
    slope, _ = np.polyfit(np.log(x[some, 0]), np.log(q[some]), 1)
    assert slope == pytest.approx(exponent, abs=0.03)
