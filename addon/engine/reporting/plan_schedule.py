"""The plan's lines on the currents to set, from the schedule of the study."""

from __future__ import annotations

from functools import reduce

from ..chemistry.deposit import duration, time_for
from ..schedule import Schedule, ScheduleStep
from ..units import AMPERE_HOUR, MM, UM
from . import reason_text
from .filled import filled, joined
from .plan_bench import Bench
from .plan_text import Section, density, figure, note, spanned

SHOWN_SPREAD_M = 1e-3  # m of metal round the wire: less cannot be seen yet
MIN_FULL_COVER_SHARE = 0.995
VOLTAGE_MARGIN = 1.25  # of the most that is expected: a poor contact then shows as a current that is not reached


def current(value: float) -> str:
    """The full current as it is set at the supply, everywhere with the same figures: to 0.01 A, small ones to two."""
    return figure(value, 3 if value >= 1 else 2)


def first(timetable: Schedule) -> str:
    """The current to begin with, A."""
    full = timetable.steps[0].current
    return current(full) if len(timetable.steps) == 1 else figure(full, 2)


def charge(value: float) -> str:
    """A charge in A h as it is read."""
    return figure(value / AMPERE_HOUR, 3)


def summary(timetable: Schedule) -> str:
    """The whole run in a phrase: largest current, time and charge."""
    return filled(
        "up to {current} A, {time} in all, {charge} A h"
        if len(timetable.steps) > 1
        else "{current} A, {time} in all, {charge} A h",
        current=current(timetable.full_current),
        time=duration(timetable.time),
        charge=charge(timetable.charge),
    )


def start(timetable: Schedule) -> str:
    """The currents before the last one, in order; there is at least one."""
    lines = [_step_text(step) for step in timetable.steps[:-1]]
    return reduce(lambda first, second: filled("{first}, then {then}", first=first, then=second), lines)


def _step_text(schedule_step: ScheduleStep) -> str:
    figures = {"current": figure(schedule_step.current, 2), "time": duration(schedule_step.time)}
    if schedule_step.covered is not None and schedule_step.covered > MIN_FULL_COVER_SHARE:
        return filled("{current} A for {time}, color all over", **figures)
    if schedule_step.spread is not None and schedule_step.spread >= SHOWN_SPREAD_M:
        spread = figure(schedule_step.spread / MM, 2)
        return filled("{current} A for {time}, color {spread} mm from the wire", spread=spread, **figures)
    return filled("{current} A for {time}", **figures)


def milestones(bench: Bench) -> str:
    """When half and nine tenths of the part are covered, and which place is the last."""
    coat = bench.coat
    if coat is None or len(coat.milestones) < 2:
        return ""
    half, most = coat.milestones[:2]
    lines: list[str] = []
    if half is not None and (most is None or duration(half) != duration(most)):
        lines.append(filled("half of it after {time}", time=duration(half)))
    if most is not None:
        lines.append(filled("nine tenths after {time}", time=duration(most)))
    if coat.last_covered is not None and lines:
        lines.append(filled("last at {place}", place=bench.where(coat.last_covered)))
    return joined(lines, ", ")


def table(bench: Bench) -> Section | None:
    """Each current with its time and the charge passed by its end; then time for more or less metal."""
    timetable, deposit = bench.schedule, bench.deposit
    if timetable is None or deposit is None:
        return None
    lines, passed = [], 0.0
    for number, step in enumerate(timetable.steps, 1):
        passed += step.charge
        last = number == len(timetable.steps)
        lines.append(
            note(
                filled(
                    "{number}. {current} A for {time}: {charge} A h passed.",
                    number=number,
                    current=current(step.current) if last else figure(step.current, 2),
                    time=duration(step.time),
                    charge=charge(passed) if last else figure(passed / AMPERE_HOUR, 2),
                )
            )
        )
    if bench.coat is not None and len(timetable.steps) > 1:
        lines.append(note(filled("The start is low: {reason}.", reason=reason_text.text(bench.coat.safe_reason))))
    run = timetable.full_current / (deposit.copies * deposit.area)
    more = duration(time_for(10 * UM, run, bench.job.bath))
    full = "The full current is {density}. Each 10 um more or less takes {time}."
    lines.append(note(filled(full, density=density(run), time=more)))
    return Section("The currents, one by one", tuple(lines))


def voltage_limit(bench: Bench) -> float:
    """V to set as the limit: what is expected with a margin, no more than the supply gives."""
    field_, coat, supply = bench.field, bench.coat, bench.job.supply
    if field_ is None:
        return supply.voltage
    span = bench.span("field.cell_voltage_V") or (field_.voltage, field_.voltage)
    highest = max([field_.voltage, span[1], *(() if coat is None else (stage.voltage for stage in coat.steps))])
    return min(supply.voltage, VOLTAGE_MARGIN * highest)


def volts(bench: Bench) -> str:
    """The voltage to expect at the full current, as a range where there is one."""
    if bench.field is None:
        return ""
    span = bench.span("field.cell_voltage_V")
    return figure(bench.field.voltage, 2) if span is None else spanned(*span)
