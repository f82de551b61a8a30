"""Newton's method ends from any start, and what cannot be a solution is refused with its reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from addon.engine.errors import InputError
from addon.engine.field import cautions, equations, estimate, newton, problem
from addon.engine.field.bem import coarse, influence, precondition
from addon.engine.field.credible import check_credible
from addon.engine.field.problem import Ending
from addon.engine.field.solve import run, solved
from addon.engine.findings import Code, Quantity
from addon.engine.linalg.krylov import gmres
from addon.engine.mesh import inspection
from addon.engine.mesh.part import Part
from addon.engine.progress import run_to_end
from addon.engine.reporting import finding_text, report_field
from addon.engine.settings.job import read_job
from addon.engine.study.study import Study

import models

MM = 1e-3


def inspected(model):
    return run_to_end(inspection.inspect(models.part(models.moved(model, scale=MM))))


def job(**sections):
    return read_job({"part": {"file": "cup.stl"}, "effort": {"panels": 500}, **sections})


@pytest.fixture(scope="module")
def found():
    return run_to_end(solved(inspected(models.cup(10.0, 20.0, 1.0, around=24, rows=3)), job()))


def test_a_kept_inverse_serves_another_current_law_and_conductivity(monkeypatch):
    """A ball of 80 panels is one neighborhood, of two groups, so its inverses are exact: also at half the conductivity and
    twice the slope, without new ones, and at another slope with new ones."""
    points, triangles = models.sphere(0.01, 1)
    liquid = influence.Liquid()
    ball = run_to_end(influence.Influence.build(points[triangles], [np.arange(80)], np.ones(80, bool), liquid, [True]))
    made, every, plain = precondition.SchwarzPreconditioner(ball), np.ones(80, bool), precondition.inverse
    blocks = []
    monkeypatch.setattr(precondition, "inverse", lambda block: blocks.append(block) or plain(block))
    j = np.random.default_rng(2).normal(1.0, 0.3, 80)
    for slope, conductivity, inverted in ((1e-4, 20.0, 2), (2e-4, 10.0, 2), (1e-6, 20.0, 4)):
        right = ball.share * slope * j + ball.apply(j / conductivity, slope * j)
        found = made.inverse(np.full(80, slope), every, every, conductivity)(right)
        np.testing.assert_allclose(found, j, rtol=2e-3)
        assert len(blocks) == inverted


def test_even_densities_without_kinetics_take_no_iteration(monkeypatch):
    """A ball of 1280 panels at one potential: what large groups make evenly is found at once, with nothing left for the
    blocks; any other density takes fewer iterations than with the blocks alone (4, not 6), and is the same."""
    points, triangles = models.sphere(0.01, 3)
    n = len(triangles)
    liquid, every = influence.Liquid(), np.ones(n, bool)
    ball = run_to_end(influence.Influence.build(points[triangles], [np.arange(n)], np.zeros(n, bool), liquid, [True]))
    monkeypatch.setattr(coarse, "MIN_GROUP_PANELS", 80)
    space = coarse.CoarseSpace.of(ball, every)
    even = np.zeros(n)
    even[space.panels] = np.arange(1.0, 17.0)[space.group]
    right, left = ball.apply(even / 20.0, np.zeros(n)), []
    found = space.followed_by(lambda x: left.append(x) or np.zeros(n), 20.0)(right)
    np.testing.assert_allclose(found, even, rtol=1e-4)
    assert np.abs(left[0]).max() < 1e-5 * np.abs(right).max()

    def solution(groups):
        monkeypatch.setattr(coarse, "MAX_GROUPS", groups)
        inverse = precondition.SchwarzPreconditioner(ball).inverse(np.zeros(n), every, every, 20.0)
        tilted = 0.01 + ball.centroid[:, 2]
        steps = gmres(lambda j: ball.apply(j / 20.0, np.zeros(n)), tilted, precondition=inverse, tolerance=1e-5)
        return run_to_end(steps)

    alone, both = solution(1), solution(16)
    assert both.iterations <= alone.iterations - 2
    np.testing.assert_allclose(both.x, alone.x, rtol=1e-3, atol=1e-3 * np.abs(alone.x).mean())


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_newton_ends_from_any_start(found, seed):
    """Densities up to a million times too large, of either sign: the same solution in the end, or the best state met,
    never worse than the start; and no floating-point error on the way."""
    rng = np.random.default_rng(seed)
    cell, state = found.cell, found.state
    wild = state.j * 10.0 ** rng.uniform(-6, 6, len(state.j)) * rng.choice([-1.0, 1.0], len(state.j))
    start = problem.resumed(cell, replace(state, j=wild, voltage=10.0 ** rng.uniform(-3, 3)))
    drive = problem.Drive(current=float(cell.influence.area[found.panels.bodies[0]] @ state.j[found.panels.bodies[0]]))
    with np.errstate(all="raise", under="ignore"):
        first = np.linalg.norm(equations.System(cell, drive).residual(start)[0])
        ended = run_to_end(newton.solve(cell, drive, start))
    last = np.linalg.norm(equations.System(cell, drive).residual(ended)[0])
    assert last <= first and np.isfinite(ended.j).all()
    if ended.ending == Ending.CONVERGED:
        assert ended.voltage == pytest.approx(state.voltage, rel=1e-4)


def test_a_block_of_two_panels_in_one_place_keeps_a_bounded_inverse():
    """Two equal rows: the pseudo-inverse answers their sum (half each) and does not blow up their difference."""
    block = np.array([[1.0, 1.0, 0.1], [1.0, 1.0, 0.1], [0.1, 0.1, 1.0]], np.float32)
    inverse = precondition.inverse(block)
    assert np.abs(inverse).max() < 10.0
    x = inverse @ np.array([1.0, 1.0, 0.0], np.float32)
    np.testing.assert_allclose(block @ x, [1.0, 1.0, 0.0], atol=1e-5)


@pytest.mark.slow
def test_a_thin_plate_of_many_triangles_is_an_anode_like_a_thick_one():
    """A plate 1 mm thick of 220 triangles was folded flat when it was coarsened: 15 % of it took current. In the maximum
    principle of Laplace's equation current leaves the anodes everywhere; a plate 4 mm thick gives the same voltage."""
    volts = []
    for thick in (1.0, 4.0):
        points, faces = models.box((120, thick, 160), (6, 1, 8))
        plate = Part.of("anode.stl", (points + [-60, 80 - thick / 2, 20]) * MM, faces.astype(np.int32))
        other = {"plate_mm": [120, 160], "centre_mm": [0, -80, 100], "normal": [0, 1, 0]}
        wanted = job(anode=[other, {"file": "anode.stl"}])
        volts.append(
            run_to_end(run(inspected(models.cup(10.0, 20.0, 1.0)), wanted, meshes={"anode.stl": plate})).voltage
        )
    assert volts[0] == pytest.approx(volts[1], rel=0.02)


