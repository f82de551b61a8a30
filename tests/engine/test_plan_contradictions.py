"""Every bath with every coat on three parts: one current, one charge, each finding once, no sentence of another metal.

The checks are `plan_checks.faults`; here each of them is shown to find its fault, and then all plans are put to them.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from addon.engine.field.rack import RackPlan, Spacing
from addon.engine.reporting import plan, plan_rack
from addon.engine.settings import tables
from addon.engine.units import MM

import models
from cup_study import CUP, SETTINGS, hanging, study, suggestion
from plan_checks import faults, flat

PARTS = {
    "cup": CUP,
    "block": models.moved(models.box((30, 20, 60), (3, 2, 6)), scale=MM),
    "bracket": models.moved(
        models.joined(models.box((40, 4, 60), (4, 1, 6)), models.moved(models.box((40, 30, 4), (4, 3, 1)), (0, 4, 0))),
        scale=MM,
    ),
}
COMPUTED = ("deposit", "gas", "drainage", "preparation")  # what the made-up results of a study are not


@pytest.mark.parametrize(
    "part", ["cup", *(pytest.param(name, marks=pytest.mark.slow) for name in ("block", "bracket"))]
)
@pytest.mark.parametrize("coat", tables.names("coats"))
@pytest.mark.parametrize("bath", tables.names("baths"))
def test_no_plan_contradicts_itself(bath, coat, part):
    hard = {"file": "part.stl", "material": "ABS"}  # softens at 85 C: a nickel bath at 55 C stops a job in PLA
    settings = {**SETTINGS, "part": hard, "bath": {"name": bath}, "coat": {"name": coat}, "wire": []}
    whole = study(settings, model=PARTS[part])
    made_up = [name for name in whole.results.names if name not in COMPUTED]
    whole = replace(whole, results=whole.results.without(*made_up))
    assert faults(plan.write(whole), whole) == []


def test_the_thinnest_place_takes_longer_than_the_plan():
    """The current that flows is less than the wanted one: a time of the wanted one may be less than that of the plan."""
    slow = study({**SETTINGS, "supply": {"max_A": 0.3}}, coat=None)
    assert slow.results.field.time_thinnest / slow.results.field.time == 2.5
    assert re.search(r"plate until [\d.]+ A h have passed, about [\dhmin ]+ in all", flat(plan.write(slow)))
    assert faults(plan.write(slow), slow) == []


def test_copies_that_take_the_same_are_told_so():
    """No spacing keeps a share "within 0 %", and equal shares are no row of hundreds."""
    alike = Spacing(20 * MM, np.zeros((2, 3)), np.ones(2), np.full(2, 0.9), 0.0, 1.4, 0.5)
    told = " ".join(plan_rack.spacing_lines(RackPlan(2, 0.1, (alike,), alike, True, 3, 1, 0.7), 5.0))
    assert "within 1 %" in told and "100 and 100" not in told and "Together they take 1.40 A" in told


def test_rows_of_a_rack_are_told():
    """Five copies where a row takes three hang in two rows: the distance alone would not say so."""
    places = np.array([[-30, 0, 80], [30, 0, 80], [-60, 0, 20], [0, 0, 20], [60, 0, 20]]) * MM
    spacing = Spacing(20 * MM, places, np.ones(5), np.full(5, 0.9), 0.0, 1.4, 0.5)
    assert spacing.rows == (2, 3)
    assert plan_rack.arrangement(spacing).startswith("in 2 rows of 2 and 3 along the anodes, one above the other")


def test_two_ways_up_begin_as_the_part_goes_in():
    """Where the pair that pays does not hold the way of the steps, no step turns to its second."""
    turned = hanging()
    other = replace(turned, pair=replace(turned.pair, first=suggestion((0, 1, 0))))
    text = plan.write(study(hanging=other))
    assert "second position" not in text and "Two positions in turn would leave" in flat(text)
    assert "change to the second position" in flat(plan.write(study(hanging=turned)))


TWICE = " A sentence that is long enough to be a fact is told twice here." * 2


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("____  At 0", "____  At 10"),  # another charge
        ("____  Set ", "____  Set 1"),  # another current
        ("APPENDIX", "Nickel stains. APPENDIX"),  # another metal
        ("APPENDIX", "about nan mm APPENDIX"),
        ("APPENDIX", "about 1e+02 % APPENDIX"),
        ("APPENDIX", "Take 1 plates. APPENDIX"),
        ("APPENDIX", "At (0, 1, 2) mm (left, 0 mm above the bottom). APPENDIX"),
        ("APPENDIX", "  -\nAPPENDIX"),
        ("then 0.35 A", "then 9.35 A"),  # of a supply of 5 A
        ("C. WIRES\n", "C. WIRES\n  - 1. (0, 1, 2) mm (left), 0.31 A\n"),  # all carry 0.69 A
        ("APPENDIX", f"{TWICE} APPENDIX"),
        ("APPENDIX", "x" * 101 + "\nAPPENDIX"),
        ("APPENDIX", "\n" * 121 + "APPENDIX"),
        ("The print floats", "The print sinks"),  # a finding that is not told
        ("Hung as the steps say, it", "Hung as the steps say, it floats on its ballast; it"),  # a rigid wire holds it
        ("begin tipped 90° to the left", "begin upright"),
        ("liquid at ", "liquid at 1"),
        ("Check: 0.10 A flow", "Check: 0.20 A flow"),  # not the first current
        ("Check: 0.44 V on", "Check: 900 V on"),  # more than the limit
        (" µm at the thinnest", "000 µm at the thinnest"),
        ("of it grow by ", "of it grow by 1"),
        ("Mind R2", "Mind R7"),
        ("Dip it 10 s in the 5 % acid", "Wet it"),  # and dipped again later
        ("APPENDIX", "APPENDIX Movement: air. Aeration: none with this wetter."),
        ("as appendix A says", "as appendix Z says"),
    ],
)
def test_each_fault_is_found(old, new):
    whole = study()
    text = plan.write(whole)
    assert old in text and faults(text, whole) == []
    assert faults(text.replace(old, new), whole)
