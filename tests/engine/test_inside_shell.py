"""Surface inside the part's own solid is told of the part, not of the coarser panels that stand for it."""

from __future__ import annotations

import numpy as np

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
