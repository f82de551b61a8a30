"""The plan's lines on the currents to set, one after the other, from the one schedule of the study."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..chemistry.deposit import duration, time_for
from ..schedule import Schedule, ScheduleStep
from ..units import AMPERE_HOUR, UM
from .plan_text import density, figure, note, step

if TYPE_CHECKING:
    from ..analyses import Study
    from ..chemistry.deposit import Deposit
    from ..coat.result import CoatResult

SHOWN_COVERED = 0.01  # share of the area below which nothing can be seen yet
ALL_COVERED = 0.995


def summary(timetable: Schedule) -> str:
    """The whole run in a phrase: the most that flows, for how long, and the charge."""
    start = "up to " if len(timetable.steps) > 1 else ""
    return (
        f"{start}{figure(timetable.full_current)} A, {duration(timetable.time)} in all,"
        f" {figure(timetable.charge / AMPERE_HOUR)} A h"
    )


def lines(study: Study, timetable: Schedule, deposit: Deposit) -> list[str]:
    """Each current with its time and what has passed by its end; then what more or less takes."""
    found, passed = [], 0.0
    together = f" (all {deposit.copies} parts together)" if deposit.copies > 1 else ""
    for number, one in enumerate(timetable.steps):
        passed += one.charge
        last = number == len(timetable.steps) - 1
        found.append(step(_one(one, passed, last, together) + (_why(study) if number == 0 and not last else "")))
    if timetable.full_current < 0.99 * timetable.wanted_current:
        found.append(
            note(
                f"The job asks for {figure(timetable.wanted_current)} A. That current is never reached: use more wires,"
                " a better coat or a larger supply, whichever the findings name."
            )
        )
    run = timetable.full_current / (deposit.copies * deposit.area)
    more = duration(time_for(10 * UM, run, study.job.bath))
    found.append(
        note(
            f"{figure(timetable.charge / AMPERE_HOUR)} A h in all is the charge for the wanted thickness; the full"
            f" current is {density(run)}. Each 10 um more or less takes {more}."
        )
    )
    return found


def _why(study: Study) -> str:
    """What keeps the first current down."""
    coat: CoatResult | None = study.results.get("coat")
    return f" ({coat.safe_reason})" if coat is not None and coat.safe_reason else ""


def _one(one: ScheduleStep, passed: float, last: bool, together: str) -> str:
    ends = f"until {figure(passed / AMPERE_HOUR)} A h have passed since the start; then switch off" if last else ""
    said = f"Set {figure(one.current, 2 if not last else 3)} A{together} for {duration(one.time)}"
    if last:
        return f"{said}, {ends}."
    if one.covered is None or one.covered < SHOWN_COVERED:
        return f"{said}."
    if one.covered > ALL_COVERED:
        return f"{said}; by then metal covers the part."
    return f"{said}; by then metal covers about {figure(100 * one.covered, 1)} % of the part."
