"""Gas pockets against closed forms. Lengths in meters; the sources' figures are in mm and mm3.

An inverted cup keeps the gas above the level of the highest point of its rim; an upright cup holds the same
volume of liquid. Round shapes are prisms of many sides here: their volume is that much smaller, O(1 / sides^2).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from addon.engine.trapping import gas
from addon.engine.mesh import inspection
from addon.engine.trapping.gas import Drainage, Gas
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface

from grids import blocks
from models import Model, box, cup, lathe, moved, part, sphere

MM, MM3 = 1e-3, 1e-9
BATH = 2.3 * MM  # capillary length
SIDES = 512
ROUND = 6 / SIDES**2 * 10  # relative: a prism's section lacks (2 pi / sides)^2 / 6; ten times that for its tilt


def surface_of(model: Model) -> Surface:
    return run_to_end(inspection.inspect(part(moved(model, scale=MM))))


def tilted(degrees: float) -> np.ndarray:
    """Straight down, tilted in the x-z plane: the up direction of a cup that opens to +z."""
    angle = math.radians(degrees)
    return np.array([math.sin(angle), 0.0, -math.cos(angle)])


def gas_of(model: Model, up: np.ndarray) -> Gas:
    return run_to_end(gas.trapped(surface_of(model), up, capillary_length=BATH))


def held_in(model: Model, up: np.ndarray) -> Drainage:
    return run_to_end(gas.held(surface_of(model), up, capillary_length=BATH))


# radius 10, depth 20; the figures were found by Monte Carlo as well
CUP = {0: 6283.2, 15: 5441.4, 30: 4469.4, 45: 3141.6, 60: 1616.96, 75: 556.42, 85: 108.32}


@pytest.mark.slow
@pytest.mark.parametrize(("degrees", "volume"), CUP.items())
def test_tilted_cup(degrees: float, volume: float) -> None:
    """pi R^2 (H - R tan a) while 2 R tan a <= H, then the ungula of the cylinder, whose volume is known."""
    model = cup(radius=10, depth=20, around=SIDES)
    found = gas_of(model, tilted(degrees))
    expected = pytest.approx(volume * MM3, rel=3e-4)
    assert found.trapped_volume == expected
    assert [pocket.volume for pocket in found.pockets] == [expected]
    assert held_in(model, -tilted(degrees)).held_volume == pytest.approx(found.trapped_volume, rel=1e-12)


@pytest.mark.parametrize("degrees", [5, 20, 40, 50, 63.4, 70, 80, 88])
def test_tilted_cup_formula(degrees: float) -> None:
    """The same from the formulas: the ungula is (H R^3 / b)(sin f - sin^3 f / 3 - f cos f) with
    b = H / tan a and f = acos(1 - b / R)."""
    radius, depth, tangent = 10.0, 20.0, math.tan(math.radians(degrees))
    if 2 * radius * tangent <= depth:
        volume = math.pi * radius**2 * (depth - radius * tangent)
    else:
        b = depth / tangent
        f = math.acos(1 - b / radius)
        volume = depth * radius**3 / b * (math.sin(f) - math.sin(f) ** 3 / 3 - f * math.cos(f))
    found = gas_of(cup(radius, depth, around=SIDES), tilted(degrees))
    assert found.trapped_volume == pytest.approx(volume * MM3, rel=1e-3)


def test_hoof() -> None:
    """Where the level cuts the floor along a diameter the gas is a hoof, 2 R^2 H / 3 (Archimedes)."""
    found = gas_of(cup(10, 20, around=SIDES), tilted(math.degrees(math.atan(2))))
    assert found.trapped_volume == pytest.approx(2 * 10**2 * 20 / 3 * MM3, rel=ROUND)


def trough(length: float, width: float, depth: float, wall: float = 2.0) -> Model:
    """A box with a box-shaped hollow that opens to +z; the corner of the hollow's floor is the origin."""
    solid = np.ones((3, 3, 2), dtype=bool)
    solid[1, 1, 1] = False
    points, faces = blocks(solid)
    sizes = [length, width, depth]
    steps = [[-wall, 0.0, size, size + wall] for size in sizes]
    return np.stack([np.interp(points[:, k], range(4), steps[k]) for k in range(3)], axis=1), faces


@pytest.mark.parametrize(("degrees", "figure"), [(30, 2845.3), (60, 1154.7), (10, None), (75, None)])
def test_tilted_box(degrees: float, figure: float | None) -> None:
    """W L (H - L tan a / 2) while L tan a <= H, else W H^2 / (2 tan a). A box is a polyhedron, so exactly."""
    length, width, depth, tangent = 20.0, 10.0, 20.0, math.tan(math.radians(degrees))
    level = length * tangent <= depth
    volume = width * length * (depth - length * tangent / 2) if level else width * depth**2 / (2 * tangent)
    found = gas_of(trough(length, width, depth), tilted(degrees))
    assert found.trapped_volume == pytest.approx(volume * MM3, rel=1e-12)
    if figure is not None:
        assert found.trapped_volume == pytest.approx(figure * MM3, rel=2e-5)


