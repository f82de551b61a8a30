"""Places in words."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import addon
from addon.engine.reporting import words
from addon.engine.reporting.language import ENGLISH
from addon.engine.units import MM, mm

BOUNDS = np.array([[-20, -30, 0], [20, 30, 60]]) * MM


@pytest.mark.parametrize(
    ("up", "point", "normal", "said"),
    [
        ((0, 0, 1), (0, 30, 48), (0, 1, 0), "back, 12 mm below the top"),
        ((0, 0, -1), (0, 30, 48), (0, 1, 0), "back, 12 mm above the bottom"),
        ((0, 0, 1), (20, 0, 10), None, "right, 10 mm above the bottom"),
        ((0, 0, -1), (20, 0, 10), None, "left, 10 mm below the top"),  # seen from the front, upside down
        ((0, 0, 1), (-20, -30, 60), None, "front left, at the top"),
        ((0, 0, 1), (15, 0, 48), (-1, 0, 0), "right, inner wall, 12 mm below the top"),
        ((0, 0, 1), (0, 0, 20), (0, 0, -1), "underside, on the axis, 20 mm above the bottom"),
        ((0, 0, 1), (0, -30, 20), (0, 0, 1), "facing up, front, 20 mm above the bottom"),
        ((0, 0.9, 0.3), (20, 0, 30), (1, 0, 0), "right, 30 mm below the top"),  # Y upright, +Z to the front
        ((0, 0.9, 0.3), (0, 0, 60), (0, 0, 1), "front, 30 mm below the top"),
    ],
)
def test_places(up, point, normal, said):
    """The part as one holds it: the model axis nearest to up upright, -Y (or +Z) to the front."""
    assert words.place(BOUNDS, up, np.array(point) * MM, normal) == said


def test_a_small_part_is_measured_in_tenths():
    assert words.place(BOUNDS / 10, (0, 0, 1), np.array((0, 3, 4.8)) * MM) == "back, 1.2 mm below the top"


@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1))
def test_every_direction_has_words(direction):
    assert words.way_up(direction) and len(words.sketch(direction, ENGLISH)) == 3
    assert words.place(BOUNDS, direction, np.array((1, 2, 3)) * MM, direction)


@pytest.mark.parametrize(
    ("up", "said"),
    [
        ((0, 0, 1), "as modeled"),
        ((0, 0, -1), "upside down"),
        ((0, 1, 1), "tipped 45 degrees to the front"),
        ((1, 0, 0), "tipped 90 degrees to the left"),
        ((0, -1, -3), "upside down, with the front side raised 18 degrees"),
    ],
)
def test_ways_up(up, said):
    """With +Y up the top of the model has come to the front (right-hand rule about X)."""
    assert words.way_up(up) == said


def test_lists_read_as_one_writes_them():
    assert [words.listed(x) for x in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


@pytest.mark.parametrize(
    ("up", "said"),
    [((0, 0, 1), ("+Z up", "front (-Y)", "left (-X)")), ((0, 1, 0.1), ("+Y up", "front (+Z)", "right (+X)"))],
)
def test_the_sketch_names_the_axes(up, said):
    """Right-handed: away from the viewer, up and right are +Y, +Z, +X; with +Y up the front is +Z."""
    assert all(one in " ".join(words.sketch(up, ENGLISH)) for one in said)


@pytest.mark.parametrize(
    ("length", "decimals", "padded", "text"),
    [
        (0.0125, 1, False, "12.5"),
        (0.0120, 1, False, "12"),
        (0.0120, 1, True, "12.0"),
        (0.1000, 0, False, "100"),
        (-1e-9, 1, False, "0"),
        (-1e-9, 1, True, "0.0"),
        (-0.0035, 1, False, "-3.5"),
        (1234.5678, 1, False, "1234567.8"),
    ],
)
def test_a_length_in_millimeters(length, decimals, padded, text):
    """No exponent, no minus before nothing, no zeros that say nothing."""
    assert mm(length, decimals, padded=padded) == text


def test_millimeters_are_written_in_one_place():
    engine = Path(addon.__file__).parent / "engine"
    own = re.compile(r"/ MM:[.\dg]|\bround\([^,]*/ MM, \d")
    assert {path.name for path in engine.rglob("*.py") if own.search(path.read_text(encoding="utf-8"))} == {"units.py"}


def test_baths_whose_names_have_commas_are_told_apart():
    two = ["nickel, Watts", "nickel, sulfamate"]
    assert words.baths(", ".join(two)) == two and words.any_of(two) == "nickel, Watts or nickel, sulfamate"
