"""The plan: a study in words. Two pages to follow with wet gloves; why, tables, cautions in full stand after them."""

from __future__ import annotations

from collections.abc import Mapping

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
    plan_schedule,
    plan_steps,
    plan_wire,
)
from .plan_bench import Bench
from .plan_text import Section, setting

APPENDIX = "APPENDIX: why, tables, care, cautions in full"


def write(study: Study) -> str:
    """The plan of a study as text. Works with any analysis missing: its place gives the reason."""
    bench = Bench.of(study)
    appendix = sections(bench)
    letters = lettered(appendix)
    front = [plan_first.urgent(bench), plan_first.model(bench, letters), plan_first.ready(bench, letters)]
    pages = [section for section in front if section is not None]
    lines = [
        *plan_first.head(bench),
        setting(pages),
        setting([plan_steps.steps(bench, letters)]),
        "",
        APPENDIX,
        setting(appendix.values(), letters=True),
    ]
    return "\n".join(lines) + "\n"


def lettered(appendix: Mapping[str, Section]) -> dict[str, str]:
    """Name of a section of the appendix -> its letter."""
    return {name: chr(ord("A") + number) for number, name in enumerate(appendix)}


def sections(bench: Bench) -> dict[str, Section]:
    """The appendix: name -> section, in order; those with nothing to say are left out."""
    found = {
        "mixing": plan_mixing.section(bench),
        "currents": plan_schedule.table(bench),
        "wires": plan_wire.table(bench),
        "hanging": plan_hanging.section(bench),
        "expect": plan_expect.expecting(bench),
        "found": plan_expect.found(bench),
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
    return {name: section for name, section in found.items() if section is not None}
