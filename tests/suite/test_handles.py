"""Handles in the viewport: where a ray from the eye puts them. Dragged they are by tests/window/handles.py."""

from __future__ import annotations

import numpy as np
import pytest
from mathutils import Vector

from addon.suite.preview import handles


def test_a_ray_meets_the_sphere_on_the_side_of_the_tip():
    """Seen along -Y at a sphere of radius 2: by Pythagoras, 1 beside its middle it is met at +-sqrt(3)."""
    center, eye, way = Vector((5, 0, 0)), Vector((6, -9, 0)), Vector((0, 3, 0))
    for side in (-1, 1):
        tip = center + Vector((0, 2 * side, 0))
        found = handles.on_sphere(eye, way, center, tip)
        assert np.allclose(found, (0.5, side * 3**0.5 / 2, 0), atol=1e-6)
    beside = handles.on_sphere(eye + Vector((4, 0, 4)), way, center, center + Vector((0, 0, 2)))
    assert np.allclose(beside, np.array((5, 0, 4)) / 41**0.5, atol=1e-6)


def test_a_ray_comes_nearest_to_a_line():
    """Skew lines at right angles: the foot of their common normal; parallel ones have none."""
    found = handles.along_line(Vector((-4, 1, 7)), Vector((2, 0, 0)), Vector((0, 0, 1)), Vector((0, 0, 0.5)))
    assert found == pytest.approx(12.0)
    assert np.isnan(handles.along_line(Vector((1, 0, 0)), Vector((0, 0, 1)), Vector(), Vector((0, 0, 2))))