def test_what_cannot_be_is_refused(found):
    """A residual too large, a voltage that no supply gives, a part that gives current, an anode that takes it."""
    panels, cell, state = found.panels, found.cell, found.state
    check_credible(panels, cell, state)
    turned = np.where(cell.rows(problem.Role.ANODE), -state.j, state.j)
    for wrong, word in (
        (replace(state, residual=0.01, ending=Ending.STAGNATED), "not found"),
        (replace(state, residual=np.nan), "not found"),
        (replace(state, voltage=-3.97e9), "cannot be"),
        (replace(state, voltage=1.2e5), "cannot be"),
        (replace(state, j=-state.j), "the part would give"),
        (replace(state, j=turned), "would take current"),
    ):
        with pytest.raises(InputError, match=word):
            check_credible(panels, cell, wrong)


@pytest.mark.slow
def test_an_error_that_nobody_knows_is_no_number(found):
    """Two levels of the same pieces tell nothing: not "100 %", but null in the report and words without a figure."""
    j = found.state.j
    assert estimate.error(found.panels, found.panels, j, j) is None
    field = replace(run_to_end(run(inspected(models.cup(10.0, 20.0, 1.0, around=24, rows=3)), job())), error=None)
    (finding,) = (one for one in cautions.computation(field) if one.code == Code.FIELD_UNSURE)
    assert Quantity.ERROR not in finding.quantities and "unknown" in finding_text.text(finding)
    made = Study(models.part(models.box()), job(), inspected(models.box()))
    assert report_field.field(field, made)["relative_error"] is None
