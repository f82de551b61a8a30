"""What became better and worse between two reports, as data. Pure: two tables in, changes out.

A figure that is missing or null in one of them is told as such and judged neither way. Sentences are in
`reporting.compare_text`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from ..errors import InputError
from ..filled import filled
from ..findings import Severity

Table = Mapping[str, Any]
Value = float | bool | None

SCHEMA_NAME = "platewright-report/"
MAX_FIGURE = 1e300  # a larger one is no figure of a part
MIN_RELATIVE_CHANGE = 0.01  # below it two figures of two digits are the same
MIN_SOLVED_RELATIVE_CHANGE = 0.03  # the same of what a discretized solution gives, which is sure to about 1 %
SEVERITY_RANK = {severity.value: severity.rank for severity in Severity}
JUDGED_SEVERITIES = frozenset(severity.value for severity in Severity if severity != Severity.NOTE)


class Judgment(Enum):
    """What a change means."""

    WORSE = "worse"
    BETTER = "better"
    UNKNOWN = "unknown"  # only one of the reports has the figure
    OTHER = "other"  # neither better nor worse: another part, another setting


class Better(Enum):
    """Which way a figure improves."""

    LOWER = -1
    HIGHER = 1


@dataclass(frozen=True)
class Figure:
    """A figure that is compared.

    path : keys from the report's root, `.` between them; better : which way it improves
    absolute_tolerance : in the unit of the key; relative_tolerance : of the larger of both; a smaller change is none
    codes : findings that say the same, and are not told beside it
    """

    path: str
    better: Better
    absolute_tolerance: float = 0.0
    relative_tolerance: float = MIN_RELATIVE_CHANGE
    codes: tuple[str, ...] = ()


# The first spoils most, and is told first.
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


@dataclass(frozen=True)
class FigureChange:
    """A figure in both reports; None where a report lacks it."""

    judgment: Judgment
    path: str
    before: Value
    after: Value


@dataclass(frozen=True)
class FindingChange:
    """A finding that only one of the reports has, or that is more severe in one of them.

    appeared : whether the later report has it, or has it more severe; headline : of it, "" where the report has none
    """

    judgment: Judgment
    code: str
    severity: str
    text: str
    appeared: bool
    headline: str = ""


@dataclass(frozen=True)
class PartChange:
    """The two reports are about different parts: name, triangles and plated area (dm2) of each."""

    judgment: Judgment
    before: tuple[str, float | None, float | None]
    after: tuple[str, float | None, float | None]


@dataclass(frozen=True)
class SettingChange:
    """A setting of the job that differs; None where a report lacks it."""

    judgment: Judgment
    path: str
    before: Any
    after: Any


Change = FigureChange | FindingChange | PartChange | SettingChange


def check(table: object, name: str) -> Table:
    """The table, if it is a report. Raises InputError, naming it and the key, where it is none or a figure is wrong."""
    if not isinstance(table, Mapping) or not str(table.get("schema", "")).startswith(SCHEMA_NAME):
        raise InputError(
            filled("{name}: this is no report of Platewright; make one with: plan JOB --report FILE", name=name)
        )
    for figure in FIGURES:
        value_of(table, figure.path, name)
    if not isinstance(table.get("part"), Mapping):
        raise InputError(filled("{name}: part: this must be a table", name=name))
    _part(table, name)
    for row in _rows(table, name):
        if not all(isinstance(row.get(key), str) for key in ("code", "severity", "text")):
            raise InputError(filled("{name}: findings: each must have a code, a severity and a text", name=name))
    return table


def compare(before: Table, after: Table) -> tuple[Change, ...]:
    """What changed from one report to the next: worse first, then better, then what is not judged; in each the one that
    spoils most first. Nothing where both tell the same. Raises InputError where one is no report."""
    before, after = check(before, "the first report"), check(after, "the second report")
    figures = [one for figure in FIGURES if (one := _figure(figure, before, after)) is not None]
    judged = {change.path for change in figures if change.judgment in (Judgment.WORSE, Judgment.BETTER)}
    told = {code for figure in FIGURES if figure.path in judged for code in figure.codes}
    changes: list[Change] = [*_parts(before, after), *_findings(before, after, told), *figures]
    changes += _settings(before.get("assumed"), after.get("assumed"))
    return tuple(sorted(changes, key=_order))


def most_significant(changes: Iterable[Change], count: int) -> tuple[Change, ...]:
    """So many of the changes for the better or worse that say most: what stops or spoils, then figures in the order of
    `FIGURES`; of these the worse first."""
    judged = [change for change in changes if change.judgment in (Judgment.WORSE, Judgment.BETTER)]
    chosen = sorted(judged, key=lambda change: _order(change)[1:])[:count]
    return tuple(sorted(chosen, key=_order))


def condensed(table: Table) -> dict[str, Any]:
    """A report that holds only what is compared, without the settings. Raises InputError where it cannot be read."""
    kept: dict[str, Any] = {"schema": table["schema"], "part": dict(table["part"]), "findings": []}
    for figure in FIGURES:
        value, at = value_of(table, figure.path), kept
        *keys, last = figure.path.split(".")
        if value is not None:
            for key in keys:
                at = at.setdefault(key, {})
            at[last] = value
    for row in _rows(table):
        kept["findings"].append({key: row[key] for key in ("code", "severity", "names", "text") if key in row})
    return kept


def any_worse(changes: tuple[Change, ...]) -> bool:
    """Whether anything became worse."""
    return any(change.judgment == Judgment.WORSE for change in changes)


def _order(change: Change) -> tuple[int, int, int]:
    """Sort key: worse, better, the rest; in each, findings that stop or spoil, then figures as `FIGURES` has them."""
    turn = list(Judgment).index(change.judgment)
    if isinstance(change, PartChange):
        return turn, -2, 0
    if isinstance(change, FindingChange):
        urgent = SEVERITY_RANK.get(change.severity, len(SEVERITY_RANK))
        return turn, (-1 if urgent <= Severity.SPOILS.rank else 1), urgent
    if isinstance(change, FigureChange):
        return turn, 0, FIGURE_RANK[change.path]
    return turn, 2, 0


def _figure(figure: Figure, before: Table, after: Table) -> FigureChange | None:
    one, other = value_of(before, figure.path), value_of(after, figure.path)
    if one is None or other is None:
        return None if one is other else FigureChange(Judgment.UNKNOWN, figure.path, one, other)
    gap = float(other) - float(one)
    if abs(gap) <= max(figure.absolute_tolerance, figure.relative_tolerance * max(abs(float(one)), abs(float(other)))):
        return None
    improved = gap * figure.better.value > 0
    return FigureChange(Judgment.BETTER if improved else Judgment.WORSE, figure.path, one, other)


def _findings(before: Table, after: Table, told: set[str]) -> list[FindingChange]:
    """Findings that came or went, of the codes that no figure tells of."""
    unknown = {
        code
        for key, codes in CODES_OF_ANALYSIS.items()
        if before.get(key) is None or after.get(key) is None
        for code in codes
    }
    one, other = _worst(before), _worst(after)
    found = []
    for key in sorted(one.keys() | other.keys()):
        old, new = one.get(key), other.get(key)
        gap = _urgency(new) - _urgency(old)
        came = gap < 0
        row = new if came else old
        if row is None or gap == 0 or row["code"] in told:
            continue
        turn = Judgment.UNKNOWN if row["code"] in unknown else Judgment.WORSE if came else Judgment.BETTER
        headline = row.get("headline")
        told_short = headline if isinstance(headline, str) else ""
        found.append(FindingChange(turn, row["code"], row["severity"], row["text"], came, told_short))
    return found


def _urgency(row: Table | None) -> int:
    return len(SEVERITY_RANK) if row is None else SEVERITY_RANK.get(row["severity"], len(SEVERITY_RANK))


def _worst(table: Table) -> dict[tuple[str, str], Table]:
    """Code, and the result where that was not computed -> its most severe finding; notes are not judged."""
    rows = [row for row in _rows(table) if row["severity"] in JUDGED_SEVERITIES]
    names = [row["names"].get("result") if isinstance(row.get("names"), Mapping) else None for row in rows]
    keyed = [((row["code"], str(name or "")), row) for row, name in zip(rows, names, strict=True)]
    return dict(sorted(keyed, key=lambda item: _urgency(item[1]), reverse=True))


def _rows(table: Table, name: str = "") -> list[Table]:
    rows = table.get("findings") or []
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise InputError(filled("{name}: findings: this must be a list of tables", name=name))
    return rows


def _parts(before: Table, after: Table) -> list[PartChange]:
    one, other = _part(before), _part(after)
    return [] if one == other else [PartChange(Judgment.OTHER, one, other)]


def _part(table: Table, name: str = "") -> tuple[str, float | None, float | None]:
    part = table["part"]
    numbers = [value_of(part, key, f"{name}: part") for key in ("triangles", "plated_area_dm2")]
    return str(part.get("name", "")), *(None if n is None else float(n) for n in numbers)  # type: ignore[return-value]


def _settings(before: Any, after: Any, path: str = "") -> list[SettingChange]:
    """Settings that differ, each by its whole key."""
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        keys = [*before, *(key for key in after if key not in before)]
        inside = [_settings(before.get(key), after.get(key), f"{path}.{key}".lstrip(".")) for key in keys]
        return [change for found in inside for change in found]
    return [] if before == after or not path else [SettingChange(Judgment.OTHER, path, before, after)]


def value_of(table: Table, path: str, name: str = "report") -> Value:
    """A figure by its path, of the way up that is hung; None where it is missing or null. Raises InputError where
    it is no number."""
    value: Any = table
    first, *rest = path.split(".")
    hung = AS_HUNG_KEYS.get(first, first)
    for key in (first if table.get(hung) is None else hung, *rest):
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
