"""The top of the plan's first page: the job in brief, faults to correct, changes of model and print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..findings import Severity
from ..printing.steps import MIN_SANDED_STEP_M
from ..units import GRAM, MM, UM
from . import finding_text, plan_fits, plan_helpers, plan_holes, plan_schedule, words
from .filled import capital, filled, joined, sentence
from .instructions_first import Model
from .plan_bench import Bench
from .plan_ready import weighed
from .plan_text import (
    Section,
    area,
    figure,
    mass,
    note,
    spanned,
    step,
    thickness,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..field.result import Spread


MAX_FIRST_FINDINGS = 6  # findings on the first page; the rest stands in the appendix
# Whether its weight is known, whether faces stay bare -> what it is
PART = {
    (False, False): "{size} mm of {plastic}.",
    (False, True): "{size} mm of {plastic}; {bare} stay bare.",
    (True, False): "{size} mm of {plastic}, about {mass} with its coat.",
    (True, True): "{size} mm of {plastic}, about {mass} with its coat; {bare} stay bare.",
}


def title(bench: Bench) -> str:
    """The plan's first line."""
    return filled("PLATING PLAN: {name}", name=bench.study.part.name)


def summary(bench: Bench) -> list[str]:
    """What is made, what to expect of it, and its size, a sentence or two each."""
    deposit, timetable, lines = bench.deposit, bench.schedule, []
    if bench.stopped:
        lines.append("NOT TO BE PLATED AS IT IS: see below what stops the job.")
    if deposit is not None and timetable is not None:
        several = deposit.copies > 1
        lines.append(
            filled(
                "{metal}, {thickness} on {area} each of {copies} parts: {run}, {weight} of metal."
                if several
                else "{metal}, {thickness} on {area}: {run}, {weight} of metal.",
                metal=capital(deposit.metal),
                thickness=thickness(deposit.thickness),
                area=area(deposit.area),
                copies=deposit.copies,
                run=plan_schedule.summary(timetable),
                weight=_metal(bench, deposit.copies * deposit.mass),
            )
        )
    if bench.field is not None and not bench.stopped:
        lines.append(_expected(bench))
    if bench.study.results.rack is None and bench.study.asked_for("rack"):
        lines.append(bench.missing("rack", "How far apart copies hang"))
    return [*lines, _part(bench)]


def _metal(bench: Bench, value: float) -> str:
    """A mass of metal; small masses as the scale shows them."""
    return mass(value) if value >= GRAM else f"{weighed(bench, value)} g"


def _part(bench: Bench) -> str:
    """Size and weight."""
    surface, job = bench.study.surface, bench.job
    sizes = " x ".join(words.outer_dimensions(surface.bounds))
    body = None if bench.hung is None else bench.hung.body
    weighed = body is not None and not job.is_metal  # the metal is unknown
    template = PART[weighed, bench.masked]
    size = filled(
        template,
        size=sizes,
        plastic="metal" if job.is_metal else job.part.material,
        mass="" if body is None else mass(body.mass, 2),
        bare=area(float((surface.wet_area - surface.plated_area).sum())),
    )
    return joined([size, Model.SIZE.say()])


def _expected(bench: Bench) -> str:
    """The thickness to expect, as ranges where they were computed."""
    field = bench.field
    assert field is not None
    spread = field.thickness_spread
    low, high = (_ranged(bench, f"field.thickness_um.{name}", getattr(spread, name)) for name in ("min", "max"))
    return filled(
        "Expect {low} um at the thinnest, {most} um on nine tenths of it, {high} um at the thickest."
        if spread.min > 0
        else "Expect nothing at the thinnest, {most} um on nine tenths of it, {high} um at the thickest.",
        low=low,
        most=spanned(*_nine_tenths(bench, spread)),
        high=high,
    )


def _nine_tenths(bench: Bench, spread: Spread) -> tuple[float, float]:
    """The thickness on nine tenths of the area in um, with its range where there is one."""
    thin, thick = bench.span("field.thickness_um.p5"), bench.span("field.thickness_um.p95")
    return spread.p5 / UM if thin is None else thin[0], spread.p95 / UM if thick is None else thick[1]


def _ranged(bench: Bench, key: str, value: float) -> str:
    """A thickness in um: its range where there is one."""
    span = bench.span(key)
    return figure(value / UM, 2) if span is None else spanned(*span)


def urgent(bench: Bench) -> Section | None:
    """What stops the job or spoils the part, most severe first; None where nothing does."""
    findings = bench.spoiling()
    if not findings:
        return None
    lines = []
    for number, finding in enumerate(findings[:MAX_FIRST_FINDINGS], 1):
        text: str = sentence(finding_text.text(finding))
        if finding.severity == Severity.STOPS:
            text = filled("STOP: {finding}", finding=text)
        lines.append(step(joined([f"R{number}", text])))
    if len(findings) > MAX_FIRST_FINDINGS:
        lines.append(note(filled("{count} more are in the appendix.", count=len(findings) - MAX_FIRST_FINDINGS)))
    return Section("Put right first", tuple(lines))


def model(bench: Bench, letters: Mapping[str, str]) -> Section | None:
    """What to change in the model and how to print it."""
    lines = [*plan_holes.vents(bench), *plan_holes.drains(bench), *map(note, bench.at("model"))]
    prepared = bench.prepared
    if prepared is not None:
        fits = plan_fits.first(bench, letters)
        lines += [step(text) for text in (*fits, _fit(bench, "other faces" if fits else "parts"))]
        lines += [] if bench.metal_part else [step(text) for text in plan_fits.print_up(bench)]
        if prepared.sanding_area > 0 and not bench.metal_part:
            lines.append(
                step(Model.SAND.say(area=area(prepared.sanding_area), least=figure(MIN_SANDED_STEP_M / UM, 2)))
            )
    lines += [step(text) for text in plan_helpers.printing(bench)]
    return Section("Change in the model and the print", tuple(lines)) if lines else None


def _fit(bench: Bench, measure: str) -> str:
    """Growth where `what` must fit: by the local thickness where it is known."""
    prepared, coat = bench.prepared, bench.job.coat.thickness
    assert prepared is not None
    figures = {"what": measure, "growth": figure(prepared.growth / UM, 2), "bore": figure(prepared.bore_loss / MM, 2)}
    if bench.field is None:
        return Model.FIT_EVEN.say(**figures)
    low, high = (figure(coat / UM + thickness, 2) for thickness in _nine_tenths(bench, bench.field.thickness_spread))
    return Model.FIT.say(**figures, low=low, high=high)
