"""The report: a study as one JSON object, and as one row a triangle. The keys are in docs/headless.md.

Keys are only ever added. The same study gives the same bytes, apart from `timings_s`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from .. import handling, ranges, schedule
from ..chemistry import bath, mixing
from ..errors import InputError
from ..mesh.surface import Surface
from ..printing.prepare import SizedCopy
from ..settings.job import write_job
from ..study import Results, Study, findings
from ..trapping.vented import Vented
from ..units import CM3, DM2, MM
from ..verdict import judge
from . import (
    finding_text,
    report_bench,
    report_field,
    report_fits,
    report_hanging,
    report_helpers,
    report_masks,
    report_vents,
    verdict_text,
)
from . import report_sections as sections

SCHEMA = "platewright-report/1"
DIGITS = 6  # significant digits: no figure of a study is more accurate
DECIMALS = 6  # of points in mm and of directions: further decimals are rounding

R = TypeVar("R")
SerializedSection: TypeAlias = sections.Table | list[sections.Table]
Serialize: TypeAlias = Callable[[Study], SerializedSection | None]


def _of(read: Callable[[Results], R | None], serialize: Callable[[R, Study], SerializedSection]) -> Serialize:
    """The serializer of one result; it gives None without that result."""

    def section(study: Study) -> SerializedSection | None:
        result = read(study.results)
        return None if result is None else serialize(result, study)

    return section


# Key of the report -> its serializer
SECTIONS: dict[str, Serialize] = {
    "deposit": _of(lambda results: results.deposit, sections.deposit),
    "gas": _of(lambda results: results.gas, sections.gas),
    "drainage": _of(lambda results: results.drainage, sections.drainage),
    "vents": _of(lambda results: results.vents, report_vents.vents),
    "openness": _of(lambda results: results.openness, sections.openness),
    "field": _of(lambda results: results.field, report_field.field),
    "coat": _of(lambda results: results.coat, sections.coat),
    "contacts": _of(lambda results: results.contacts, report_hanging.contacts),
    "hanging": _of(lambda results: results.hanging, report_hanging.hanging),
    "prepare": _of(lambda results: results.preparation, sections.preparation),
    "fits": _of(lambda results: results.fits, report_fits.fits),
}
# The same for the hanging position, where that differs from the model's
AS_HUNG: dict[str, Serialize] = {
    "gas_hung": _of(lambda results: results.gas_hung, sections.gas),
    "drainage_hung": _of(lambda results: results.drainage_hung, sections.drainage),
}
# The same for analyses that run only on demand: otherwise the report has no such key
ON_DEMAND: dict[str, Serialize] = {
    "layouts": _of(lambda results: results.layouts, report_field.layouts),
    "rack": _of(lambda results: results.rack, report_field.rack),
    "helpers": report_helpers.helpers,
    "helpers_field": report_helpers.together,
    "purpose": _of(lambda results: results.purpose, report_fits.purpose),
}


def build(
    study: Study,
    versions: Mapping[str, str],
    vented: Vented | None = None,
    sized: SizedCopy | None = None,
    files: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """The report of a study.

    versions : name -> version, of the extension, Blender and numpy
    vented, sized : the part with its holes cut, and the copy to print, where these were asked for
    files : kind of a helper -> the file that it is written to
    """
    table: dict[str, Any] = {"schema": SCHEMA, "part": _part(study.surface)}
    for key, serialize in _sections(study).items():
        table[key] = serialize(study)
    for key, serialize in AS_HUNG.items():
        table[key] = serialize(study) if study.turned else None
    if vented is not None:
        table["vented"] = report_vents.vented(vented)
    if sized is not None:
        table["inset"] = report_fits.inset(sized, study)
    if study.asked_for("masks"):
        table["masked_by_hand"] = report_masks.by_hand(study)
    for helper in table.get("helpers") or ():
        helper["file"] = (files or {}).get(helper["kind"])
    timetable = schedule.of_study(study)
    table["schedule"] = None if timetable is None else report_bench.schedule(timetable)
    table["tank"] = report_bench.tank(study)
    table["bath"] = report_bench.bath(study)
    table["mix"] = _mix(study)
    table["verdict"] = verdict_text.row(judge.verdict(study))
    handled = handling.of_study(study)
    table["handling"] = None if handled is None else report_bench.handling(handled)
    all_findings = findings.of_study(study)
    table["ranges"] = {key: list(span) for key, span in sorted(ranges.of_study(study).items())}
    table["ranges_from"] = report_bench.ranges_from(study)
    table["findings"] = [finding_text.row(finding) for finding in all_findings]
    table = rounded(table)
    table["warnings"] = finding_text.warnings(all_findings)
    table["assumed"] = write_job(study.job_used)
    table["timings_s"] = {name: round(seconds, 3) for name, seconds in study.timings.items()}
    table["versions"] = dict(versions)
    return table


def _mix(study: Study) -> dict[str, Any] | None:
    """How the job's batch is mixed; None where the bath has no recipe that can be mixed."""
    job = study.in_tank
    try:
        recipe = bath.recipe(job.bath)
        batch = bath.mix(recipe, bath.batch_volume(job.batch, job.tank), job.batch.acid)
        table = report_bench.mix(batch, mixing.procedure(batch, job.bath.temperature))
        return {**table, "additions": report_bench.additions(recipe, batch.volume)}
    except InputError:
        return None


