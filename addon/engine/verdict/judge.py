"""The verdict on a study, as data: up to three things to change, worst first, and the four figures of a job.

Words are in `reporting.verdict_text`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from .. import schedule
from ..field.result import Flag
from ..findings import Code, Finding, Quantity, Severity, each_fact_once, most_severe_first
from ..study import Study
from ..study import findings as study_findings
from ..units import ML

MAX_CHANGES = 3
# Pockets and pools below both, and areas below the share, spoil nothing visible.
MIN_POCKET_VOLUME_M3, MIN_SPOILT_SHARE = 0.05 * ML, 0.005


class Section(Enum):
    """The steps of a job, in their order."""

    PART = "part"
    PRINT = "print"
    HANG = "hang"
    COAT = "coat"
    TANK = "tank"


SECTIONS: Mapping[Section, frozenset[Code]] = {
    Section.PART: frozenset(
        {
            *(Code.WRONG_SCALE, Code.OBJECT_SKIPPED, Code.MESH_OPEN, Code.MESH_NON_MANIFOLD, Code.FACES_TURNED),
            *(
                Code.ONE_SIDED,
                Code.SHELLS_ENCLOSED,
                Code.SHELLS_OVERLAP,
                Code.BODIES_APART,
                Code.POINTS_WELDED,
                Code.EDGES_CLOSED,
            ),
            *(Code.FACES_REPEATED, Code.INNER_WALLS, Code.FACES_DEGENERATE, Code.INSIDE_SHELL, Code.OPEN_SHEET),
        }
    ),
    Section.PRINT: frozenset(
        {
            *(Code.INFILL_AIR, Code.VOID_AIR, Code.WALLS_MEET, Code.WEIGHT_UNKNOWN, Code.FLOATS, Code.PLASTIC_SOFT),
            *(Code.GAP_CLOSES, Code.BORE_CLOSES, Code.WALL_THIN),
        }
    ),
    Section.HANG: frozenset(
        {
            *(Code.GAS_TRAPPED, Code.LIQUID_HELD, Code.BUBBLE_PRONE, Code.BETTER_WAY_UP, Code.OPENINGS_NARROW),
            *(Code.TRAPPING_OVERLAP, Code.TRAPPING_PATCHED, Code.GAS_LIFTS, Code.GAS_SWINGS),
        }
    ),
    Section.COAT: frozenset(
        {
            *(Code.WIRE_OFF_PART, Code.COAT_HOT, Code.CONTACT_HOT_IN_AIR, Code.COAT_TOO_POOR, Code.WIRES_TOO_FEW),
            *(Code.COAT_UNWIRED, Code.COAT_STAYS_BARE, Code.ZINC_DISPLACED, Code.COAT_WITHOUT_TANK),
            Code.COAT_LIMITS_CURRENT,
        }
    ),
}
# Handled at the bench, as the plan says: no change of the model or of a setting removes it.
BENCH_CODES = frozenset(
    {
        *(Code.COAT_HOT, Code.CONTACT_HOT_IN_AIR, Code.BUBBLE_PRONE, Code.INFILL_AIR, Code.VOID_AIR, Code.WALLS_MEET),
        *(Code.ACID_RESTRICTED, Code.POINTS_WELDED, Code.EDGES_CLOSED, Code.FACES_REPEATED, Code.FACES_TURNED),
        *(Code.TRAPPING_PATCHED, Code.COAT_WITHOUT_TANK, Code.FIELD_WITHOUT_COAT, Code.PANELS_REDUCED),
        *(Code.HELD_VOLTAGE_OFF, Code.RACK_GAP_UNTRIED, Code.OPEN_SHEET, Code.OBJECT_SKIPPED),
        *(Code.PLATES_FAR_APART, Code.READINGS_NEGATIVE, Code.READINGS_SCATTER),
    }
)
POCKET_CODES = frozenset({Code.GAS_TRAPPED, Code.LIQUID_HELD})
# reported as a share of the area
AREA_CODES = frozenset({Code.ALMOST_BARE, Code.DULL, Code.BURNT, Code.INSIDE_SHELL, Code.SHELLS_OVERLAP})


@dataclass(frozen=True, eq=False)
class Verdict:
    """The verdict on a study. SI; None where not computed yet.

    gate : the scale is in doubt, and with it every other figure; then there is nothing else to change
    changes : at most `MAX_CHANGES`, worst first; more : how many others there are
    current : A of all parts, the most that will flow; time : s of the whole schedule
    weight_gain : kg of metal on one part
    bare_area : m2 of visible plated area that gets no metal, or hardly any
    """

    gate: Finding | None
    changes: tuple[Finding, ...]
    more: int
    current: float | None
    time: float | None
    weight_gain: float | None
    bare_area: float | None


def verdict(study: Study, *, size_is_right: bool = False) -> Verdict:
    """The verdict on a study, be it whole or only its quick analyses.

    size_is_right : an unusual size is intended: it is no finding and hides none
    """
    listed = but_size(study_findings.of_study(study)) if size_is_right else study_findings.of_study(study)
    requested = [finding for finding in listed if _was_requested(finding, study)]
    gate = next((finding for finding in requested if finding.code == Code.WRONG_SCALE), None)
    wanted = () if gate else to_change(requested)
    deposit, timetable = study.results.deposit, schedule.of_study(study)
    return Verdict(
        gate,
        tuple(wanted[:MAX_CHANGES]),
        max(len(wanted) - MAX_CHANGES, 0),
        timetable.full_current if timetable is not None else None if deposit is None else deposit.total_current,
        timetable.time if timetable is not None else None if deposit is None else deposit.time,
        None if deposit is None else deposit.mass,
        bare_area(study),
    )


def but_size(findings: Iterable[Finding]) -> list[Finding]:
    """The findings without those that doubt the scale, for a part whose unusual size is intended."""
    return [finding for finding in findings if finding.code != Code.WRONG_SCALE]


def to_change(findings: Iterable[Finding]) -> list[Finding]:
    """The findings that a change before printing removes, most severe first; trivial ones left out."""
    changes = [
        finding
        for finding in findings
        if finding.severity != Severity.NOTE and finding.code not in BENCH_CODES and not trivial(finding)
    ]
    return most_severe_first(each_fact_once(changes))


def trivial(finding: Finding) -> bool:
    """Whether a pocket, pool or area is too small to matter."""
    volume = finding.quantities.get(Quantity.VOLUME, 0.0)
    if finding.code in AREA_CODES:
        return finding.quantities.get(Quantity.SHARE, 1.0) < MIN_SPOILT_SHARE
    return finding.code in POCKET_CODES and volume < MIN_POCKET_VOLUME_M3 and finding.spoilt_share < MIN_SPOILT_SHARE


def section(code: Code) -> Section:
    """The step of the job at which a finding is corrected."""
    return next((place for place, codes in SECTIONS.items() if code in codes), Section.TANK)


def of_section(findings: Iterable[Finding], where: Section) -> list[Finding]:
    """The findings to change at one step, most severe first."""
    return [finding for finding in to_change(findings) if section(finding.code) == where]


def bare_area(study: Study) -> float | None:
    """m2 of the visible plated area that gas, a dead piece of coat or lack of current leaves bare; None where neither
    gas nor current is computed."""
    surface, gas, field = study.surface, study.gas_as_hung, study.results.field
    if gas is None and field is None:
        return None
    bare = np.zeros(len(surface.triangles))
    if gas is not None:
        bare = np.maximum(bare, gas.face)
    if field is not None:
        bare = np.maximum(bare, field.flag == Flag.BARE)
    coat = study.results.coat
    for finding in coat.findings if coat is not None else ():
        if finding.code in (Code.COAT_UNWIRED, Code.COAT_STAYS_BARE):
            bare[finding.faces] = 1.0
    return float(_share_of_area(surface.visible_area, bare))


def _share_of_area(area: NDArray[np.float64], share: NDArray[np.float64]) -> float:
    return float(area @ np.clip(share, 0.0, 1.0))


def _was_requested(finding: Finding, study: Study) -> bool:
    """Whether a finding concerns something that was requested."""
    if finding.code != Code.NOT_COMPUTED:
        return True
    analysis = {**study_findings.REPORTED, **study_findings.ON_DEMAND}[finding.names["result"]]
    return study.asked_for(analysis)
