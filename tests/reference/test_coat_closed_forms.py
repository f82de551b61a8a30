"""The loss along a resistive sheet against closed forms, on even and on bad triangulations.

The sheet obeys div(1/Rs grad u) = -j with u = 0 at the wire; each form follows from it by elementary integration
(classical; derived anew from that equation). Tolerance: 1 %, most of which is the polygon that stands for a pad's rim.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import Delaunay
from scipy.special import k0, k1

from addon.engine.mesh import inspection
from addon.engine.coat import drop, laplacian, sheet, wires
from addon.engine.settings.part import Wire
from addon.engine.linalg.sparse import Graph
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface

import models

RS, J = 1.0, 100.0  # ohm per square, A/m2
L, WIDTH = 0.05, 0.01  # m


def surface(model: models.Model) -> Surface:
    return run_to_end(inspection.inspect(models.part(model)))


def fed(model: models.Model, wired) -> drop.WiredSheet:
    """The sheet of a model as it is, without refinement, held at the points for which `wired` is true."""
    coat = run_to_end(sheet.build(surface(model), triangles=1))
    return drop.WiredSheet.of(coat, [np.flatnonzero(wired(coat.mesh.points))])


def lost(network: drop.WiredSheet) -> np.ndarray:
    """(v,) V for an even current density."""
    loss = run_to_end(drop.Loss.build(network, RS))
    return run_to_end(loss.at_points(J * network.sheet.area))


def jittered(size, cells, seed: int = 0, amount: float = 0.45) -> models.Model:
    """A plate whose inner points are moved at random within their cells: many obtuse triangles."""
    points, faces = models.plate(size, cells)
    cell = np.array(size) / cells
    inner = ((points[:, :2] > 0.01 * cell) & (points[:, :2] < np.array(size) - 0.01 * cell)).all(axis=1)
    move = np.random.default_rng(seed).uniform(-amount, amount, (len(points), 2)) * cell
    points[inner, :2] += move[inner]
    return points, faces


def scattered(size, count: int, seed: int = 1) -> models.Model:
    """A plate of random points, triangulated in a plane stretched tenfold: slivers of every direction."""
    random = np.random.default_rng(seed)
    ends = np.linspace(0, 1, 24)
    zero = 0 * ends
    rim = np.vstack([np.c_[ends, zero], np.c_[ends, zero + 1], np.c_[zero, ends], np.c_[zero + 1, ends]])
    flat = np.unique(np.vstack([rim, random.random((count, 2))]), axis=0) * size
    faces = Delaunay(flat * (1.0, 10.0)).simplices
    a, b, c = flat[faces].transpose(1, 0, 2)
    turn = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    faces = np.where((turn < 0)[:, None], faces[:, ::-1], faces)
    return np.c_[flat, np.zeros(len(flat))], faces[np.abs(turn) > 1e-12].astype(np.int32)


STRIPS = {
    "even": models.plate((L, WIDTH), (50, 10)),
    "jittered": jittered((L, WIDTH), (50, 10)),
    "scattered": scattered((L, WIDTH), 600),
    "slivers along, aspect 100": jittered((L, WIDTH), (10, 200), amount=0.4),
    "slivers across, aspect 100": jittered((L, WIDTH), (1000, 2), amount=0.4),
}


@pytest.mark.parametrize("strip", STRIPS.values(), ids=STRIPS)
def test_strip_fed_at_one_end(strip):
    """At the far end j Rs L^2 / 2; for 1 ohm, 50 mm and 1 A/dm2 that is 0.125 V."""
    network = fed(strip, lambda p: p[:, 0] < 1e-9)
    assert lost(network).max() == pytest.approx(0.125, rel=5e-3)


@pytest.mark.parametrize("strip", STRIPS.values(), ids=STRIPS)
def test_strip_fed_at_both_ends(strip):
    """In the middle j Rs L^2 / 8."""
    network = fed(strip, lambda p: (p[:, 0] < 1e-9) | (p[:, 0] > L - 1e-9))
    assert lost(network).max() == pytest.approx(J * RS * L**2 / 8, rel=1e-2)


@pytest.mark.parametrize("strip", STRIPS.values(), ids=STRIPS)
def test_strip_shape_of_the_loss(strip):
    """u(x) = j Rs (L x - x^2 / 2) from one end, everywhere."""
    network = fed(strip, lambda p: p[:, 0] < 1e-9)
    x = network.sheet.mesh.points[:, 0]
    assert np.abs(lost(network) - J * RS * (L * x - x**2 / 2)).max() < 0.01 * 0.125


# far / contact and mean / contact for L / lambda = 0.5, 1, 2, 3
KINETIC = {0.5: (0.8868, 0.9242), 1.0: (0.64805, 0.7616), 2.0: (0.2658, 0.4820), 3.0: (0.0993, 0.3317)}


@pytest.mark.parametrize("ratio", KINETIC)
@pytest.mark.parametrize("name", ["even", "scattered", "slivers across, aspect 100"])
def test_strip_with_linear_kinetics(name, ratio):
    """j(x) / j(0) = cosh((L - x) / lambda) / cosh(L / lambda) with lambda = sqrt(rho / Rs)."""
    network = fed(STRIPS[name], lambda p: p[:, 0] < 1e-9)
    rho = RS * (L / ratio) ** 2
    conductance = Graph(network.graph.count, network.graph.low, network.graph.high, network.graph.weight / RS)
    resistance = np.full(len(network.sheet.area), rho)
    found = run_to_end(drop.share_current(network, conductance, network.ground / RS, resistance, 0.05))
    x = network.sheet.mesh.points[:, 0]
    far, mean = KINETIC[ratio]
    contact = found.density[x < 1e-9].mean()
    assert found.density[x > L - 1e-9].mean() / contact == pytest.approx(far, rel=1e-2, abs=2e-3)
    assert network.sheet.area @ found.density == pytest.approx(0.05, rel=1e-9)
    assert 0.05 / (L * WIDTH) / contact == pytest.approx(mean, rel=1e-2)


def disc(radius: float, rings: int, around: int) -> models.Model:
    return models.lathe(models.steps([(0, 0), (radius, 0)], rings), around)


def scattered_disc(radius: float, count: int, seed: int = 2) -> models.Model:
    random = np.random.default_rng(seed)
    angle = np.arange(160) * 2 * np.pi / 160
    spread = np.sqrt(random.random(count)) * 0.985
    turn = random.random(count) * 2 * np.pi
    flat = np.vstack(
        [np.c_[np.cos(angle), np.sin(angle)], np.c_[spread * np.cos(turn), spread * np.sin(turn)], [[0.0, 0.0]]]
    )
    flat += 1e-9 * random.random(flat.shape)
    faces = Delaunay(flat).simplices
    a, b, c = flat[faces].transpose(1, 0, 2)
    turned = (b - a)[:, 0] * (c - a)[:, 1] < (b - a)[:, 1] * (c - a)[:, 0]
    faces = np.where(turned[:, None], faces[:, ::-1], faces).astype(np.int32)
    return np.c_[radius * flat, np.zeros(len(flat))], faces


DISCS = {
    "even": disc(0.02, 20, 120),
    "fan of slivers": disc(0.02, 1, 360),
    "scattered": scattered_disc(0.02, 1500),
}


@pytest.mark.slow
@pytest.mark.parametrize("model", DISCS.values(), ids=DISCS)
@pytest.mark.parametrize(("ratio", "factor"), [(10, 0.90379), (20, 1.24849)])
def test_disc_with_a_pad_in_the_middle(model, ratio, factor):
    """Pad of radius a on a disc of radius b: j Rs (b^2 ln(b/a) / 2 - (b^2 - a^2) / 4) at the rim."""
    b = 0.02
    part = surface(model)
    coat = run_to_end(sheet.build(part))
    pads = wires.specified_pads(part, [Wire((0.0, 0.0, 0.0), 2 * b / ratio)])
    fitted, covered = run_to_end(sheet.with_pads(part, coat, pads))
    assert lost(drop.WiredSheet.of(fitted, covered)).max() == pytest.approx(factor * J * RS * b**2, rel=1e-2)


@pytest.mark.parametrize("ratio", [0.1, 0.3, 1.0])
def test_pad_on_a_wide_sheet_with_linear_kinetics(ratio):
    """Pad of radius a, reach l = sqrt(rho / Rs): I / j(0) = pi a^2 + 2 pi a l K1(a/l) / K0(a/l), modified Bessel functions
    (classical: the annular fin)."""
    reach = 0.004
    pad = ratio * reach
    part = surface(disc(0.03, 90, 120))
    pads = wires.specified_pads(part, [Wire((0.0, 0.0, 0.0), 2 * pad)])
    coat = run_to_end(sheet.build(part))
    fitted, covered = run_to_end(sheet.with_pads(part, coat, pads))
    network = drop.WiredSheet.of(fitted, covered)
    rho = RS * reach**2
    found = run_to_end(drop.share_current(network, network.graph, network.ground, np.full(len(fitted.area), rho), 1.0))
    expected = np.pi * pad**2 + 2 * np.pi * pad * reach * k1(ratio) / k0(ratio)
    assert rho / found.voltage == pytest.approx(expected, rel=1e-2)


@pytest.mark.parametrize("model", [DISCS["even"], DISCS["scattered"]], ids=["even", "scattered"])
def test_disc_fed_at_the_rim(model):
    """j Rs b^2 / 4 in the middle."""
    b = 0.02
    network = fed(model, lambda p: np.linalg.norm(p, axis=1) > b * (1 - 1e-6))
    assert lost(network).max() == pytest.approx(J * RS * b**2 / 4, rel=1e-2)


def longitudes(radius: float, around: int, rows: int) -> models.Model:
    """A sphere in slices from pole to pole, turned so that the poles' slivers lie away from the wire."""
    angle = np.linspace(0, np.pi, rows + 1)
    profile = radius * np.stack([np.sin(angle), -np.cos(angle)], axis=1)
    profile[[0, -1], 0] = 0.0
    return models.moved(models.lathe(profile, around), turn=models.rotation(3))


