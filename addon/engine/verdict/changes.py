"""Differences between two reports, and whether they are better or worse."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any

from .figures import Value


class Judgment(Enum):
    """The judgment of a change."""

    WORSE = "worse"
    BETTER = "better"
    UNKNOWN = "unknown"  # only one of the reports has the figure
    OTHER = "other"  # neither better nor worse: another part, another setting


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
