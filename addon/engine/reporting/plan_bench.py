"""The inputs of a plan, gathered once: results, schedule, recipe, and the places of findings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from .. import handling as handlings
from .. import ranges
from .. import schedule as schedules
from ..chemistry import bath as baths
from ..chemistry import mixing
from ..errors import InputError
from ..findings import Code, Finding, Severity, each_fact_once
from ..study import findings as study_findings
from ..tank.summary import summary
from . import finding_text, words
from .filled import filled, sentence, unstopped
from .plan_text import point

if TYPE_CHECKING:
    from ..chemistry.deposit import Deposit
    from ..coat.contact import Contacts
    from ..coat.result import CoatResult
    from ..field.result import Field
    from ..handling import Handling
    from ..hanging.result import Hanging
    from ..hanging.suggestion import Suggestion
    from ..printing.prepare import Preparation
    from ..schedule import Schedule
    from ..settings.job import Job
    from ..study import Study
    from ..tank.summary import TankSummary
    from ..trapping.gas import Drainage, Gas

AT_PLACE = "{point} ({place})"
SPOILING = (Severity.STOPS, Severity.SPOILS)

# Code of a finding -> the step (or part of the appendix) that it stands at, where it neither stops nor spoils
HOMES: dict[Code, str] = {
    **dict.fromkeys((Code.INFILL_AIR, Code.VOID_AIR), "seal"),
    **dict.fromkeys((Code.BODIES_APART, Code.WIRES_TOO_FEW, Code.COAT_TOO_POOR), "wires"),
    **dict.fromkeys((Code.CONTACT_HOT_IN_AIR, Code.GAS_SWINGS), "enter"),
    **dict.fromkeys((Code.BATH_TEMPERATURE, Code.BATH_SATURATED), "bath"),
    **dict.fromkeys((Code.SUPPLY_TOO_SMALL, Code.SUPPLY_TOO_COARSE), "plate"),
    **dict.fromkeys((Code.DRAW_TOO_LARGE, Code.NEAR_LIMITING), "plate"),
    Code.COAT_LIMITS_CURRENT: "plate",
    Code.SUPPLY_VOLTAGE_TOO_SMALL: "connect",
    Code.HELD_VOLTAGE_OFF: "connect",
    Code.BUBBLE_PRONE: "move",
    Code.BETTER_WAY_UP: "enter",
    Code.LIQUID_HELD: "lift",
    Code.ACID_RESTRICTED: "cautions",
    **dict.fromkeys((Code.GAS_TRAPPED, Code.OPENINGS_NARROW, Code.WALL_THIN, Code.PURPOSE_THIN), "model"),
    **dict.fromkeys((Code.RACK_GAP_UNTRIED,), "rack"),
    **dict.fromkeys((Code.PLATES_FAR_APART, Code.READINGS_NEGATIVE, Code.READINGS_SCATTER), "conductivity"),
}
# Where what stops or spoils belongs: that step points back to it
STEPS_OF_SPOILING: dict[Code, str] = {
    Code.COAT_HOT: "start",
    Code.FLOATS: "enter",
    Code.GAS_LIFTS: "enter",
    Code.COAT_UNWIRED: "wires",
    Code.WIRE_OFF_PART: "wires",
    Code.ZINC_DISPLACED: "coat",
    Code.BATH_SATURATED: "bath",
    Code.ANODE_OVERLOADED: "bath",
    **dict.fromkeys((Code.ABOVE_WINDOW, Code.BELOW_WINDOW, Code.DULL, Code.BURNT), "plate"),
}


@dataclass(frozen=True)
class Bench:
    """study : its results, unpacked: None where an analysis has none
    recipe, mix, procedure : of the batch, None with `no_batch`, the reason, where it cannot be mixed
    substances : names of what is in the bath; findings : all, most severe first
    """

    study: Study
    deposit: Deposit | None
    schedule: Schedule | None
    coat: CoatResult | None
    contacts: Contacts | None
    field: Field | None
    hung: Hanging | None
    gas: Gas | None
    drainage: Drainage | None
    prepared: Preparation | None
    handling: Handling | None
    tank: TankSummary | None
    recipe: baths.Recipe | None
    mix: baths.Mix | None
    procedure: mixing.Procedure | None
    no_batch: str
    substances: frozenset[str]
    findings: tuple[Finding, ...]

    @classmethod
    def of(cls, study: Study) -> Bench:
        """What the pages of a plan share, gathered once from a study."""
        job, results = study.job_used, study.results
        recipe, mix, procedure, why = _batch(job)
        return cls(
            study=study,
            deposit=results.deposit,
            schedule=schedules.of_study(study),
            coat=results.coat,
            contacts=results.contacts,
            field=results.field,
            hung=results.hanging,
            gas=study.gas_as_hung,
            drainage=study.drainage_as_hung,
            prepared=results.preparation,
            handling=handlings.of_study(study),
            tank=None if study.surface is None else summary(study.surface, study.in_tank, study.bodies),
            recipe=recipe,
            mix=mix,
            procedure=procedure,
            no_batch=why,
            substances=frozenset(item.name for item in recipe.ingredients) if recipe is not None else frozenset(),
            findings=tuple(study_findings.of_study(study)),
        )

    @property
    def job(self) -> Job:
        """The job including assumed values."""
        return self.study.job_used

    @property
    def up(self) -> tuple[float, float, float]:
        """(3,) the way up that the part hangs, model axes."""
        return self.study.hung.part.up

    @property
    def hangs(self) -> Suggestion | None:
        """The way up that the part hangs, with what it costs and what holds it; None where nobody judged it."""
        if self.hung is None:
            return None
        as_set = None if self.study.results.hung is not None else self.hung.as_set
        return as_set or (self.hung.suggestions[0] if self.hung.suggestions else None)

    @property
    def metal_part(self) -> bool:
        """Whether the part itself conducts: no coat."""
        return self.job.coat.sheet_resistance == 0

    @property
    def stopped(self) -> bool:
        """Whether something stops the job, so that there is no schedule."""
        return self.deposit is not None and self.schedule is None

    @property
    def masked(self) -> bool:
        """Whether faces that the bath wets are to stay bare."""
        surface = self.study.surface
        return bool((surface.wetted & ~surface.plated).any())

    @property
    def acid(self) -> bool:
        """Whether the bath takes sulfuric acid."""
        return baths.ACID in self.substances

    @property
    def copies(self) -> int:
        """How many parts are plated at once."""
        return 1 if self.deposit is None else self.deposit.copies

    @property
    def unbroken(self) -> bool:
        """Whether the current must not pause: nickel turns passive without it, and further deposit peels off."""
        return self.job.bath.metal == "nickel"

    @property
    def full_current(self) -> float | None:
        """A, the largest current of the schedule, used throughout the plan."""
        return None if self.schedule is None else self.schedule.full_current

    @property
    def charge(self) -> float | None:
        """C in all, of all parts together."""
        return None if self.schedule is None else self.schedule.charge

    def spoiling(self) -> list[Finding]:
        """What stops the job or spoils the part, each fact once."""
        return self._once(each_fact_once(finding for finding in self.findings if finding.severity in SPOILING))

    def at(self, home: str) -> list[str]:
        """The sentences of the other findings that stand at a step."""
        findings = (
            finding for finding in self.findings if finding.severity not in SPOILING and HOMES.get(finding.code) == home
        )
        return [sentence(finding_text.text(finding)) for finding in self._once(findings)]

    def elsewhere(self) -> list[Finding]:
        """The findings that neither spoil nor stand at a step that this plan has."""
        homes, listed = self._homes(), {id(finding) for finding in each_fact_once(self.findings)}
        unplaced = (finding for finding in self.findings if finding.severity not in SPOILING and id(finding) in listed)
        return self._once(finding for finding in unplaced if HOMES.get(finding.code) not in homes)

    def _homes(self) -> set[str]:
        """The steps and parts that this plan has, of those that findings stand at."""
        homes = {"model", "cautions", "rack", "conductivity"}
        if not self.stopped:
            homes |= {"wires", "bath"} | (set() if self.metal_part else {"seal"})
        if self.schedule is not None:
            homes |= {"connect", "enter", "plate", "move", "lift"}
        return homes

    def where(self, spot: ArrayLike) -> str:
        """A place in mm and in words."""
        place = words.place(self.study.surface.bounds, self.up, spot)
        return filled(AT_PLACE, point=point(np.asarray(spot, dtype=float)), place=place)

    def missing(self, analysis: str, quantity: str) -> str:
        """Why a part of the plan has no figure."""
        reason = self.study.reasons.get(analysis, "not part of this study")
        return filled("{what}: not computed ({reason}).", what=quantity, reason=unstopped(reason))

    def span(self, key: str) -> tuple[float, float] | None:
        """The range of a figure of the report, in the unit of its key; None if none was computed."""
        return ranges.of_study(self.study).get(key)

    @staticmethod
    def _once(findings: Iterable[Finding]) -> list[Finding]:
        return list({finding_text.text(finding): finding for finding in findings}.values())


def _batch(
    job: Job,
) -> tuple[baths.Recipe | None, baths.Mix | None, mixing.Procedure | None, str]:
    """Recipe, batch and steps; with the reason where one of them cannot be had."""
    recipe = mix = None
    try:
        recipe = baths.recipe(job.bath)
        mix = baths.mix(recipe, baths.batch_volume(job.batch, job.tank), job.batch.acid)
        return recipe, mix, mixing.procedure(mix, job.bath.temperature), ""
    except InputError as fault:
        return recipe, None, None, str(fault) if not fault.args else fault.args[0]