def shaken_sphere(radius: float, level: int, seed: int = 4) -> models.Model:
    points, faces = models.sphere(radius, level)
    random = np.random.default_rng(seed)
    edge = radius * 1.1 / 2**level
    points = points + random.uniform(-0.4, 0.4, points.shape) * edge
    return radius * points / np.linalg.norm(points, axis=1, keepdims=True), faces


SPHERES = {
    "even": models.sphere(0.02, 4),
    "shaken": shaken_sphere(0.02, 4),
    "longitudes": longitudes(0.02, 240, 48),
}


@pytest.mark.slow
@pytest.mark.parametrize("model", SPHERES.values(), ids=SPHERES)
@pytest.mark.parametrize(("cap", "factor"), [(5, 6.2645), (10, 4.8801), (20, 3.5014), (30, 2.7033)])
def test_sphere_with_a_polar_cap(model, cap, factor):
    """Cap of half-angle t0 on a sphere of radius R: -2 ln sin(t0 / 2) j Rs R^2 at the far pole."""
    radius = 0.02
    part = surface(model)
    coat = run_to_end(sheet.build(part))
    rim = 2 * radius * np.sin(np.radians(cap) / 2)  # straight distance from the pole to the cap's edge
    pads = wires.specified_pads(part, [Wire((0.0, 0.0, radius), 2 * rim)])
    fitted, covered = run_to_end(sheet.with_pads(part, coat, pads))
    assert lost(drop.WiredSheet.of(fitted, covered)).max() == pytest.approx(factor * J * RS * radius**2, rel=1e-2)


