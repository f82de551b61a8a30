"""All findings of a study, most severe first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..chemistry import cautions
from ..field.result import Flag
from ..findings import BARE, Code, Finding, Quantity, Remedy, RemedyCode, Severity, most_severe_first, spot
from ..mesh.skipped import Skipped
from ..trapping.narrow import NarrowOpenings
from .kinds import made
from .study import Study

# Key of the report -> the analysis that fills it. Those of the second table run only where they are asked for.
REPORTED: Mapping[str, str] = {
    "deposit": "deposit",
    "gas": "gas",
    "drainage": "drainage",
    "openness": "openness",
    "field": "field",
    "coat": "coat",
    "contacts": "contacts",
    "hanging": "hanging",
    "prepare": "preparation",
    "fits": "fits",
    "gas.narrow_openings": "narrow",
}
SHUT_OFF_SHARE = 0.5  # of the bare area: plugs that cover this share are its remedy
OF_DENSITY = (Code.ABOVE_WINDOW, Code.BELOW_WINDOW, Code.NEAR_LIMITING)
ON_DEMAND: Mapping[str, str] = {
    "layouts": "layouts",
    "rack": "rack",
    "helpers": "hanger",
    "helpers.plugs": "plugs",
    "helpers.masks": "masks",
    "helpers.rack": "rack_holder",
    "helpers.anode_holder": "anode_holder",
    "helpers.shield": "shield",
    "helpers.thief": "thief",
    "helpers_field": "helpers_field",
    "purpose": "purpose",
}


def of_study(study: Study) -> list[Finding]:
    """The findings of the model, of the job, and of every analysis, and why an analysis has no result."""
    findings = [_skipped(skip) for skip in study.part.skipped]
    findings += faults(study)
    findings += cautions.of_job(study.job)
    results = study.results
    replaced = {name for name in ("gas", "drainage") if f"{name}_hung" in results.names} | {"field_at_target"}
    for name, result in zip(results.names, results.present, strict=True):
        if name == "deposit":
            findings += _of_deposit(study)
        elif name not in replaced:
            findings += getattr(result, "findings", ())
    for name, refused in study.refusals.items():
        findings += () if name in replaced else refused
    findings += _narrow(study.results.narrow)
    if study.results.field is not None and study.results.field.coat is None:
        findings.append(Finding(Code.FIELD_WITHOUT_COAT, Severity.COSTS))
    return most_severe_first([*(plugged(finding, study) for finding in findings), *_missing(study)])


def faults(study: Study) -> list[Finding]:
    """What is wrong with the model; where it has no volume to weigh, with what is known of floating all the same."""
    hanging, findings = study.results.hanging, list(study.surface.faults)
    if any(fault.code == Code.MESH_OPEN for fault in findings):  # which already reports the missing volume
        findings = [
            replace(fault, names={**fault.names, "encloses": ""}) if "encloses" in fault.names else fault
            for fault in findings
        ]
    if hanging is None or hanging.body is not None:
        return findings
    lift = {Quantity.MASS: hanging.unknown_lift}
    return [
        replace(fault, quantities={**fault.quantities, **lift})
        if fault.code == Code.MESH_OPEN or fault.names.get("encloses") == "no volume"
        else fault
        for fault in findings
    ]


def plugged(finding: Finding, study: Study) -> Finding:
    """Bare area is no fault where most of it lies in holes shut off by plugs."""
    plugs = study.results.plugs
    if plugs is None or finding.code not in BARE or not shut_off(finding, study, plugs.faces):
        return finding
    return replace(finding, severity=Severity.NOTE, remedy=Remedy(RemedyCode.PLUG_HOLES))


def shut_off(finding: Finding, study: Study, faces: NDArray[np.bool_]) -> bool:
    """Whether most of the bare area of a finding is among these faces (m,) of the part."""
    field = study.results.field
    bare = finding.faces
    if not len(bare) and field is not None:
        bare = np.flatnonzero(field.flag == Flag.BARE)
    area = study.surface.plated_area[bare]
    return len(bare) > 0 and float(area[faces[bare]].sum()) >= SHUT_OFF_SHARE * float(area.sum())


def _of_deposit(study: Study) -> list[Finding]:
    """Findings of the deposit; none about the wanted density if the field has another one."""
    deposit, field = study.results.deposit, study.results.field
    findings = [] if deposit is None else list(deposit.findings)
    if field is None or not (field.is_below_wanted or study.job.supply.hold is not None):
        return findings
    return [finding for finding in findings if finding.code not in OF_DENSITY]


def _skipped(skipped: Skipped) -> Finding:
    """What capture left out."""
    names = {"object": skipped.name, "why": skipped.why.value, "detail": skipped.detail, "owner": skipped.owner}
    quantities = {Quantity.COUNT: skipped.count, Quantity.TOTAL: skipped.total} if skipped.total else {}
    return Finding(Code.OBJECT_SKIPPED, Severity.COSTS, quantities, {key: name for key, name in names.items() if name})


def _narrow(narrow: NarrowOpenings | None) -> list[Finding]:
    """Openings that the bath may not enter."""
    if narrow is None or not narrow.openings:
        return []
    first = narrow.openings[0]
    quantities = {Quantity.COUNT: len(narrow.openings), Quantity.WIDTH: first.width, Quantity.DEPTH: first.depth}
    places = tuple(spot(opening.mouth) for opening in narrow.openings)
    remedy = Remedy(RemedyCode.WIDEN_OR_PLUG)
    return [Finding(Code.OPENINGS_NARROW, Severity.COSTS, quantities, places=places, remedy=remedy)]


def _missing(study: Study) -> list[Finding]:
    """Why an analysis that was asked for has no result."""
    asked = {key: name for key, name in ON_DEMAND.items() if study.asked_for(name)}
    effects = {f"helpers.{kind.option}.thinnest_um": kind.effect for kind in made(study.results)}
    if study.results.field is not None:  # otherwise that finding gives the reason
        asked |= {key: name for key, name in effects.items() if study.asked_for(name)}
    return [
        Finding(
            Code.NOT_COMPUTED,
            Severity.COSTS,
            names={"result": key, "reason": study.reasons.get(name, "this study does not hold it")},
        )
        for key, name in {**REPORTED, **asked}.items()
        if name not in study.results.names
    ]
