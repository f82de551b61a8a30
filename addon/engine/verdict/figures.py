"""The figures by which two reports are compared, and how each is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from ..errors import InputError
from ..filled import filled

Table = Mapping[str, Any]
Value = float | bool | None

MAX_FIGURE = 1e300  # a larger one is no figure of a part
MIN_RELATIVE_CHANGE = 0.01  # relative: two figures of two digits are then equal
MIN_SOLVED_RELATIVE_CHANGE = 0.03  # relative, for discretized solutions, which are accurate to about 1 %


class Better(Enum):
    """Which way a figure improves."""

    LOWER = -1
    HIGHER = 1


@dataclass(frozen=True)
class Figure:
    """A figure that is compared.

    path : keys from the report's root, `.` between them; better : which way it improves
    absolute_tolerance : in the unit of the key; relative_tolerance : of the larger of both; a smaller change is none
    codes : findings that report the same fact and are omitted beside it
    """

    path: str
    better: Better
    absolute_tolerance: float = 0.0
    relative_tolerance: float = MIN_RELATIVE_CHANGE
    codes: tuple[str, ...] = ()


# In order of importance.
FIGURES = (
    Figure(
        "verdict.bare_visible_cm2",
        Better.LOWER,
        0.1,
        MIN_SOLVED_RELATIVE_CHANGE,
        ("almost-bare", "coat-unwired", "coat-stays-bare", "thinnest-never"),
    ),
    Figure("gas.trapped_mL", Better.LOWER, 0.05, codes=("gas-trapped", "better-way-up", "gas-swings")),
    Figure("hanging.floats", Better.LOWER, codes=("floats",)),
    Figure("field.thickness_um.min", Better.HIGHER, 0.1, MIN_SOLVED_RELATIVE_CHANGE),
    Figure("field.burnt_area_cm2", Better.LOWER, 0.1, MIN_SOLVED_RELATIVE_CHANGE, ("burnt",)),
    Figure("field.dull_area_cm2", Better.LOWER, 0.1, MIN_SOLVED_RELATIVE_CHANGE, ("dull",)),
    Figure("coat.worst_drop_V", Better.LOWER, 0.005, MIN_SOLVED_RELATIVE_CHANGE, ("wires-too-few",)),
    Figure("drainage.held_mL", Better.LOWER, 0.05, codes=("liquid-held",)),
    Figure("gas.level_underside_cm2", Better.LOWER, 0.1, codes=("bubble-prone",)),
    Figure("field.cell_voltage_V", Better.LOWER, 0.02, MIN_SOLVED_RELATIVE_CHANGE, ("supply-voltage-too-small",)),
    Figure("hanging.ballast_g", Better.LOWER, 0.1),
    Figure("verdict.time_h", Better.LOWER, 0.02),
    Figure("prepare.staircase_um.median", Better.LOWER, 1.0),
)
FIGURE_RANK = {figure.path: rank for rank, figure in enumerate(FIGURES)}
# Where a part hangs otherwise than it is modeled, its findings are of these tables
AS_HUNG_KEYS = {"gas": "gas_hung", "drainage": "drainage_hung"}
# Key of the report -> codes of findings that come with it alone: without it in both, nobody knows which came or went.
CODES_OF_ANALYSIS = {
    "gas": ("gas-trapped", "bubble-prone", "trapping-overlap", "trapping-patched"),
    "drainage": ("liquid-held",),
    "coat": (
        "coat-hot",
        "coat-limits-current",
        "contact-hot-in-air",
        "coat-too-poor",
        "wires-too-few",
        "coat-unwired",
        "coat-stays-bare",
    ),
    "field": (
        "almost-bare",
        "dull",
        "burnt",
        "thinnest-never",
        "inside-shell",
        "anode-overloaded",
        "supply-voltage-too-small",
        "draw-too-large",
        "held-voltage-off",
        "not-converged",
        "field-unsure",
        "panels-reduced",
    ),
    "hanging": (
        "floats",
        "better-way-up",
        "gas-lifts",
        "gas-swings",
        "infill-air",
        "void-air",
        "walls-meet",
        "weight-unknown",
    ),
}


def value_of(table: Table, path: str, name: str = "report") -> Value:
    """A figure by its path, of the way up that is hung; None where it is missing or null. Raises InputError where
    it is no number."""
    value: Any = table
    first, *tail = path.split(".")
    hung = AS_HUNG_KEYS.get(first, first)
    for key in (first if table.get(hung) is None else hung, *tail):
        if value is None:
            return None
        if not isinstance(value, Mapping):
            raise InputError(filled("{name}: {path}: this must be a table of figures", name=name, path=path))
        value = value.get(key)
    if value is None or isinstance(value, bool):
        return value
    if not isinstance(value, int | float) or not abs(value) <= MAX_FIGURE:
        raise InputError(filled("{name}: {path}: this must be a number, or null", name=name, path=path))
    return value
