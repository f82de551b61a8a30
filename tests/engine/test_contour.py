"""Lines cut from triangles, against lengths that are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.geometry import contour

from models import box, rotation, sphere, split


def length(segments: np.ndarray) -> float:
    return float(np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).sum())


def test_a_plane_cuts_a_sphere_in_a_circle():
    """2 pi sqrt(1 - h^2); chords of level 5 are short by under a thousandth."""
    points, faces = sphere(level=5)
    segments, _ = contour.cut(points[faces], points[faces] @ [0, 0, 1], [0.3])
    assert length(segments) == pytest.approx(2 * np.pi * np.sqrt(1 - 0.09), rel=1e-3)
    assert segments[..., 2] == pytest.approx(0.3)


def test_a_plane_through_points_and_edges_is_drawn_once():
    """A unit box cut into cells: the planes run along edges and through corners; each is a square of four."""
    points, faces = box((1, 1, 1), (4, 4, 4))
    segments, _ = contour.cut(points[faces], points[faces][..., 2], [0.25, 0.5, 0.6])
    assert length(segments) == pytest.approx(12)


def test_hatching_does_not_depend_on_the_triangles():
    coarse, fine = box((3, 2, 1)), split(split(box((3, 2, 1))))
    lengths = [length(contour.hatch(points[faces], 0.11)[0]) for points, faces in (coarse, fine)]
    assert lengths[0] == pytest.approx(lengths[1], rel=1e-9)
    assert lengths[0] > 22 / 0.11 * 0.5  # area over spacing, foreshortened


def test_above_keeps_the_part_over_a_level():
    turn = rotation(3)
    segments = np.array([[[0, 0, -1], [0, 0, 3]], [[0, 0, -2], [1, 0, -1]], [[2, 0, 1], [5, 0, 1]]]) @ turn.T
    kept = contour.above(segments.astype(float), turn @ [0, 0, 1], 0.0)
    assert np.linalg.norm(kept[:, 1] - kept[:, 0], axis=1) == pytest.approx([3, 3])


def test_border_of_half_a_box_is_its_waist():
    points, faces = box((1, 1, 2), (1, 1, 2))
    edges = contour.border(faces, points[faces].mean(axis=1)[:, 2] < 1)
    assert length(points[edges]) == pytest.approx(4)
