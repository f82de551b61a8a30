"""Plugs: closed tapers that fit the hole, for holes that only take current away, and for no others."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh

from addon.engine.errors import InputError
from addon.engine.findings import BARE, Code, Finding, Severity, each_fact_once
from addon.engine.helpers import plug, turned
from addon.engine.mesh.inspection import inspect
from addon.engine.printing import cylinders
from addon.engine.progress import run_to_end
from addon.engine.settings.job import read_job
from addon.engine.study import findings, run
from addon.engine.units import MM, UM
from addon.engine.verdict import fixes

import models
from tracers import EmbreeTracer

AROUND = 96
BLIND = [(0, 0), (10, 0), (10, 20), (3, 20), (3, 6), (0, 6)]  # a post of 20 mm with a hole of 6 mm, 14 deep, in its top
SHALLOW = [(0, 0), (10, 0), (10, 20), (3, 20), (3, 16), (0, 16)]
THROUGH = [(3, 0), (10, 0), (10, 20), (3, 20), (3, 0)]
JOB = read_job({"part": {"file": "x.stl"}, "coat": {"thickness_um": 30}})


def found(profile: list, show: bool = False) -> plug.Plugs:
    model = models.moved(models.lathe(profile, AROUND), scale=MM)
    shown = np.linalg.norm(model[0][model[1]].mean(axis=1)[:, :2], axis=1) < 3.01 * MM
    surface = run_to_end(inspect(models.part(model, show=shown & show)))
    return plug.find(surface, EmbreeTracer(surface), JOB, None)


def test_a_plug_is_a_closed_taper_that_fits_the_coated_hole():
    """Volume of a frustum whose ends are regular polygons: geometry. The mouth's diameter is the gauge's, less two
    coats."""
    (one,) = found(BLIND).plugs
    mesh = trimesh.Trimesh(one.points / MM, one.triangles, process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1
    tip, top, length = one.tip / MM / 2, one.top / MM / 2, (one.inside + plug.OUTSIDE) / MM
    polygon = turned.SIDES / 2 * np.sin(2 * np.pi / turned.SIDES)
    assert mesh.volume == pytest.approx(polygon * length / 3 * (tip**2 + tip * top + top**2), rel=1e-9)
    gauge = 6 * MM * np.cos(np.pi / AROUND)
    assert one.hole == pytest.approx(gauge - 2 * 30 * UM, abs=1e-8)
    at_mouth = one.tip + (one.top - one.tip) * one.inside / (one.inside + plug.OUTSIDE)
    assert at_mouth == pytest.approx(one.hole, rel=1e-12)
    np.testing.assert_allclose(one.mouth, (0, 0, 20 * MM), atol=1e-9)
    np.testing.assert_allclose(one.axis, (0, 0, 1), atol=1e-9)
    assert one.depth == pytest.approx(14 * MM, rel=1e-4)
    assert one.inside + plug.OUTSIDE + plug.BOTTOM_GAP <= one.depth + 1e-9  # pushed in all the way it meets no bottom


def test_it_shuts_off_the_walls_and_the_bottom():
    """Area of a prism's sides and of one end, of as many sides as the model has: geometry."""
    one = found(BLIND).plugs[0]
    side = 2 * 3 * np.sin(np.pi / AROUND)
    area = AROUND * side * 14 + AROUND / 2 * 9 * np.sin(2 * np.pi / AROUND)
    assert one.area / MM**2 == pytest.approx(area, rel=1e-6)


@pytest.mark.parametrize(("profile", "show"), [(SHALLOW, False), (THROUGH, False), (BLIND, True)])
def test_other_holes_are_left_alone(profile, show):
    """A dish wider than deep, a hole through, a hole that shows."""
    with pytest.raises(InputError, match="no plug is needed"):
        found(profile, show)


@pytest.mark.slow
def test_with_the_plug_in_the_current_falls_by_its_area():
    """The density is held, so the current goes with the plated area."""
    part = models.part(models.moved(models.lathe(BLIND, 32), scale=MM))
    job = read_job({"part": {"file": "x.stl", "hang": "as set"}, "effort": {"panels": 600}})
    results = run_to_end(run(part, job, EmbreeTracer, only=["plugged"])).results
    with_it, one = results.plugged, results.plugs.plugs[0]
    assert with_it.current == pytest.approx(with_it.current_before * (1 - one.share), rel=1e-3)
    assert with_it.thinnest > 2 * with_it.thinnest_before


BARE_FACES = pytest.mark.parametrize(("profile", "fixed"), [(BLIND, True), (THROUGH, False)])


@BARE_FACES
def test_what_stays_bare_in_a_hole_for_a_plug_is_told_once_and_mended_by_plugs(profile, fixed):
    """Bare walls of a hole, as the coat and as the current distribution find them: one fact, whose fix is a plug where
    a plug fits, and which is no fault any more once it is made."""
    surface = run_to_end(inspect(models.part(models.moved(models.lathe(profile, AROUND), scale=MM))))
    bare = np.flatnonzero(np.linalg.norm(surface.centroid[:, :2], axis=1) < 3.01 * MM)
    said = [Finding(code, Severity.SPOILS, faces=bare, spoilt_share=0.03) for code in BARE]
    (one,) = each_fact_once(said)
    results = SimpleNamespace(fits=SimpleNamespace(round_faces=cylinders.find(surface)), plugs=None, field=None)
    study = SimpleNamespace(surface=surface, job=JOB, results=results)
    mended = fixes.fix(one, study)
    assert mended == (fixes.Fix(fixes.FixCode.MAKE_PLUGS, 1.0) if fixed else None)
    if fixed:
        results.plugs = found(profile)
        assert findings.plugged(one, study).severity == Severity.NOTE
        elsewhere = replace(one, faces=np.flatnonzero(surface.centroid[:, 2] < 1e-6))
        assert findings.plugged(elsewhere, study) is elsewhere
        assert fixes.fix(one, study) is None


def test_what_spoils_most_stands_for_what_stays_bare():
    """A spot that never gets metal does not hide a region that gets hardly any."""
    small, large = (
        Finding(code, Severity.SPOILS, spoilt_share=share)
        for code, share in ((Code.COAT_STAYS_BARE, 0.01), (Code.ALMOST_BARE, 0.2))
    )
    assert each_fact_once([small, large]) == [large]
