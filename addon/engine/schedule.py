"""The schedule to set at the supply: a list of currents whose charges add up to the wanted charge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from .chemistry import cautions
from .chemistry.deposit import Deposit
from .coat.ramp import Stage
from .field.result import CURRENT_TOLERANCE, Field
from .findings import Severity
from .units import MINUTE

if TYPE_CHECKING:
    from .study import Study

# for an unknown coat: a quarter, then half, of the full current (common practice, no source)
GENTLE_START = ((0.25, 10 * MINUTE), (0.5, 5 * MINUTE))


@dataclass(frozen=True)
class ScheduleStep:
    """current : A of the supply, all copies and thieves together; time : s; covered : share of the plated area that is
    closed over with metal at its end; spread : m from the nearest wire that metal has reached then; None where nobody
    computed them."""

    current: float
    time: float
    covered: float | None
    spread: float | None = None

    @property
    def charge(self) -> float:
        """C."""
        return self.current * self.time


@dataclass(frozen=True)
class Schedule:
    """steps : in order; full_current : A, the most that will flow; wanted_current : A that the job asks for
    limited_by : what keeps the full current below the wanted one: "" (nothing), "supply", "burn" or "warmth"
    thief_share : of every current, that flows into thieves and makes no metal on the part
    """

    steps: tuple[ScheduleStep, ...]
    full_current: float
    wanted_current: float
    limited_by: str = ""
    thief_share: float = 0.0

    @property
    def charge(self) -> float:
        """C of all steps: that of the wanted thickness, and of what thieves take."""
        return sum(step.charge for step in self.steps)

    @property
    def time(self) -> float:
        """s of all steps."""
        return sum(step.time for step in self.steps)

    def time_to(self, charge: float) -> float:
        """s until a charge in C has passed that is no less than that of the steps, the last step's current going on."""
        return self.time + (charge - self.charge) / self.steps[-1].current


def schedule(deposit: Deposit, stages: Sequence[Stage] | None, held_current: float | None = None) -> Schedule:
    """The steps for all copies of a part.

    stages : of one part with its coat, their charges adding up to its charge; None: not computed
    held_current : A of all copies that the supply's voltage makes flow, in place of the current that was asked for: no
        step has more, and those that would last as much longer
    """
    charge = deposit.copies * deposit.charge
    full = held_current or deposit.copies * deposit.supply_density * deposit.area
    if stages is None:
        steps = _gentle(full, charge) if held_current is None else [ScheduleStep(full, charge / full, None)]
    else:
        steps = [
            ScheduleStep(deposit.copies * stage.current, stage.seconds, stage.covered, stage.spread) for stage in stages
        ]
        if held_current is not None:
            steps = [_capped(step, held_current) for step in steps]
    steps = [step for step in steps if step.time > 0]
    most = max(step.current for step in steps)
    return Schedule(tuple(_closed(_merged(steps), charge)), most, deposit.total_current)


def of_study(study: Study) -> Schedule | None:
    """The schedule of a study; None where it has no deposit, or where something stops the job: a plastic that is soft
    in the bath, a coat on which there is no start, a current that the supply cannot set."""
    deposit, coat, field = study.results.deposit, study.results.coat, study.results.field
    if deposit is None or cautions.plastic(study.job) or (coat is not None and not coat.steps):
        return None
    if any(finding.severity == Severity.STOPS for finding in deposit.findings):
        return None
    hold = study.job.supply.hold is not None
    held = sum(field.part_currents) if field is not None and (hold or field.limited_by_supply) else None
    timetable = schedule(deposit, coat.steps if coat is not None and not (hold and held) else None, held)
    total_current = held or deposit.copies * deposit.supply_density * deposit.area
    if coat is not None and not hold and timetable.full_current < (1.0 - CURRENT_TOLERANCE) * total_current:
        timetable = replace(timetable, limited_by=coat.held)
    elif deposit.supply_density < deposit.density or (held is not None and not hold):
        timetable = replace(timetable, limited_by="supply")
    return timetable if field is None else with_thieves(timetable, field)


def with_thieves(timetable: Schedule, field: Field) -> Schedule:
    """The schedule with the thieves' current added: they are on the parts' wire, and the supply gives both."""
    if not field.thief_current > 0:
        return timetable
    share = field.thief_current / (field.thief_current + sum(field.part_currents))
    more = 1.0 / (1.0 - share)
    steps = tuple(replace(step, current=more * step.current) for step in timetable.steps)
    return replace(
        timetable,
        steps=steps,
        full_current=more * timetable.full_current,
        wanted_current=more * timetable.wanted_current,
        thief_share=share,
    )


def _capped(step: ScheduleStep, most: float) -> ScheduleStep:
    """A step limited to a current in A, and lengthened accordingly."""
    current = min(step.current, most)
    return replace(step, current=current, time=step.charge / current)


def _gentle(full: float, charge: float) -> list[ScheduleStep]:
    """The start by rule, then the full current until the charge has passed."""
    steps, passed = [], 0.0
    for share, time in GENTLE_START:
        time = min(time, (charge - passed) / (share * full))
        steps.append(ScheduleStep(share * full, time, None))
        passed += steps[-1].charge
    return [*steps, ScheduleStep(full, max(charge - passed, 0.0) / full, None)]


def _merged(steps: Sequence[ScheduleStep]) -> list[ScheduleStep]:
    """Consecutive steps of equal current merged."""
    merged: list[ScheduleStep] = []
    for step in steps:
        if merged and abs(step.current / merged[-1].current - 1.0) < CURRENT_TOLERANCE:
            last = merged.pop()
            time = last.time + step.time
            step = ScheduleStep((last.charge + step.charge) / time, time, step.covered, step.spread)
        merged.append(step)
    return merged


def _closed(steps: list[ScheduleStep], charge: float) -> list[ScheduleStep]:
    """The last step adjusted to complete the charge, because stages are integrated in finite steps of time."""
    passed = sum(step.charge for step in steps[:-1])
    last = steps[-1]
    return [*steps[:-1], replace(last, time=max(charge - passed, 0.0) / last.current)]
