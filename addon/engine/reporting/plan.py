"""The plan: a study in words. Two pages to follow at the bench; reasons, tables and full cautions follow in the
appendix."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..study import Study
from . import (
    plan_after,
    plan_assumed,
    plan_cautions,
    plan_even,
    plan_expect,
    plan_first,
    plan_fits,
    plan_hanging,
    plan_mixing,
    plan_purpose,
    plan_ready,
    plan_schedule,
    plan_steps,
    plan_wire,
    words,
)
from .language import ENGLISH, Language, translated
from .plan_bench import Bench
from .plan_text import Section, setting, wrapped

APPENDIX = "APPENDIX: why, tables, care, cautions in full"


@dataclass(frozen=True)
class Plan:
    """A plan as data, independent of language. up : (3,) that the sketch of the sides is for"""

    title: str
    summary: tuple[str, ...]
    up: tuple[float, float, float]
    pages: tuple[Section, ...]
    steps: Section
    appendix: tuple[Section, ...]


def write(study: Study, language: Language = ENGLISH) -> str:
    """The plan of a study as text. Works with any analysis missing: its place gives the reason."""
    return render(of(study), language)


def of(study: Study) -> Plan:
    """The plan of a study as data."""
    bench = Bench.of(study)
    appendix = sections(bench)
    letters = lettered(appendix)
    front = (plan_first.urgent(bench), plan_first.model(bench, letters), plan_ready.ready(bench, letters))
    return Plan(
        plan_first.title(bench),
        tuple(plan_first.summary(bench)),
        bench.up,
        tuple(section for section in front if section is not None),
        plan_steps.steps(bench, letters),
        tuple(appendix.values()),
    )


def render(plan: Plan, language: Language) -> str:
    """A plan in a language, set in columns."""
    lines = [
        translated(plan.title, language),
        *(line for line_text in plan.summary for line in wrapped(translated(line_text, language))),
        "",
        *words.sketch(plan.up, language),
        setting(plan.pages, language),
        setting([plan.steps], language),
        "",
        translated(APPENDIX, language),
        setting(plan.appendix, language, letters=True),
    ]
    return "\n".join(lines) + "\n"


def lettered(appendix: Mapping[str, Section]) -> dict[str, str]:
    """Name of a section of the appendix -> its letter."""
    return {name: chr(ord("A") + number) for number, name in enumerate(appendix)}


def sections(bench: Bench) -> dict[str, Section]:
    """The appendix: name -> section, in order; those with nothing to say are left out."""
    parts = {
        "mixing": None if bench.stopped else plan_mixing.section(bench),
        "currents": plan_schedule.table(bench),
        "wires": None if bench.stopped else plan_wire.table(bench),
        "hanging": plan_hanging.section(bench),
        "expect": plan_expect.expecting(bench),
        "found": plan_expect.further_findings(bench),
        "after": plan_after.after(bench),
        "care": plan_after.care(bench),
        "waste": plan_after.waste(bench),
        "purpose": plan_purpose.section(bench),
        "fits": plan_fits.table(bench),
        "layers": plan_expect.layers(bench),
        "even": plan_even.evening(bench),
        "cautions": plan_cautions.cautions(bench),
        "assumed": plan_assumed.assumed(bench),
    }
    return {name: section for name, section in parts.items() if section is not None}
