"""From where a place is best seen: known by symmetry."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.visibility.vantage import seen_along, vantage

from models import box, cup, inside_out, moved, part

BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))  # it opens downwards


def surface_of(*models):
    return run_to_end(inspection.inspect(part(*models)))


def test_a_face_of_a_cube_is_seen_from_in_front_of_it(trace):
    surface = surface_of(box((0.02, 0.02, 0.02)))
    for axis in (0, 1, 2):
        for sign in (1.0, -1.0):
            faces = np.flatnonzero(sign * surface.normal[:, axis] > 0.9)
            way, seen = vantage(surface, trace(surface), faces)
            assert sign * way[axis] > 0.95
            assert seen == pytest.approx(sign * way[axis], abs=1e-9), "the cosine, for nothing hides it"


def test_the_crown_inside_a_bell_is_seen_from_below(trace):
    surface = surface_of(BELL)
    inner = surface.centroid[:, 2] > surface.bounds[1, 2] - 0.0015
    faces = np.flatnonzero(inner & (surface.normal[:, 2] < -0.9))
    assert len(faces)
    way, seen = vantage(surface, trace(surface), faces)
    assert way[2] < -0.9 and seen > 0.5
    below, above, aside = seen_along(surface, trace(surface), faces, np.array([[0, 0, -1.0], [0, 0, 1.0], [1.0, 0, 0]]))
    assert below > 0.9 and above == 0.0 and aside == pytest.approx(0.0, abs=1e-9)


def test_what_the_part_itself_hides_is_seen_from_nowhere(trace):
    """The wall of a sealed void."""
    surface = surface_of(box((0.03, 0.03, 0.03)), inside_out(moved(box((0.01, 0.01, 0.01)), (0.01, 0.01, 0.01))))
    faces = np.flatnonzero(np.abs(surface.centroid - surface.bounds.mean(axis=0)).max(axis=1) < 0.006)
    assert len(faces) == 12
    assert vantage(surface, trace(surface), faces)[1] == 0.0
