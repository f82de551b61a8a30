"""The verdict that the panels draw, and what has changed since the last whole check.

Everything is computed once per study and cached in the session; panels only read.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import bpy
import numpy as np
from mathutils import Vector

from ..engine.errors import InputError
from ..engine.findings import Finding, Quantity, Severity
from ..engine.mesh import faults
from ..engine.reporting import compare_text, report, verdict_text
from ..engine.study import USUAL, Study
from ..engine.study import findings as study_findings
from ..engine.verdict import compare, fixes, judge, places
from ..engine.verdict.changes import Change
from ..engine.verdict.figures import Table
from ..engine.verdict.fixes import Fix, FixCode
from ..engine.verdict.judge import Section, Verdict
from .scene import settings
from .scene.capture import meters_per_unit
from .session import State, StudyRecord, session

NEEDS: Mapping[Section, tuple[str, ...]] = {  # the analyses without which a step has no answer
    Section.PART: (),
    Section.PRINT: ("preparation", "hanging"),
    Section.HANG: ("gas", "drainage", "hanging"),
    Section.COAT: ("contacts", "coat"),
    Section.TANK: ("deposit", "field"),
}

AFTER_VERDICT = ("orientation",)  # usual analyses that yield no finding and none of the four figures


@dataclass(frozen=True, eq=False)
class Judgment:
    """A study with its verdict. size_is_right : whether its size was kept, though unusual; fixes : what the tool can do
    against each of the verdict's changes; placed : whether each has a place on the part to show; worst : the most
    severe finding of each step, None where there is nothing to change"""

    study: Study
    size_is_right: bool
    verdict: Verdict
    fixes: tuple[Fix | None, ...]
    placed: tuple[bool, ...]
    worst: Mapping[Section, Severity | None]


@dataclass(eq=False)
class Judgments(State):
    """The judgment of the study that was looked at last."""

    latest: Judgment | None = None


@dataclass(eq=False)
class Checks(State):
    """Reports of whole checks. last : the latest; before : the one before that, of the same objects; whose : them"""

    whose: tuple[int, ...] = ()
    last: Table | None = None
    before: Table | None = None
    changes: tuple[Change, ...] = field(default_factory=tuple)


def judgment(study: Study) -> Judgment:
    """The verdict on a study, kept until another one is looked at."""
    state = session.state(Judgments)
    right = settings.of(bpy.context.scene).size_is_right
    if state.latest is None or state.latest.study is not study or state.latest.size_is_right != right:
        verdict, listed = judge.verdict(study, size_is_right=right), study_findings.of_study(study)
        listed = judge.but_size(listed) if right else listed
        worst = {where: _worst(judge.of_section(listed, where)) for where in Section}
        mends = tuple(fixes.fix(change, study) for change in verdict.changes)
        placed = tuple(len(places.faces(change, study)) > 0 for change in verdict.changes)
        state.latest = Judgment(study, right, verdict, mends, placed, worst)
    return state.latest


def _worst(findings: list[Finding]) -> Severity | None:
    return findings[0].severity if findings else None


def gate(context: bpy.types.Context) -> Finding | None:
    """Whether the part's scale is in doubt: by its study, or by its bounding box if no study is current."""
    if settings.of(context.scene).size_is_right:
        return None
    record = session.find(context)
    if record is not None and not record.moved:
        return judgment(record.study).verdict.gate
    longest = _longest(context)
    return None if longest == 0.0 or faults.MIN_USUAL_M <= longest <= faults.MAX_USUAL_M else faults.size(longest)


def gate_fix(finding: Finding) -> Fix:
    """The fix of a part in a wrong scale."""
    return Fix(FixCode.SCALE_IMPORT, finding.quantities[Quantity.FACTOR])


def _longest(context: bpy.types.Context) -> float:
    """m, the longest side of the box round the part's objects as they stand."""
    objects = [o for o in session.objects(context) if o.type in ("MESH", "CURVE", "SURFACE", "META", "FONT")]
    if not objects:
        return 0.0
    corners = np.concatenate([np.array([(o.matrix_world @ Vector(c))[:] for c in o.bound_box]) for o in objects])
    return float(np.ptp(corners, axis=0).max()) * meters_per_unit(context.scene)


def missing(study: Study) -> list[str]:
    """The usual analyses with neither a result nor a reason for its absence."""
    return [name for name in USUAL if not study.asked_for(name)]


def owed(study: Study) -> list[str]:
    """Those of them without which the verdict is not whole."""
    return [name for name in missing(study) if name not in AFTER_VERDICT]


def note(identity: tuple[int, ...], record: StudyRecord) -> None:
    """Record the report of a whole check, and compare it with the one before."""
    state = session.state(Checks)
    table = verdict_text.with_headlines(report.build(record.study, {}), study_findings.of_study(record.study))
    state.before = state.last if state.whose == identity else None
    state.whose, state.last = identity, table
    state.changes = () if state.before is None else compare.compare(state.before, table)


def condensed(table: Table) -> str:
    """The figures of a report that are compared, as JSON to store in a file."""
    return json.dumps(compare.condensed(table))


def beside(context: bpy.types.Context) -> list[tuple[str, list[str]]]:
    """Rows of a table of the named states and the latest check side by side: the figure, and its value in each. A
    stored text that is no report is ignored."""
    tables = []
    for state in settings.of(context.scene).states:
        try:
            tables.append(compare.check(json.loads(state.figures), state.name))
        except (ValueError, RecursionError, InputError):
            continue
    last = session.state(Checks).last
    return compare_text.table([*tables, *([last] if last is not None else [])]) if tables else []
