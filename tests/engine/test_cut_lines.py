"""Sections of a plane with surfaces, and current lines on a grid, against geometry and against flows with a closed form."""

from __future__ import annotations

import models
import numpy as np
import pytest

from addon.engine.field.section import Plane, Section, between, meet, spans, touched
from addon.engine.field.trace import Grid, electric_field, ended, lines, starts
from addon.engine.progress import run_to_end

NOTHING = Section(np.zeros((0, 2, 2)), np.zeros((0, 2)), np.zeros(0, dtype=np.intp))


def tilted(seed: int, point: object) -> Plane:
    turn = models.rotation(seed)
    return Plane(np.asarray(point, float), turn[0], turn[1])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_section_of_a_sphere_is_a_circle(seed):
    """A plane d from the middle of a sphere leaves a circle of r^2 - d^2 (geometry): its area by spans, its outline's
    length and the way it faces, in any direction of the plane."""
    turn = models.rotation(seed)
    plane = tilted(seed, 0.3 * turn[2])
    points, faces = models.sphere(1.0, 5)
    found = meet(plane, points[faces])
    radius = np.sqrt(1.0 - 0.09)
    nodes = np.linspace(-1.2, 1.2, 481)
    _, ends = spans(found, nodes)
    assert np.ptp(ends, axis=1).sum() * (nodes[1] - nodes[0]) == pytest.approx(np.pi * radius**2, rel=0.005)
    length = np.linalg.norm(np.diff(found.segments, axis=1), axis=2).sum()
    assert length == pytest.approx(2 * np.pi * radius, rel=0.003)
    assert np.allclose(np.einsum("ij,ij->i", found.outward, found.segments.mean(axis=1)), radius, rtol=0.01)


def test_spans_of_overlapping_bodies_and_of_walls():
    """Two boxes that run into each other have one span of 3; walls face inward; a plane through a hole has none there."""
    one, other = models.box((2, 2, 2)), models.moved(models.box((2, 2, 2)), (1.0, 0.0, 0.0))
    room = models.inside_out(models.moved(models.box((8, 8, 8)), (-3.0, -3.0, -3.0)))
    plane = Plane(np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]))
    both = meet(plane, np.concatenate([points[faces] for points, faces in (one, other)]))
    row, ends = spans(both, np.array([-0.5, 0.9, 2.1]))
    assert row.tolist() == [1, 1, 1]
    np.testing.assert_allclose(ends, [[0, 1], [1, 2], [2, 3]])
    assert [meet(plane, points[faces]).inward for points, faces in (one, room)] == [False, True]
    points, faces = one
    open_side = points[faces].mean(axis=1)[:, 0] < 1.9
    assert not len(spans(meet(plane, points[faces][open_side]), np.array([0.9]))[0])


def gridded(across: np.ndarray, up: np.ndarray, potential: np.ndarray) -> Grid:
    """A grid all in the liquid."""
    wet = np.ones(potential.shape, dtype=bool)
    return Grid(across, up, potential, wet, ~wet, electric_field(across, up, potential, wet, NOTHING, np.zeros(0)))


def around_cylinder() -> Grid:
    """A uniform flow to the right round an insulating cylinder of radius 1: phi = -(r + 1/r) cos(angle)."""
    across, up = np.linspace(-4.0, 4.0, 161), np.linspace(-3.0, 3.0, 121)
    x, y = np.meshgrid(across, up)
    square = np.maximum(x**2 + y**2, 1e-9)
    wet, potential = square > 1.0, -x * (1.0 + 1.0 / square)
    angle = np.linspace(0.0, 2 * np.pi, 361)
    rim = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    circle = Section(np.stack([rim[:-1], rim[1:]], axis=1), 0.5 * (rim[:-1] + rim[1:]), np.arange(360))
    falls = electric_field(across, up, potential, wet, circle, -2.0 * circle.outward[:, 0])
    return Grid(across, up, potential, wet, np.zeros_like(wet), falls)


def test_lines_keep_the_stream_function():
    """psi = (r - 1/r) sin(angle) is constant along each line of the flow round a cylinder (classical): within 1 % of the
    flow between the outermost lines, from end to end, and none enters the cylinder."""
    grid = around_cylinder()
    begin = np.stack([np.full(8, -3.9), np.linspace(-2.4, 2.4, 8)], axis=1)
    for line in run_to_end(lines(grid, begin, NOTHING, walled=False)):
        square = (line**2).sum(axis=1)
        stream = line[:, 1] * (1.0 - 1.0 / square)
        assert np.abs(stream - stream[0]).max() < 0.01 * 4.8
        assert line[-1, 0] > 3.8
        assert square.min() > 0.98


def test_lines_do_not_leave_between_walls():
    """Between walls (the rim), lines that are led against them run along them: current does not cross insulators."""
    across, up = np.linspace(0.0, 2.0, 41), np.linspace(0.0, 1.0, 21)
    x, y = np.meshgrid(across, up)
    (line,) = run_to_end(lines(gridded(across, up, -x - 0.2 * y), np.array([[0.1, 0.9]]), NOTHING, walled=True))
    assert line[:, 1].max() <= 1.0
    assert line[-1] == pytest.approx([2.0, 1.0])


