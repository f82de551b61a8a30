"""What became better and worse between two reports, in words: one line a change."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from ..errors import one_line
from ..verdict.changes import Change, FigureChange, FindingChange, Judgment, PartChange, SettingChange
from ..verdict.figures import FIGURES, Table, Value, value_of
from .filled import capital, filled, joined
from .plan_text import figure

DIGITS = 2
BARE = "verdict.bare_visible_cm2"
MAX_SETTING_CHARS = 40  # longest value; longer lists are cut
# Path in the report -> what it is called, and its unit
NAMES: Mapping[str, tuple[str, str]] = {
    BARE: ("bare visible area", "cm2"),
    "verdict.time_h": ("plating time", "h"),
    "gas.trapped_mL": ("trapped gas", "mL"),
    "gas.level_underside_cm2": ("undersides where bubbles cling", "cm2"),
    "drainage.held_mL": ("drag-out", "mL"),
    "field.thickness_um.min": ("thinnest spot", "um"),
    "field.burnt_area_cm2": ("burnt area", "cm2"),
    "field.dull_area_cm2": ("dull area", "cm2"),
    "field.cell_voltage_V": ("cell voltage", "V"),
    "coat.worst_drop_V": ("voltage drop in coat", "V"),
    "hanging.ballast_g": ("ballast", "g"),
    "prepare.staircase_um.median": ("layer steps", "um"),
}
HEADS = {Judgment.WORSE: "worse", Judgment.BETTER: "better", Judgment.UNKNOWN: "unknown", Judgment.OTHER: "note"}
NOT_COMPUTED = "not calculated"
FLOATS = "hanging.floats"


def lines(changes: Iterable[Change]) -> list[str]:
    """A line for each change, with what it means in front: "worse: thinnest spot 14 -> 1 um"."""
    return [filled("{turn}: {change}", turn=HEADS[change.judgment], change=text(change)) for change in changes]


def text(change: Change) -> str:
    """One change: "trapped gas 13 -> 0 mL", "floats -> sinks"."""
    return one_line(_WORDS[type(change)](change))


def brief(change: Change) -> str:
    """The same beside the verdict: a finding by its headline, where the reports have them; of a figure that the verdict
    tells, only what it was."""
    if isinstance(change, FigureChange) and change.path == BARE and change.before is not None:
        quantity, unit = NAMES[change.path]
        return filled(
            "{what} was {before} {unit}", what=quantity, before=_numbers(change.before, change.after)[0], unit=unit
        )
    if not isinstance(change, FindingChange) or not change.headline:
        return text(change)
    return one_line(change.headline if change.appeared else filled("no longer: {finding}", finding=change.headline))


def table(reports: Sequence[Table]) -> list[tuple[str, list[str]]]:
    """Several reports side by side: the name of each figure, with its value in each; without those that none has."""
    rows = []
    for listed_figure in FIGURES:
        values = [value_of(report, listed_figure.path) for report in reports]
        if any(value is not None for value in values):
            rows.append((_title(listed_figure.path), [_cell(listed_figure.path, value) for value in values]))
    return rows


def _title(path: str) -> str:
    return capital("weight" if path == FLOATS else NAMES[path][0])


def _cell(path: str, value: Value) -> str:
    if value is None:
        return "-"
    return _floats(value) if path == FLOATS else f"{figure(float(value), DIGITS)} {NAMES[path][1]}"


def _figure(change: FigureChange) -> str:
    if change.path == FLOATS:
        return filled("{before} -> {after}", before=_floats(change.before), after=_floats(change.after))
    quantity, unit = NAMES[change.path]
    before, after = _numbers(change.before, change.after)
    if change.after is None:
        return filled("{what} {before} -> {after}", what=quantity, before=before, after=after)
    return filled("{what} {before} -> {after} {unit}", what=quantity, before=before, after=after, unit=unit)


def _numbers(before: Value, after: Value) -> tuple[str, str]:
    """Two values with enough digits to differ."""
    for digits in (DIGITS, DIGITS + 1, DIGITS + 2):
        first, second = (NOT_COMPUTED if value is None else figure(float(value), digits) for value in (before, after))
        if first != second:
            break
    return first, second


def _floats(value: Value) -> str:
    return "weight not calculated" if value is None else "floats" if value else "sinks"


def _finding(change: FindingChange) -> str:
    return change.text if change.appeared else filled("no longer: {finding}", finding=change.text)


def _part(change: PartChange) -> str:
    return filled(
        "these are different parts: {one}, and {other}",
        one=_one_part(*change.before),
        other=_one_part(*change.after),
    )


def _one_part(name: str, triangles: float | None, area: float | None) -> str:
    lines = [filled("{count} triangles", count=f"{triangles:,.0f}")] if triangles is not None else []
    size = [f"{figure(area, 3)} dm2"] if area is not None else []
    if not lines and not size:
        return filled("{name}", name=name) if name else "no name"
    facts = joined([*lines, *size], ", ")
    return filled("{name} ({facts})", name=name, facts=facts) if name else filled("no name ({facts})", facts=facts)


def _setting(change: SettingChange) -> str:
    return filled(
        "{path} {before} -> {after}", path=change.path, before=_value(change.before), after=_value(change.after)
    )


def _value(value: Any) -> str:
    text = "not set" if value is None else value if isinstance(value, str) else json.dumps(value)
    return text if len(text) <= MAX_SETTING_CHARS else text[: MAX_SETTING_CHARS - 3] + "..."


_WORDS: Mapping[type, Callable[[Any], str]] = {
    FigureChange: _figure,
    FindingChange: _finding,
    PartChange: _part,
    SettingChange: _setting,
}
