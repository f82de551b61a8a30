"""Analyses of the current: deposit, wire positions, coat, current distribution, and what follows from these."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..chemistry import deposit
from ..coat import contact
from ..coat import study as coat
from ..coat.film import sheet_resistance_in_bath
from ..coat.result import CoatResult
from ..errors import InputError
from ..field import cut, layouts, rack, ranges
from ..field import solve as field_room
from ..field.problem import Control, NotSolvedError
from ..field.ranges import Ranges
from ..field.result import CURRENT_TOLERANCE, Field
from ..field.solved import Solved
from ..filled import filled
from ..mesh.tracer import Tracer
from ..progress import Progress, subrange
from ..settings.job import Job
from .printed import losses
from .study import LEFT_OUT, Study


def deposit_of(study: Study, tracer: Tracer) -> deposit.Deposit:
    """Current, time and metal of the wanted thickness."""
    job = study.job
    return deposit.estimate(study.surface, job.target, job.bath, job.supply, copies(job))


def contacts_of(study: Study, tracer: Tracer) -> Progress[contact.Contacts]:
    """Ranked places for the wire, with the part as it hangs. Raises InputError where nothing is plated."""
    job = study.hung
    seen, kept_dry = study.results.openness, study.gas_as_hung
    return contact.rank(
        study.surface,
        up=job.part.up,
        sheet_resistance=sheet_resistance_in_bath(job),
        density=job.target.density,
        openness=seen.openness if seen else None,
        dry=kept_dry.face if kept_dry else None,
    )


def coat_of(study: Study, tracer: Tracer) -> Progress[CoatResult]:
    """Voltage lost along the coat in the tank, and the currents to start with.

    Raises InputError where a wire of the job does not touch the coat.
    """
    field = study.results.field_at_target
    contacts = study.results.contacts
    return coat.run(
        study.surface,
        study.in_tank,
        contacts=contacts,
        density=field.density if field else None,
        most=field.part_currents[0] if field and field.limited_by_supply else None,
        meshes=study.bodies,
        level=field.level if field else None,
    )


def field_at_target_of(study: Study, tracer: Tracer) -> Progress[Field]:
    """The current distribution at the wanted current.

    Raises InputError where the tank cannot stand as it is, or no solution is found.
    """
    lost = yield from subrange(0.0, 0.05, losses(study))
    run = field_room.run(study.surface, study.in_tank, meshes=study.bodies, wire_drop=lost)
    return (yield from subrange(0.05, 1.0, run))


def field_of(study: Study, tracer: Tracer) -> Field | Progress[Field]:
    """The current distribution at the wanted current, or at as much of it as the coat carries, with the coat's wires.

    Raises NotSolvedError where there is none at the wanted current.
    """
    wanted, coated, contacts = study.results.field_at_target, study.results.coat, study.results.contacts
    if wanted is None:
        raise NotSolvedError(study.reasons.get("field_at_target", LEFT_OUT), study.refusals.get("field_at_target", ()))
    if coated is None or contacts is None or study.job.supply.hold is not None:
        return wanted  # a voltage that is held is held from the start, whatever the coat
    most = (coated.full_current or np.inf) * len(wanted.part_currents)
    slower = most < (1.0 - CURRENT_TOLERANCE) * sum(wanted.part_currents)
    if not slower and not coated.retried:
        return wanted
    return _at_current(study, contacts, wanted, coated, min(most, sum(wanted.part_currents)))


def _at_current(
    study: Study, contacts: contact.Contacts, wanted: Field, coated: CoatResult, current: float
) -> Progress[Field]:
    surface, job = study.surface, study.in_tank
    lost = yield from subrange(0.0, 0.2, coat.half_grown(surface, job, contacts, coated.pads))
    again = field_room.at_current(surface, job, wanted, current, meshes=study.bodies, wire_drop=lost)
    return (yield from subrange(0.2, 1.0, again))


def ranges_of(study: Study, tracer: Tracer) -> Progress[Ranges]:
    """How uncertain the results of the field are."""
    return ranges.run(study.surface, study.job, study.results.field)


def potential_of(study: Study, tracer: Tracer) -> Progress[Solved]:
    """The solution that cross-sections are drawn from, at preview resolution. Raises InputError as the field does."""
    lost = yield from subrange(0.0, 0.05, losses(study))
    job, field = study.in_tank, study.results.field
    if field is not None and field.control == Control.COAT:
        density = sum(field.part_currents) / len(field.part_currents) / float(study.surface.plated_area.sum())
        job = replace(job, target=replace(job.target, density=density))
    run = field_room.solved(study.surface, job, meshes=study.bodies, wire_drop=lost, level="preview")
    return (yield from subrange(0.05, 1.0, run))


def cut_of(study: Study, tracer: Tracer) -> Progress[cut.Cut]:
    """The field on a plane through the tank. Raises InputError where there is no potential."""
    solution = study.results.potential
    if solution is None:
        raise InputError(study.reasons["potential"])
    return cut.run(study.surface, solution, study.job.cut)


def layouts_of(study: Study, tracer: Tracer) -> Progress[layouts.Comparison]:
    """Layouts tried for a more even deposit. Raises InputError where the tank cannot stand as it is."""
    return layouts.compare(study.surface, study.in_tank, study.bodies)


def rack_of(study: Study, tracer: Tracer) -> Progress[rack.RackPlan]:
    """The spacing of the copies. Raises InputError where fewer than two are asked for."""
    wanted = study.job.rack
    if wanted.suggest < 2:
        raise InputError(filled("{rack.suggest}: say how many copies are to hang in the tank, two or more"))
    return rack.suggest(study.surface, study.in_tank, wanted.suggest, wanted.tolerance, study.bodies)


def copies(job: Job) -> int:
    """How many parts hang in the tank: where the job says so, else as many as it asks for."""
    return len(job.rack.positions) or max(job.rack.suggest, 1)
