"""The potential in the liquid against closed forms and against what must hold of it, and the lines of whole cuts.

"Classical" forms are in every text on potential theory.
"""

from __future__ import annotations

import models
import numpy as np
import pytest
from cells import Bench, Surface, onto_sphere

from addon.engine.settings import job as jobs
from addon.engine.mesh import inspection
from addon.engine.errors import InputError
from addon.engine.field import cut as cuts
from addon.engine.field import wall
from addon.engine.field.bem.influence import Liquid
from addon.engine.field.solve import solved
from addon.engine.field.solved import Solved
from addon.engine.chemistry.kinetics import Linear
from addon.engine.progress import run_to_end
from addon.engine.tank.body import Role

KAPPA = 25.0


@pytest.fixture(scope="module")
def spheres() -> Bench:
    """Concentric spheres of 10 and 50 mm."""
    inner, outer = (onto_sphere(models.sphere(1, level), r) for level, r in ((3, 0.01), (2, 0.05)))
    return Bench([Surface(inner, Role.PART), Surface(models.inside_out(outer), Role.ANODE)], Liquid())


@pytest.mark.parametrize("wagner", [0.0, 0.5])
def test_between_concentric_spheres(spheres, wagner):
    """phi = V - I (1/r - 1/b) / (4 pi kappa) with I = V / R (classical; linear kinetics add their resistance to R): at
    points from 1 % of the gap off one sphere to 1 % off the other, within 1 % of the drop in the liquid."""
    a, b = 0.01, 0.05
    state = spheres.solved(Linear(wagner * a / KAPPA), voltage=1.0)
    cell = spheres.cell
    ways = np.random.default_rng(1).normal(size=(40, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    shares = np.array([0.01, 0.03, 0.1, 0.3, 0.6, 0.9, 0.97, 0.99])
    radii = a + shares * (b - a)
    found = cuts.potential(cell, state, (radii[:, None, None] * ways).reshape(-1, 3)).reshape(len(radii), -1)
    liquid = (1 / a - 1 / b) / (4 * np.pi * KAPPA)
    drop = liquid / (liquid + wagner * a / KAPPA / (4 * np.pi * a**2))
    expected = 1.0 - drop * (1 / radii - 1 / b) / (1 / a - 1 / b)
    np.testing.assert_allclose(found, np.repeat(expected[:, None], 40, axis=1), atol=0.01 * drop)


def test_between_parallel_plates():
    """Plates that fill the ends of a box: the potential is linear (derived), and even in every plane between them, up to
    the walls, within 0.5 % of the drop."""
    size = np.array([0.1, 0.05, 0.04])
    flat, faces = models.plate(size[1:], (5, 4))
    side = np.insert(flat[:, :2], 0, 0.0, axis=1)
    plates = [Surface((side, faces), Role.PART, True), Surface((side + (0.1, 0, 0), faces), Role.ANODE, True)]
    bench = Bench(plates, Liquid(box=np.array([0 * size, size])))
    state = bench.solved(voltage=1.0)
    share = np.random.default_rng(2).uniform(0.001, 0.999, (200, 3))
    share[:40, 1] = 1e-4
    share[40:80, 2] = 1.0 - 1e-4
    found = cuts.potential(bench.cell, state, share * size)
    np.testing.assert_allclose(found, share[:, 0], atol=0.005)


@pytest.fixture(scope="module")
def ball() -> tuple[object, Solved]:
    """A ball of 30 mm off the middle of a tank with one anode at its side, solved with few panels."""
    part = models.part(models.sphere(0.015, 4))
    surface = run_to_end(inspection.inspect(part))
    job = jobs.read_job(
        {
            "tank": {"size_mm": [160, 100, 120], "level_mm": 100},
            "anode": [{"plate_mm": [80, 60], "centre_mm": [0, 46, 50], "normal": [0, -1, 0]}],
            "place": {"centre_mm": [0, -10, 40]},
            "effort": {"panels": 1500},
        }
    )
    return surface, run_to_end(solved(surface, job))


def sphere_of(radius: float, count: int) -> np.ndarray:
    """Evenly spread unit directions: a Fibonacci lattice."""
    k = np.arange(count) + 0.5
    z, angle = 1 - 2 * k / count, np.pi * (1 + 5**0.5) * k
    flat = np.sqrt(1 - z**2)
    return radius * np.stack([flat * np.cos(angle), flat * np.sin(angle), z], axis=1)


@pytest.mark.slow
def test_flux_round_the_part_is_its_current(ball):
    """Gauss: kappa d phi / dn over a closed surface round the part is the part's current, within 1 %, near it and far."""
    _, found = ball
    cell, state, rows = found.cell, found.state, found.panels.bodies[0]
    current = float(cell.influence.area[rows] @ state.j[rows])
    middle = found.panels.arrangement.poses[0].middle
    for radius in (0.018, 0.03):
        step, ways = 0.0005, sphere_of(1.0, 600)
        out, back = (cuts.potential(cell, state, middle + (radius + s) * ways) for s in (step, -step))
        flux = cell.conductivity * float((out - back).mean()) / (2 * step) * 4 * np.pi * radius**2
        assert flux == pytest.approx(current, rel=0.01)


@pytest.mark.slow
def test_no_current_crosses_the_walls(ball):
    """The slope normal to walls, floor and free surface, from three places a little off them, is below 0.5 % of the mean
    slope from the anode to the ball."""
    _, found = ball
    cell, state = found.cell, found.state
    low, high = found.panels.arrangement.box
    step, mean = 5e-4, np.ptp(state.phi) / 0.041
    for axis in range(3):
        for side, way in ((low, 1.0), (high, -1.0)):
            at = low + np.random.default_rng(axis).uniform(0.02, 0.98, (60, 3)) * (high - low)
            near = []
            for k in (0.001, 1.001, 2.001):
                at[:, axis] = side[axis] + way * k * step
                near.append(cuts.potential(cell, state, at))
            slope = (-3.0 * near[0] + 4.0 * near[1] - near[2]) / (2.0 * step)
            assert np.abs(slope).max() < 0.005 * mean


@pytest.mark.slow
def test_cut_through_the_anode(ball):
    """Lines start on the anode, end on the ball, fall all the way and keep within the tank; in the plane of symmetry next
    to nothing crosses it, and the far images read from a few nodes are as if taken at each point."""
    surface, found = ball
    cut = run_to_end(cuts.run(surface, found, jobs.read_job({}).cut))
    assert cut.oblique < 0.03
    assert len(cut.lines) == cuts.CURRENT_LINES
    plane, middle = cut.plane, found.panels.arrangement.poses[0].middle
    low, high = found.panels.arrangement.box
    for line in cut.lines:
        points = plane.lift(line)
        assert points[0, 1] == pytest.approx(0.046, abs=1e-6)
        assert np.linalg.norm(points[-1] - middle) == pytest.approx(0.015, rel=0.01)
        assert (points >= low).all() and (points <= high).all()
        assert (np.diff(cut.grid.read(cut.grid.potential, line[1:-1])) < 1e-9).all()
    rows, columns = np.nonzero(cut.grid.wet)
    some = np.random.default_rng(3).choice(len(rows), 150, replace=False)
    rows, columns = rows[some], columns[some]
    at = plane.lift(np.stack([cut.grid.across[columns], cut.grid.up[rows]], axis=1))
    exact = cuts.potential(found.cell, found.state, at)
    np.testing.assert_allclose(cut.grid.potential[rows, columns], exact, atol=0.003 * found.state.voltage)


@pytest.mark.slow
def test_other_planes(ball):
    """Off the middle current crosses the plane; square to the anode and level it is cut as asked; beside the tank there is
    a plain word."""
    surface, found = ball
    asked = [{"offset_mm": 12}, {"way": "across"}, {"way": "level", "offset_mm": -5}]
    off, across, level = (run_to_end(cuts.run(surface, found, jobs.read_job({"cut": a}).cut)) for a in asked)
    assert off.oblique > 0.1
    assert abs(across.plane.normal) == pytest.approx([0, 1, 0])
    assert level.plane.point == pytest.approx([0, -0.01, 0.035])
    radius = np.linalg.norm(level.outlines[0].section.segments - level.plane.drop(level.pose.middle), axis=2)
    assert radius == pytest.approx(np.sqrt(0.015**2 - 0.005**2), rel=0.01)
    with pytest.raises(InputError, match=r"cut\.offset_mm: the plane passes beside the tank; give -80 to 80 mm"):
        run_to_end(cuts.run(surface, found, jobs.read_job({"cut": {"offset_mm": 90}}).cut))


def test_close_to_an_insulating_wall():
    """Plates at the ends of a box whose sides are panels: a hundredth of a panel's length off the sides the potential is
    still linear (derived) within 1.5 % of the drop at worst and 0.4 % in the mean; with one potential a panel alone it is
    out by 1 % in the mean."""
    points, faces = models.inside_out(models.box((0.1, 0.05, 0.04), (8, 4, 4)))
    end = points[faces].mean(axis=1)[:, 0]
    roles = (
        (end < 1e-9, Role.PART),
        (end > 0.1 - 1e-9, Role.ANODE),
        ((end > 1e-9) & (end < 0.1 - 1e-9), Role.INSULATOR),
    )
    bench = Bench([Surface((points, faces[some]), role) for some, role in roles], Liquid())
    state = bench.solved(voltage=1.0)
    corners = np.concatenate([points[faces[some]] for some, _ in roles])
    at = np.array([0.0, 1e-4, 0.013]) + np.linspace(0.005, 0.095, 181)[:, None] * (1.0, 0.0, 0.0)
    even = cuts.potential(bench.cell, state, at)
    drawn_out = even + wall.added(wall.fine(bench.cell, state, corners, corners[..., 2] - 0.013), at)
    off, before = (np.abs(found - at[:, 0] / 0.1) for found in (drawn_out, even))
    assert off.max() < 0.015
    assert off.mean() < 0.004
    assert before.mean() > 0.01
