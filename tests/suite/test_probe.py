"""The probe: what it reads is the field's own number on the face under the ray."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import numpy as np
import pytest

from addon.engine.units import A_PER_DM2, UM
from addon.suite.operators import probe as operators_probe, pick
from addon.suite.session import session
from addon.suite.scene import settings

from models import box

pytestmark = pytest.mark.usefixtures("platewright")


def test_it_needs_a_thickness(add):
    add(box((0.02, 0.02, 0.02)), "Cube")
    with pytest.raises(RuntimeError, match="Check the part first"):
        bpy.ops.platewright.probe()
    bpy.ops.platewright.measure()
    with pytest.raises(RuntimeError, match="Calculate the thickness first"):
        bpy.ops.platewright.probe()


@pytest.mark.slow
def test_it_reads_the_face_under_the_ray(add):
    """Also after the part was carried away: the ray is that of the part as captured."""
    add(box((0.02, 0.02, 0.02), (2, 2, 2)), "Cube")
    settings.of(bpy.context.scene).effort.panels = 500
    bpy.ops.platewright.study(only="field")
    kept = session.find(bpy.context)
    found = kept.study.results.field
    face, _ = pick.face_along(kept, (0.004, 0.013, 1.0), (0, 0, -1))
    corners = kept.study.surface.corners[face]
    assert corners[:, 2] == pytest.approx(0.02)
    assert corners[:, 0].max() <= 0.0101
    told = operators_probe.reading(found, face)
    thickness, density = (
        f"{x:#.2g}".rstrip(".") for x in (found.thickness[face] / UM, found.density[face] / A_PER_DM2)
    )
    assert told.startswith(f"{thickness} µm, {density} A/dm²")


@pytest.mark.parametrize(
    ("flag", "told"),
    [
        (-1, "not plated"),
        (0, "30 µm, 2.0 A/dm², bare"),
        (2, "30 µm, 2.0 A/dm², good"),
        (3, "30 µm, 2.0 A/dm², burnt"),
    ],
)
def test_the_flag_is_told_in_a_word(flag, told):
    field = SimpleNamespace(flag=np.array([flag]), thickness=np.array([30e-6]), density=np.array([200.0]))
    assert operators_probe.reading(field, 0) == told