@pytest.mark.slow
@pytest.mark.parametrize("degrees", [0, 20, 50])
def test_tilted_hemisphere(degrees: float) -> None:
    """A bowl of radius R tilted by a keeps a cap of height h = R (1 - sin a): pi h^2 (3 R - h) / 3 (computed)."""
    radius, rows = 10.0, 128
    turn = np.linspace(-np.pi / 2, 0, rows + 1)
    inside = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    inside[0, 0] = 0.0
    outside = np.array([(0, -radius - 2), (radius + 2, -radius - 2), (radius + 2, 0)])
    found = gas_of(lathe(np.vstack([outside, inside[::-1]]), SIDES), tilted(degrees))
    height = radius * (1 - math.sin(math.radians(degrees)))
    assert found.trapped_volume == pytest.approx(math.pi * height**2 * (3 * radius - height) / 3 * MM3, rel=1e-3)
    cap = 2 * math.pi * radius * height * 1e-6  # Archimedes: a cap's area is that of the cylinder round it
    assert found.trapped_area == pytest.approx(cap, rel=1e-3)


def arch(ring: float, bore: float, wall: float, leg: float, around: int = 96, along: int = 128) -> Model:
    """A pipe bent to half a circle about the y axis, both legs ending at z = -leg; open there."""
    turn = np.linspace(0, np.pi, along + 1)
    middle = np.stack([ring * np.cos(turn), 0 * turn, ring * np.sin(turn)], axis=1)
    out = middle / ring
    down = np.array([0.0, 0.0, -leg])
    middle, out = np.vstack([middle[:1] + down, middle, middle[-1:] + down]), np.vstack([out[:1], out, out[-1:]])
    angle = np.arange(around) * 2 * np.pi / around
    across = np.cos(angle)[:, None] * out[:, None] + np.sin(angle)[:, None] * np.array([0.0, 1.0, 0.0])
    tubes = [middle[:, None] + radius * across for radius in (bore + wall, bore)]
    # outer skin from the first mouth to the last, then back inside: a closed band of rings
    rings = np.vstack([tubes[0], tubes[1][::-1]])
    count = len(rings)
    row, col = np.arange(count)[:, None] * around, np.arange(around)
    a, b = row + col, row + (col + 1) % around
    c, d = np.roll(b, -1, axis=0), np.roll(a, -1, axis=0)
    faces = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    return rings.reshape(-1, 3), faces.astype(np.int32)


@pytest.mark.slow
def test_arch_of_pipe() -> None:
    """An arch keeps its whole bore: Pappus, pi r^2 (pi R + 2 leg). The other way up, a U, it keeps none."""
    model = arch(ring=20, bore=4, wall=1, leg=10)
    volume = math.pi * 4**2 * (math.pi * 20 + 2 * 10) * MM3
    found = gas_of(model, np.array([0.0, 0.0, 1.0]))
    assert found.trapped_volume == pytest.approx(volume, rel=2e-3)
    assert len(found.pockets) == 1
    turned = gas_of(model, np.array([0.0, 0.0, -1.0]))
    # the arch's back is a saddle that no gas stays below
    assert turned.trapped_volume == pytest.approx(0.0, abs=1e-6 * volume)
    # a U holds its liquid: legs and bend, up to the rims
    assert held_in(model, np.array([0.0, 0.0, -1.0])).held_volume == pytest.approx(volume, rel=2e-3)


@pytest.mark.slow
def test_convex_bodies_keep_nothing() -> None:
    """Gas leaves a convex body whichever way it is held."""
    for model in (sphere(10, 3), box((10, 20, 5)), lathe([(0, 0), (5, 0), (0, 9)], 40)):
        for up in np.random.default_rng(0).normal(size=(20, 3)):
            found = gas_of(model, up)
            assert found.trapped_volume == 0.0
            assert found.pockets == ()
            assert not found.face.any()


@pytest.mark.parametrize(("capillary", "bore"), [(2.73, 5.0), (2.52, 4.6), (1.87, 3.4), (1.62, 3.0)])
def test_critical_bore(capillary: float, bore: float) -> None:
    """Bretherton, J. Fluid Mech. 10 (1961) 166: a long bubble stands where r < 0.918 capillary lengths."""
    assert gas.critical_bore(capillary * MM) == pytest.approx(bore * MM, abs=0.06 * MM)
    assert gas.critical_bore(1.0) / 2 == pytest.approx(0.918, abs=5e-4)
