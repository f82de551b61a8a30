"""Narrow openings: what is found, what is left alone, and how wide and deep it is said to be."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from addon.engine.mesh import inspection
from addon.engine.trapping import narrow
from addon.engine.trapping.narrow import NarrowOpenings
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface
from addon.engine.mesh.tracer import Tracer

from models import Model, box, cup, lathe, moved, part, rotation, sphere, split

MM = 1e-3
BATH = 2.3 * MM  # capillary length: the critical bore is 4.2 mm

Trace = Callable[[Surface], Tracer]


def found_in(trace: Trace, *models: Model, sheet_sides: int = 1) -> NarrowOpenings:
    surface = run_to_end(
        inspection.inspect(part(*(moved(model, scale=MM) for model in models)), sheet_sides=sheet_sides)
    )
    return run_to_end(narrow.openings(surface, trace(surface), capillary_length=BATH))


@pytest.mark.parametrize("model", [box((60, 40, 30)), sphere(20, 4), cup(10, 20, 2), cup(3, 20, 2)])
def test_open_shapes_have_none(trace: Trace, model: Model) -> None:
    """Convex bodies, and holes wider than 4.2 mm."""
    assert found_in(trace, model).openings == ()


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_blind_dowel_hole(trace: Trace, seed: int) -> None:
    """A hole 3 mm wide and 10 mm deep, whichever way it points and however it is meshed."""
    model = cup(1.5, 10, 8, around=32)
    turn = rotation(seed)
    for each in (model, split(split(model))):
        (hole,) = found_in(trace, moved(each, (5, 6, 7), turn)).openings
        assert hole.kind == "hole"
        assert hole.width == pytest.approx(3 * MM, rel=0.02)
        assert hole.depth == pytest.approx(10 * MM, rel=0.05)
        assert hole.area == pytest.approx(2 * np.pi * 1.5 * 10 * MM**2, rel=0.05)
        assert hole.centre == pytest.approx((turn @ [0, 0, 5] + [5, 6, 7]) * MM, abs=0.4 * MM)
        assert hole.mouth == pytest.approx((turn @ [0, 0, 10] + [5, 6, 7]) * MM, abs=0.5 * MM)


def test_slot_between_plates(trace: Trace) -> None:
    """Two blocks 2 mm apart: 10 mm from the middle to the nearest edge. At 6 mm there is nothing to say."""
    block = box((30, 20, 10))
    (slot,) = found_in(trace, block, moved(block, (0, 0, 12))).openings
    assert slot.kind == "slot"
    assert slot.width == pytest.approx(2 * MM, rel=1e-3)
    assert slot.depth == pytest.approx(10 * MM, rel=0.05)
    assert slot.area == pytest.approx(2 * 30 * 20 * MM**2, rel=0.02)
    assert found_in(trace, block, moved(block, (0, 0, 16))).openings == ()


def test_through_hole_is_half_as_deep(trace: Trace) -> None:
    """From the middle of a bore of 20 mm to either mouth are 10."""
    (hole,) = found_in(trace, lathe([(1.5, 0), (8, 0), (8, 20), (1.5, 20), (1.5, 0)], 48)).openings
    assert hole.depth == pytest.approx(10 * MM, rel=0.05)


def test_neck_of_a_bottle(trace: Trace) -> None:
    """The neck is named, not the room behind it: 5 mm long, so 2.5 from its middle to where it widens."""
    profile = [(0, 0), (20, 0), (20, 40), (1.5, 40), (1.5, 35), (12, 30), (12, 5), (0, 5)]
    (neck,) = found_in(trace, lathe(profile, 48)).openings
    assert neck.kind == "hole"
    assert neck.depth == pytest.approx(2.5 * MM, abs=0.3 * MM)
    assert neck.centre == pytest.approx([0, 0, 37.5 * MM], abs=0.3 * MM)


def test_shallow_recess_is_left_out(trace: Trace) -> None:
    """A recess less deep than half its width floods (design rule, from memory)."""
    assert found_in(trace, cup(1.5, 1.0, 8, around=32)).openings == ()
    assert len(found_in(trace, cup(1.5, 3.0, 8, around=32)).openings) == 1


def test_two_holes_are_two_openings(trace: Trace) -> None:
    """Each under its own name, the larger first."""
    small, large = cup(0.8, 5, 3, around=24), moved(cup(1.5, 10, 3, around=24), (30, 0, 0))
    first, second = found_in(trace, small, large).openings
    assert first.width > second.width
    assert second.width == pytest.approx(1.6 * MM, rel=0.03)


def test_sheets_close_together(trace: Trace) -> None:
    """Two declared sheets, 2 mm apart, have a slot between them; of one-sided sheets only those that face do."""
    flat = lathe([(0, 0), (15, 0)], 48)
    (slot,) = found_in(trace, flat, moved(flat, (0, 0, 2)), sheet_sides=2).openings
    assert slot.width == pytest.approx(2 * MM, rel=1e-3)
