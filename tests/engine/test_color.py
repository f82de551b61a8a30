"""The ramp, seen with the eyes of an independent color library (colorspacious), and its legend."""

from __future__ import annotations

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE

from addon.engine import color

SIGHT = ("full", "protanomaly", "deuteranomaly", "tritanomaly")


def seen(sight: str) -> np.ndarray:
    """The ramp as linear sRGB to an eye that lacks a cone (Machado et al. 2009, full severity)."""
    linear = color.ramp(np.linspace(0, 1, 256))
    if sight == "full":
        return linear
    eye = {"name": "sRGB1+CVD", "cvd_type": sight, "severity": 100}
    shown = cspace_convert(cspace_convert(linear, "sRGB1-linear", "sRGB1"), eye, "sRGB1")
    return cspace_convert(np.clip(shown, 0, 1), "sRGB1", "sRGB1-linear")


def test_the_ramp_stays_inside_what_a_screen_can_show():
    ends = color.ramp(np.linspace(0, 1, 1001))
    assert ends.min() > 0 and ends.max() < 1


@pytest.mark.parametrize("sight", SIGHT)
def test_lightness_rises_all_the_way_for_every_eye(sight):
    """CIE L*; a tenth of the even step is the least that is asked for."""
    lightness = cspace_convert(seen(sight), "sRGB1-linear", "CIELab")[:, 0]
    assert np.diff(lightness).min() > 0.1 * np.ptp(lightness) / 255
    assert np.ptp(lightness) > 70


@pytest.mark.parametrize("sight", SIGHT)
def test_a_tenth_of_the_ramp_is_seen_by_every_eye(sight):
    """CAM02-UCS: a difference of one is about just noticeable (Luo et al. 2006, from memory); 5 is plain."""
    shown = seen(sight)
    assert deltaE(shown[:-25], shown[25:], input_space="sRGB1-linear").min() > 5


def test_encoding_is_the_library_s():
    linear = np.linspace(0, 1, 50)
    expected = cspace_convert(np.stack([linear] * 3, axis=1), "sRGB1-linear", "sRGB1")[:, 0]
    assert color.encoded(linear) == pytest.approx(expected, abs=1e-6)


def test_no_number_is_gray_and_out_of_range_is_the_end():
    neutral, below, above = color.ramp([np.nan, -3, 7])
    assert np.ptp(neutral) == 0
    assert np.array_equal([below, above], color.ramp([0, 1]))


def test_limits_leave_a_sharp_edge_out():
    """One face in a thousand at a hundred times the rest does not take the ramp; its weight decides."""
    values = np.r_[np.linspace(1, 2, 999), 200.0]
    assert color.limits(values, np.ones(1000))[1] <= 2
    assert color.limits(values, np.r_[np.ones(999), 999])[1] == 200
    assert color.limits([np.nan], [1]) == (0, 1)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(0, 1, [0, 0.2, 0.4, 0.6, 0.8, 1]), (12, 47, [20, 30, 40]), (3, 3, [3]), (-2, 2, [-2, -1, 0, 1, 2])],
)
def test_ticks_are_round_and_inside(low, high, expected):
    assert color.ticks(low, high) == pytest.approx(expected)


def test_histogram_shares_the_weight():
    share = color.histogram([0.1, 0.6, np.nan, 9], [1, 2, 5, 1], 0, 1, bins=2)
    assert share == pytest.approx([0.25, 0.75])
