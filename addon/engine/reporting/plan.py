"""The plan: a study in words, at most two pages, that a person can follow at the bench."""

from __future__ import annotations

from .. import schedule
from ..analyses import Study
from ..chemistry.deposit import Deposit
from . import plan_after, plan_before, plan_cautions, plan_even, plan_schedule, plan_tank, words
from .plan_text import area, mass, setting, thickness, wrapped


def write(study: Study) -> str:
    """The plan of a study, as text of 80 columns. Works with any analysis missing: its place gives the reason."""
    sections = [
        *([first] if (first := plan_before.urgent(study)) is not None else []),
        plan_before.part(study),
        plan_before.printing(study),
        plan_before.coating(study),
        plan_tank.hanging(study),
        plan_tank.mixing(study),
        plan_tank.running(study),
        plan_after.finishing(study),
        plan_after.expecting(study),
        *([even] if (even := plan_even.evening(study)) is not None else []),
        plan_cautions.cautions(study),
        plan_after.assumed(study),
    ]
    foot = wrapped(words.frame_note(study.hung.part.up))
    return "\n".join([*_head(study), setting(sections), "", *foot]) + "\n"


def _head(study: Study) -> list[str]:
    deposit: Deposit | None = study.results.get("deposit")
    timetable = schedule.of_study(study)
    title = f"PLATING PLAN: {study.part.name}"
    if deposit is None or timetable is None:
        return [title]
    return [
        title,
        *wrapped(
            f"{deposit.metal.capitalize()}, {thickness(deposit.thickness)} on {area(deposit.area)}:"
            f" {plan_schedule.summary(timetable)}, {mass(deposit.mass)} of metal."
        ),
    ]