def _sections(study: Study) -> dict[str, Serialize]:
    """The sections of the report, with those of the further analyses that were asked for."""
    asked = {key.split(".")[0] for key, name in findings.ON_DEMAND.items() if study.asked_for(name)}
    return SECTIONS | {key: serialize for key, serialize in ON_DEMAND.items() if key in asked}


def arrays(study: Study) -> dict[str, NDArray[Any]]:
    """One row a triangle of the part as captured; nan where an analysis has no result.

    centroid_mm (m, 3), area_mm2 (m,) of one side, normal (m, 3) unit outward, plated (m,) bool,
    openness 0..1, gas and held (share of the triangle that is dry, or stays covered), density_A_dm2,
    thickness_um, coat_drop_V, staircase_um: (m,) each
    """
    surface = study.surface
    table: dict[str, NDArray[Any]] = {
        "centroid_mm": surface.centroid / MM,
        "area_mm2": surface.area / MM**2,
        "normal": surface.normal,
        "plated": surface.plated,
    }
    for name, values in sections.FACES.items():
        column = values(study.results)
        none = np.full(len(surface.triangles), math.nan)
        table[name] = none if column is None else np.asarray(column, dtype=np.float64)
    return table


def _part(surface: Surface) -> dict[str, Any]:
    count = int(surface.shell.max()) + 1
    wet = np.bincount(surface.shell, surface.wetted, count)
    solid = np.bincount(surface.shell, surface.area, count)
    return {
        "name": surface.name,
        "triangles": len(surface.triangles),
        "closed": surface.closed,
        "shells": count,
        "enclosed_shells": int(((wet == 0) & (solid > 0)).sum()),
        "bounds_mm": surface.bounds / MM,
        "volume_cm3": surface.volume / CM3,
        "area_dm2": float(surface.area.sum()) / DM2,
        "plated_area_dm2": float(surface.plated_area.sum()) / DM2,
    }


def rounded(value: Any) -> Any:
    """Plain JSON of a figure, a point or a table: `DIGITS` significant digits, None for no number."""
    if isinstance(value, Mapping):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return rounded(np.round(value, DECIMALS).tolist())
    if isinstance(value, list | tuple):
        return [rounded(item) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return float(f"{value:.{DIGITS}g}") + 0.0 if math.isfinite(value) else None  # + 0.0: no minus zero
    return int(value) if isinstance(value, np.integer) else value