def test_two_sides_of_a_sheet_halve_nothing():
    """Two coats in parallel that each collect j lose what one of them loses: j Rs L^2 / 2."""
    part = run_to_end(inspection.inspect(models.part(STRIPS["even"]), sheet_sides=2))
    coat = run_to_end(sheet.build(part, triangles=1))
    network = drop.WiredSheet.of(coat, [np.flatnonzero(coat.mesh.points[:, 0] < 1e-9)])
    assert lost(network).max() == pytest.approx(0.125, rel=5e-3)
    assert network.sheet.area.sum() == pytest.approx(2 * L * WIDTH, rel=1e-9)


def test_strips_of_tape_measure_the_sheet_resistance():
    """R between two strips of tape is Rs times the squares between them, gap / width."""
    network = fed(STRIPS["jittered"], lambda p: p[:, 0] < 1e-9)
    far = np.flatnonzero(network.sheet.mesh.points[:, 0] > L - 1e-9)
    current = np.zeros(len(network.sheet.mesh.points))
    current[far] = 1.0 / len(far)
    loss = run_to_end(drop.Loss.build(network, RS))
    volts = run_to_end(loss.at_points(current))[far].mean()  # for one ampere: ohm
    assert drop.sheet_resistance_from_strips(volts, WIDTH, L) == pytest.approx(RS, rel=0.03)
    assert drop.sheet_resistance_from_strips(5.0, WIDTH, L) == pytest.approx(1.0)


def test_flips_leave_no_negative_conductance_inside():
    """A Delaunay triangulation's cotangent weights are >= 0 on inner edges (Bobenko and Springborn 2007)."""
    part = surface(shaken_sphere(0.02, 4))
    coat = run_to_end(sheet.build(part, triangles=1))
    assert coat.graph.weight.min() > -laplacian.DELAUNAY_TOLERANCE
