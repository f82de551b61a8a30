"""Surface inside the part's own solid is told of the part, not of the coarser panels that stand for it."""

from __future__ import annotations

import numpy as np
import pytest

from types import SimpleNamespace

from addon.engine.field import cautions
from addon.engine.findings import Code
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.study import findings
from addon.engine.units import MM

import demo_study
import models


def test_the_end_of_a_bar_that_is_wound_into_its_other_end_lies_inside():
    """A bar 1 x 1 mm wound by 1.1 turns of radius 5 mm that climb 0.3 mm a turn: one closed shell, whose first end
    stands in the bar where it comes round, from 0.3 mm up."""
    points, triangles = models.box((33, 1, 1), (99, 4, 4))
    along, out, up = (points - points.min(axis=0)).T
    turn = 2.2 * np.pi * along / along.max()
    wound = np.stack([(5 + out) * np.cos(turn), (5 + out) * np.sin(turn), up + 0.3 * turn / (2 * np.pi)], axis=1)
    surface = run_to_end(inspection.inspect(models.part((wound * MM, triangles))))
    first = np.abs(surface.normal[:, 1]) * (np.abs(surface.centroid[:, 1]) < 1e-9) > 0.9
    height = surface.centroid[:, 2] / MM
    buried = first & (height > 0.32)
    far = surface.centroid[:, 0] < -2 * MM
    assert buried.sum() >= 16 and far.sum() > 100
    faces = np.flatnonzero(first & (np.abs(height - 0.3) > 0.02) | far)
    assert (cautions.inside(surface, faces) == buried[faces]).all()


def test_one_sound_shell_has_nothing_inside_itself():
    """The demo part is closed, one shell, and crosses itself nowhere."""
    assert Code.INSIDE_SHELL not in {one.code for one in findings.of_study(demo_study.demo())}


@pytest.mark.parametrize(("sheets", "told"), [(1, False), (100, True)])
def test_a_few_flakes_make_no_sheet_of_a_scan(sheets, told):
    """Of 1,000 equal panels: a scan of which 0.02 % was taken as sheets was told to count as one."""
    double = np.arange(1000) >= sheets
    influence = SimpleNamespace(area=np.ones(1000), double=double)
    cell = SimpleNamespace(dry=None, influence=influence, rows=lambda _: np.ones(1000, dtype=bool))
    panels = SimpleNamespace(
        bodies=[np.arange(1000)], part=SimpleNamespace(cover=SimpleNamespace(home=np.zeros(0, dtype=np.intp)))
    )
    surface = SimpleNamespace(plated_area=np.ones(1000))
    codes = [finding.code for finding in cautions.model(surface, panels, cell)]
    assert codes == [Code.OPEN_SHEET] * told
