"""How far apart copies hang is found by a button, and the row of copies takes it over."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine.field import rack
from addon.engine.reporting import plan_rack
from addon.suite.session import session
from addon.suite.scene import settings
from addon.suite.scene import stage

from models import box

pytestmark = pytest.mark.usefixtures("platewright")


@pytest.mark.slow
def test_the_spacing_that_is_found_is_the_spacing_of_the_row(add, monkeypatch):
    """Two blocks 30 mm wide: their middles, as the job then has them, are width and gap apart, and they take equal shares."""
    for name in ("MIN_PIECES_PER_COPY", "MAX_PIECES_PER_COPY"):
        monkeypatch.setattr(rack, name, 240)  # as tests/engine/test_rack.py has them
    add(box((0.030, 0.010, 0.030), (3, 1, 3)), "Block")
    bpy.ops.platewright.measure()
    bpy.ops.platewright.tank()
    chosen = settings.of(bpy.context.scene).rack
    bpy.ops.platewright.study(only="rack")
    assert "say how many copies" in session.find(bpy.context).study.reasons["rack"]
    chosen.suggest, chosen.tolerance = 2, 0.3
    assert bpy.ops.platewright.study(only="rack") == {"FINISHED"}
    kept = session.find(bpy.context)
    found = kept.study.results.rack
    assert found.enough
    np.testing.assert_allclose(found.chosen.share, 1.0, atol=0.02)
    assert found.pitch == pytest.approx(0.030 + found.chosen.gap)
    assert plan_rack.spacing_lines(found, 5.0)[0].startswith("Hang the 2 copies in a row along the anodes, with")
    bpy.ops.platewright.rack(count=found.wanted, spacing=found.pitch / 0.001)
    bpy.context.view_layer.update()
    kept = session.find(bpy.context)
    job, _ = stage.staged(
        bpy.context, settings.job_of(bpy.context.scene), kept.study.part, session.carried(bpy.context, kept.capture)
    )
    one, other = np.array(job.rack.positions)
    assert np.linalg.norm(one - other) == pytest.approx(found.pitch, abs=1e-6)
    assert job.rack.suggest == 2