def test_lines_slide_along_an_insulator():
    """A fall straight at a leaning insulator: the line follows it to its end (no current crosses it) and goes on."""
    across, up = np.linspace(0.0, 4.0, 81), np.linspace(0.0, 2.0, 41)
    x, _ = np.meshgrid(across, up)
    lean = Section(
        np.array([[[1.0, 0.5], [2.0, 1.5]]]), np.array([[0.5**0.5, -(0.5**0.5)]]), np.zeros(1, dtype=np.intp)
    )
    (line,) = run_to_end(lines(gridded(across, up, -x), np.array([[0.2, 0.8]]), lean, walled=True))
    beside = (line[:, 0] - line[:, 1] - 0.5)[(line[:, 1] > 0.82) & (line[:, 1] < 1.5)]
    assert (beside < 0).all() and beside.min() > -0.01
    assert line[-1] == pytest.approx([4.0, 1.5], abs=0.06)


def test_a_line_that_the_current_leaves_comes_to_its_end():
    """Falling to one place from either side (phi = x^2 + y^2, derived), it stops there and takes no more steps."""
    at = np.linspace(-1.0, 1.0, 41)
    x, y = np.meshgrid(at, at)
    (line,) = run_to_end(lines(gridded(at, at, x**2 + y**2), np.array([[0.9, 0.63]]), NOTHING, walled=True))
    assert np.linalg.norm(line[-1]) < 0.05
    assert len(line) < 150


def sheet(x: float, low: float, high: float, pieces: int) -> Section:
    z = np.linspace(low, high, pieces + 1)
    segments = np.stack(
        [np.stack([np.full(pieces, x), z[:-1]], axis=1), np.stack([np.full(pieces, x), z[1:]], axis=1)], axis=1
    )
    return Section(segments, np.tile([1.0, 0.0], (pieces, 1)), np.arange(pieces))


def test_starts_share_out_the_current():
    """With densities of 1 and 3 on the two halves of an anode, one line in four starts on the first; a sheet in the
    middle of a fall to both sides gives half to each (definition)."""
    across, up = np.linspace(0.0, 2.0, 81), np.linspace(0.0, 1.0, 41)
    x, _ = np.meshgrid(across, up)
    density, none = np.repeat([1.0, 3.0], 10), np.zeros(20, dtype=np.intp)
    on, beside = starts(gridded(across, up, -x), sheet(0.0, 0.0, 1.0, 20), density, none > 0, none, 40)
    assert (on[:, 1] < 0.5).sum() == 10
    np.testing.assert_allclose(np.diff(np.sort(on[on[:, 1] > 0.5, 1])), 0.5 / 30, rtol=1e-6)
    assert (beside[:, 0] > 0).all()
    on, beside = starts(gridded(across, up, -np.abs(x - 1.0)), sheet(1.0, 0.0, 1.0, 20), density, none == 0, none, 40)
    assert (beside[:, 0] > 1.0).sum() == (beside[:, 0] < 1.0).sum() == 20


def test_what_stands_between_nodes_is_seen_from_either_side():
    """A wall thinner than a cell, at 10 on its left and 20 on its right (definition): slopes beside it never reach across,
    though the potential jumps there, on rows and on columns."""
    pair = [sheet(0.95, -1.0, 2.0, 3), sheet(1.05, -1.0, 2.0, 3)]
    wall = Section(
        np.concatenate([p.segments for p in pair]), np.repeat([[-1.0, 0.0], [1.0, 0.0]], 3, axis=0), np.arange(6)
    )
    value = np.repeat([10.0, 20.0], 3)
    across, up = np.linspace(0.2, 1.8, 4), np.linspace(0.0, 1.0, 6)
    left, first, right, last = between(wall, across, up)
    np.testing.assert_allclose(left, np.tile([np.nan, 0.95, np.nan], (6, 1)))
    np.testing.assert_allclose(right, np.tile([np.nan, 1.05, np.nan], (6, 1)))
    assert (value[first[:, 1]] == 10.0).all() and (value[last[:, 1]] == 20.0).all()
    x, _ = np.meshgrid(across, up)
    jump = np.where(x < 1.0, 10.0, 20.0)
    for turned in (False, True):
        a, b, jumps, s = (up, across, jump.T, wall.turned) if turned else (across, up, jump, wall)
        np.testing.assert_allclose(
            electric_field(a, b, jumps, np.ones(jumps.shape, dtype=bool), s, value), 0.0, atol=1e-9
        )


def test_nodes_on_a_surface_are_found():
    """Of a sphere's section the nodes at its four poles, which no line of the grid passes through (geometry)."""
    points, faces = models.sphere(1.0, 3)
    plane = Plane(np.zeros(3), np.eye(3)[0], np.eye(3)[2])
    nodes = np.linspace(-1.5, 1.5, 7)
    found = touched(meet(plane, points[faces]), nodes, nodes)
    assert set(map(tuple, np.argwhere(found))) == {(1, 3), (5, 3), (3, 1), (3, 5)}


def test_a_line_ends_on_the_surface():
    """It is drawn on to a wall within two steps, and cut at one that it has passed; farther off it ends by itself."""
    wall = sheet(1.0, -1.0, 1.0, 7)
    short = np.array([[0.0, 0.1], [0.5, 0.1], [0.9, 0.1]])
    np.testing.assert_allclose(ended(short, wall)[-1], [1.0, 0.1])
    np.testing.assert_allclose(ended(short + (0.3, 0.0), wall), [[0.3, 0.1], [0.8, 0.1], [1.0, 0.1]])
    np.testing.assert_allclose(ended(short - (0.8, 0.0), wall), short - (0.8, 0.0))
