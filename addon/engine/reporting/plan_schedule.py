"""The plan's words on the currents to set, from the one schedule of the study."""

from __future__ import annotations

from ..chemistry.deposit import duration, time_for
from ..schedule import Schedule, ScheduleStep
from ..units import AMPERE_HOUR, MM, UM
from . import reason_text
from .plan_bench import Bench
from .plan_text import Section, density, figure, note

SHOWN_SPREAD_M = 1e-3  # of metal round the wire, below which nothing can be seen yet
MIN_FULL_COVER_SHARE = 0.995


def current(value: float) -> str:
    """The full current as it is set at the supply, everywhere with the same figures."""
    return figure(value, 3)


def first(timetable: Schedule) -> str:
    """The current to begin with, A."""
    one = timetable.steps[0].current
    return current(one) if len(timetable.steps) == 1 else figure(one, 2)


def charge(value: float) -> str:
    """A charge in A h as it is read."""
    return figure(value / AMPERE_HOUR, 3)


def summary(timetable: Schedule) -> str:
    """The whole run in a phrase: the most that flows, for how long, and the charge."""
    start = "up to " if len(timetable.steps) > 1 else ""
    full = current(timetable.full_current)
    return f"{start}{full} A, {duration(timetable.time)} in all, {charge(timetable.charge)} A h"


def start(timetable: Schedule) -> str:
    """The currents before the last one, in turn."""
    return ", then ".join(_one(one) for one in timetable.steps[:-1])


def _one(one: ScheduleStep) -> str:
    said = f"{figure(one.current, 2)} A for {duration(one.time)}"
    if one.covered is not None and one.covered > MIN_FULL_COVER_SHARE:
        return f"{said}, color all over"
    if one.spread is not None and one.spread >= SHOWN_SPREAD_M:
        return f"{said}, color {figure(one.spread / MM, 2)} mm from the wire"
    return said


def milestones(bench: Bench) -> str:
    """When half and nine tenths of the part are covered, and which place is the last."""
    coat = bench.coat
    if coat is None or len(coat.milestones) < 2:
        return ""
    half, most = coat.milestones[:2]
    found = [f"half of it after {duration(half)}"] * (half is not None) if half is not None else []
    found += [f"nine tenths after {duration(most)}"] if most is not None else []
    last = f", last at {bench.where(coat.last_covered)}" if coat.last_covered is not None and found else ""
    return f": {', '.join(found)}{last}" if found else ""


def table(bench: Bench) -> Section | None:
    """Each current with its time and what has passed by its end; then what more or less takes."""
    timetable, deposit = bench.schedule, bench.deposit
    if timetable is None or deposit is None:
        return None
    lines, passed = [], 0.0
    for number, one in enumerate(timetable.steps, 1):
        passed += one.charge
        at_end = f"{charge(passed) if number == len(timetable.steps) else figure(passed / AMPERE_HOUR, 2)} A h passed"
        set_to = current(one.current) if number == len(timetable.steps) else figure(one.current, 2)
        lines.append(note(f"{number}. {set_to} A for {duration(one.time)}: {at_end}."))
    if bench.coat is not None and len(timetable.steps) > 1:
        lines.append(note(f"The start is low: {reason_text.text(bench.coat.safe_reason)}."))
    run = timetable.full_current / (deposit.copies * deposit.area)
    more = duration(time_for(10 * UM, run, bench.job.bath))
    lines.append(note(f"The full current is {density(run)}. Each 10 um more or less takes {more}."))
    return Section("The currents, one by one", tuple(lines))
