"""What became better and worse between two reports, as data. Pure: two tables in, changes out.

A figure missing or null in one of them is reported as such and not judged. Sentences are in
`reporting.compare_text`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..errors import InputError
from ..filled import filled
from ..findings import Severity
from .changes import Change, FigureChange, FindingChange, Judgment, PartChange, SettingChange
from .figures import CODES_OF_ANALYSIS, FIGURE_RANK, FIGURES, Figure, Table, value_of

SCHEMA_NAME = "platewright-report/"
SEVERITY_RANK = {severity.value: severity.rank for severity in Severity}
JUDGED_SEVERITIES = frozenset(severity.value for severity in Severity if severity != Severity.NOTE)


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
    """What changed from one report to the next: worse first, then better, then what is not judged; each group by
    severity. Empty where both agree. Raises InputError where one is no report."""
    before, after = check(before, "the first report"), check(after, "the second report")
    figures = [change for figure in FIGURES if (change := _figure(figure, before, after)) is not None]
    judged = {change.path for change in figures if change.judgment in (Judgment.WORSE, Judgment.BETTER)}
    covered = {code for figure in FIGURES if figure.path in judged for code in figure.codes}
    changes: list[Change] = [*_parts(before, after), *_findings(before, after, covered), *figures]
    changes += _settings(before.get("assumed"), after.get("assumed"))
    return tuple(sorted(changes, key=_order))


def most_significant(changes: Iterable[Change], count: int) -> tuple[Change, ...]:
    """The most significant changes for the better or worse: what stops or spoils, then figures in the order of
    `FIGURES`; of these the worse first."""
    judged = [change for change in changes if change.judgment in (Judgment.WORSE, Judgment.BETTER)]
    chosen = sorted(judged, key=lambda change: _order(change)[1:])[:count]
    return tuple(sorted(chosen, key=_order))


def condensed(table: Table) -> dict[str, Any]:
    """A report that holds only what is compared, without the settings. Raises InputError where it cannot be read."""
    report: dict[str, Any] = {"schema": table["schema"], "part": dict(table["part"]), "findings": []}
    for figure in FIGURES:
        value, at = value_of(table, figure.path), report
        *keys, last = figure.path.split(".")
        if value is not None:
            for key in keys:
                at = at.setdefault(key, {})
            at[last] = value
    for row in _rows(table):
        report["findings"].append({key: row[key] for key in ("code", "severity", "names", "text") if key in row})
    return report


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
    old, new = value_of(before, figure.path), value_of(after, figure.path)
    if old is None or new is None:
        return None if old is new else FigureChange(Judgment.UNKNOWN, figure.path, old, new)
    gap = float(new) - float(old)
    if abs(gap) <= max(figure.absolute_tolerance, figure.relative_tolerance * max(abs(float(old)), abs(float(new)))):
        return None
    improved = gap * figure.better.value > 0
    return FigureChange(Judgment.BETTER if improved else Judgment.WORSE, figure.path, old, new)


def _findings(before: Table, after: Table, covered: set[str]) -> list[FindingChange]:
    """Findings that came or went. covered : codes that the change of a figure says already"""
    unknown = {
        code
        for key, codes in CODES_OF_ANALYSIS.items()
        if before.get(key) is None or after.get(key) is None
        for code in codes
    }
    earlier, later = _worst(before), _worst(after)
    changes = []
    for key in sorted(earlier.keys() | later.keys()):
        old, new = earlier.get(key), later.get(key)
        gap = _urgency(new) - _urgency(old)
        came = gap < 0
        row = new if came else old
        if row is None or gap == 0 or row["code"] in covered:
            continue
        turn = Judgment.UNKNOWN if row["code"] in unknown else Judgment.WORSE if came else Judgment.BETTER
        headline = row.get("headline")
        short = headline if isinstance(headline, str) else ""
        changes.append(FindingChange(turn, row["code"], row["severity"], row["text"], came, short))
    return changes


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
    old, new = _part(before), _part(after)
    return [] if old == new else [PartChange(Judgment.OTHER, old, new)]


def _part(table: Table, name: str = "") -> tuple[str, float | None, float | None]:
    part = table["part"]
    numbers = [value_of(part, key, f"{name}: part") for key in ("triangles", "plated_area_dm2")]
    triangles, area = (None if number is None else float(number) for number in numbers)
    return str(part.get("name", "")), triangles, area


def _settings(before: Any, after: Any, path: str = "") -> list[SettingChange]:
    """Settings that differ, each by its whole key."""
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        keys = [*before, *(key for key in after if key not in before)]
        inside = [_settings(before.get(key), after.get(key), f"{path}.{key}".lstrip(".")) for key in keys]
        return [change for changes in inside for change in changes]
    return [] if before == after or not path else [SettingChange(Judgment.OTHER, path, before, after)]
