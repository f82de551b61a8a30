"""The plan before the bath: the part, its printing, its surface and coat."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from .. import study_findings
from ..findings import Finding, Severity
from ..printing.prepare import SANDING
from ..settings.tables import plastic
from ..trapping.pockets import MIN_VOLUME_WORTH_A_HOLE_M3
from ..units import CM3, INCH, ML, MM, UM
from . import words
from .finding_text import texts
from .plan_text import Section, area, figure, mass, note, point, step, thickness

if TYPE_CHECKING:
    from ..analyses import Study
    from ..hanging.suggest import Hanging
    from ..printing.prepare import Preparation
    from ..trapping.gas import Drainage, Gas

URGENT = (Severity.STOPS, Severity.SPOILS)
MAX_LISTED_PLACES = 2  # places that are listed one by one
MAX_LISTED_MESH_REMARKS = 3  # remarks on the mesh


def part(study: Study) -> Section:
    """What the part is, and what of the mesh matters for the plating."""
    surface, job = study.surface, study.job
    assert surface is not None
    size = surface.bounds[1] - surface.bounds[0]
    sizes = " x ".join(figure(x / MM) for x in size)
    inches = " x ".join(figure(x / INCH) for x in size)
    volume = "an open mesh" if np.isnan(surface.volume) else f"{figure(surface.volume / CM3)} cm3 of solid"
    lines = [note(f"{sizes} mm ({inches} in), {volume}, {job.part.material}. Check the size against your part.")]
    plated, wet = float(surface.plated_area.sum()), float(surface.wet_area.sum())
    masked = f"; {area(wet - plated)} more are masked and stay bare" if wet - plated > 1e-6 * wet else ""
    if masked:
        lines.append(note(f"{area(plated)} take deposit{masked}."))
    hanging: Hanging | None = study.results.get("hanging")
    if hanging is not None and hanging.body is not None:
        body = hanging.body
        lines.append(
            note(
                f"Weighs about {mass(body.mass)} with its coat (walls {figure(job.part.walls / MM)} mm, infill"
                f" {100 * job.part.infill:.0f} %) and displaces {figure(body.displaced / ML)} mL."
            )
        )
    said = [sentence(text) for text in (*study.part.skipped, *texts(calm(surface.faults)))]
    lines += [note(text) for text in said[:MAX_LISTED_MESH_REMARKS]]
    if len(said) > MAX_LISTED_MESH_REMARKS:
        lines.append(note(f"{len(said) - MAX_LISTED_MESH_REMARKS} more remarks on the mesh are in the report."))
    return Section("The part", tuple(lines))


def urgent(study: Study) -> Section | None:
    """All that stops the job or spoils the part, most severe first; None where nothing does."""
    found = [one for one in study_findings.of_study(study) if one.severity in URGENT]
    if not found:
        return None
    stops = [step(f"STOP: {sentence(text)}") for text in texts(one for one in found if one.severity == Severity.STOPS)]
    spoils = [step(sentence(text)) for text in texts(one for one in found if one.severity == Severity.SPOILS)]
    return Section("Put right first: this stops the job or spoils the part", (*stops, *spoils))


def calm(findings: Iterable[Finding]) -> list[Finding]:
    """The findings that the first section leaves to the others."""
    return [one for one in findings if one.severity not in URGENT]


def printing(study: Study) -> Section:
    """What to change in the model and how to print it."""
    lines: list[str] = []
    prepared: Preparation | None = study.results.get("preparation")
    if prepared is not None:
        lines += _growth(study, prepared)
    lines += _vents(study)
    lines += _drains(study)
    if prepared is not None:
        lines += _layers(study, prepared)
    return Section("Before printing", tuple(lines))


def _growth(study: Study, prepared: Preparation) -> list[str]:
    grown = [f"{figure(study.job.target.thickness / UM)} um of {study.job.bath.metal}"]
    if study.job.coat.thickness > 0:
        grown.insert(0, f"{figure(study.job.coat.thickness / UM)} um of coat")
    return [
        note(
            f"Every face grows by {thickness(prepared.growth)}: {words.listed(grown)}. Where parts must fit, allow"
            f" for it or mask: holes lose {figure(prepared.bore_loss / MM, 2)} mm of diameter, shafts gain it, 60"
            f" degrees threads change by {figure(prepared.thread_growth / MM, 2)} mm at the pitch diameter."
        )
    ]


def _vents(study: Study) -> list[str]:
    gas: Gas | None = study.as_hung("gas")
    if gas is None:
        return [note(missing(study, "gas", "Trapped gas"))]
    lines: list[str] = []
    plated = 0.0 if study.surface is None else float(study.surface.plated_area.sum())
    worth = [pocket for pocket in gas.pockets if pocket.worth_a_hole(plated)]
    for pocket in worth[:MAX_LISTED_PLACES]:
        holes = 1 + len(pocket.more_vents)
        more = f" and {holes - 1} more beside it" if holes > 1 else ""
        lines.append(
            step(
                f"Vent of {figure(pocket.vent_diameter / MM)} mm or more at {where(study, pocket.vent)}{more}: frees"
                f" {figure(pocket.volume / ML, 2)} mL of gas. Or hang the part another way."
            )
        )
    rest = worth[MAX_LISTED_PLACES:]
    if rest:
        total = sum(pocket.volume for pocket in rest)
        lines.append(note(f"{len(rest)} smaller pockets hold {figure(total / ML, 2)} mL more: see the report."))
    if len(worth) < len(gas.pockets):
        lines.append(note("Less gas than a drop stays elsewhere: no hole for it, shake it off."))
    return lines


def _drains(study: Study) -> list[str]:
    drainage: Drainage | None = study.as_hung("drainage")
    if drainage is None:
        return [note(missing(study, "drainage", "Liquid held on lifting out"))]
    return [
        step(
            f"Drain of {figure(pool.drain_diameter / MM)} mm or more at {where(study, pool.drain)}: frees"
            f" {figure(pool.volume / ML, 2)} mL of bath on lifting out. Or tip the part empty."
        )
        for pool in drainage.pools[:1]
        if pool.volume >= MIN_VOLUME_WORTH_A_HOLE_M3
    ]


def _layers(study: Study, prepared: Preparation) -> list[str]:
    lines = []
    if prepared.greatest > 0:
        text = (
            f"Layers of {figure(study.job.print.layer / MM, 2)} mm leave steps of {figure(prepared.median / UM, 2)} um"
            f" (median) to {figure(prepared.greatest / UM, 2)} um, which the deposit follows and does not fill."
        )
        lines.append(note(text))
    if prepared.sanding_area > 0:
        surplus = 100 * (prepared.step_area_ratio - 1)
        lines.append(
            step(
                f"Sand or fill {area(prepared.sanding_area)} with steps above {figure(SANDING / UM, 2)} um; left as"
                f" printed, they add up to {surplus:.0f} % of area, and the deposit is thinner by as much."
            )
        )
    return lines


def coating(study: Study) -> Section:
    """Surface preparation and the conductive coat."""
    coat, job = study.job.coat, study.job
    if coat.sheet_resistance == 0:
        return Section(
            "Surface",
            (
                step("Degrease, rinse until water runs off in one sheet, and touch the part with clean gloves only."),
                note("The part is taken as metal that the bath may wet: check that the bath does not attack it."),
            ),
        )
    softens = plastic(job.part.material, "part.material")["softens_C"]
    strip = figure(10 * coat.sheet_resistance, 2)
    lines = [
        step("Sand wet (240, then 400 grit), wash with soap, dry; from now on clean gloves."),
        step(
            f"Coat with {coat.name}, about {figure(coat.thickness / UM, 2)} um dry, in two thin coats, also into"
            f" hollows; let it dry as its maker says, well below {softens:.0f} C where {job.part.material} softens."
        ),
        step(
            "Check it dry: two strips of metal tape across a scrap 10 mm wide, 100 mm apart, should read near"
            f" {strip} ohm less the meter's leads. Ohms times width over gap is the sheet resistance (here"
            f" {figure(coat.sheet_resistance, 2)} ohm per square): enter yours."
        ),
    ]
    if bool((study.surface is not None) and (study.surface.wetted & ~study.surface.plated).any()):
        lines.append(step("Keep the masked faces free of coat; cover them with stop-off lacquer or tape."))
    return Section("Surface and coat", tuple(lines))


def where(study: Study, spot: ArrayLike) -> str:
    """A place in mm and in words."""
    assert study.surface is not None
    return f"{point(np.asarray(spot))} ({words.place(study.surface.bounds, study.hung.part.up, spot)})"


def missing(study: Study, analysis: str, what: str) -> str:
    """Why a part of the plan has no figure."""
    return f"{what}: not computed ({study.reasons.get(analysis, 'not part of this study')})."


def sentence(text: str) -> str:
    """A warning as a sentence of the plan."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
