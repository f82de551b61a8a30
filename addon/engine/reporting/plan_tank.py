"""The plan at the tank: wire and hanging, the batch and the anode, current and time."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from .. import schedule as schedules
from ..chemistry import bath as baths
from ..chemistry import cautions, conductivity
from ..chemistry import mixing as mixing_steps
from ..chemistry.deposit import duration
from ..errors import InputError
from ..trapping.pockets import MIN_VOLUME_WORTH_A_HOLE_M3
from ..units import CM2, ML, MM
from . import plan_mixing, plan_rack, plan_schedule, plan_wire, words
from .finding_text import texts
from .plan_before import calm, missing, where
from .plan_text import Section, area, figure, length, mass, note, point, step, temperature, thickness

if TYPE_CHECKING:
    from ..analyses import Study
    from ..chemistry.deposit import Deposit
    from ..coat.contact import Contacts
    from ..coat.result import CoatResult
    from ..field.result import Field
    from ..hanging.rank import Pair, Suggestion
    from ..hanging.suggest import Hanging
    from ..settings.bath import Bath
    from ..trapping.gas import Drainage, Gas

VOLTAGE_MARGIN = 1.25  # of what is expected: a poor contact then shows as a current that is not reached


def hanging(study: Study) -> Section:
    """Where the wire goes, which way up the part hangs, how it is kept there."""
    lines = [step(f"Wire: {_wire(study)}")]
    coat: CoatResult | None = study.results.get("coat")
    lines += [] if coat is None else [note(text) for text in texts(calm(coat.findings))]
    hung: Hanging | None = study.results.get("hanging")
    if hung is None:
        lines.append(note(missing(study, "hanging", "Ways to hang it")))
        return Section("Wire and hanging", tuple(lines))
    as_set = hung.as_set if "hung" not in study.results else None
    if as_set is not None or hung.suggestions:
        lines.append(step(_best(as_set or hung.suggestions[0])))
    lines.append(note(_gas_and_bath(study)))
    if hung.pair is not None and hung.pair.pays:
        lines += _in_turn(hung.pair)
    if hung.ballast > 0:
        until = f" until {thickness(hung.sinks_thickness)} are on it" if hung.sinks_thickness else ""
        lines.append(
            step(f"Hang {mass(hung.ballast)} of copper below it, lacquered all over: the print alone floats{until}.")
        )
    lines += [note(text) for text in texts(calm(hung.findings))]
    if len(study.job.rack.positions) > 1:
        lines.append(note(_rack(study)))
    lines += plan_rack.spacing(study)
    return Section("Wire and hanging", tuple(lines))


def _rack(study: Study) -> str:
    """The copies, and what of the current each takes."""
    count = len(study.job.rack.positions)
    field: Field | None = study.results.get("field")
    if field is None:
        return f"{count} parts hang in the tank, as the job places them."
    mean = sum(field.part_currents) / count
    shares = words.listed([f"{100 * current / mean:.0f}" for current in field.part_currents])
    return (
        f"{count} parts hang in the tank, as the job places them, numbered as there. Of the mean current they take"
        f" {shares}"
        " %: where that differs by more than you can bear, space them wider or plate fewer at once."
    )


def _wire(study: Study) -> str:
    """The contact that was asked for, else the best suggestion, else a rule for choosing one."""
    coat: CoatResult | None = study.results.get("coat")
    if coat is not None and coat.wires:
        return plan_wire.wires(coat)
    given = [where(study, wire.point) for wire in study.job.wires if wire.point is not None]
    if given:
        pad = length(study.job.wires[0].pad)
        return f"as given, at {words.listed(given)}, pad {pad}. Bare copper wire, tight on the coat."
    contacts: Contacts | None = study.results.get("contacts")
    if contacts is None or not contacts.ranked:
        return (
            "on a face that does not show, easy to reach, outside every hollow, near the middle of the part. Bare"
            " copper wire, tight on the coat, a dab of the coat over the joint."
        )
    needed = contacts.ranked[: contacts.pieces]
    at = words.listed([f"{point(one.point)} ({one.place})" for one in needed])
    why = "; ".join(needed[0].reasons)
    more = f" The coat is in {contacts.pieces} pieces: a wire to each." if contacts.pieces > 1 else ""
    return f"at {at}: {why}.{more} Bare copper wire, tight on the coat, a dab of the coat over the joint."


def _gas_and_bath(study: Study) -> str:
    """What gas and liquid do in the way up that is hung, and what they would do as modeled."""
    hung = _traps(study.as_hung("gas"), study.as_hung("drainage"))
    if hung is None:
        return missing(study, "gas", "Gas for this way up")
    if not study.turned:
        return f"Hung as modeled {_toward(study.hung.part.up)}, the part {hung}."
    modeled = _traps(study.results.get("gas"), study.results.get("drainage"))
    before = f" As modeled {_toward(study.job.part.up)} it {modeled}." if modeled is not None else ""
    return f"This way up the part {hung}.{before} Thickness, gas and current below are of this way up."


def _traps(gas: Gas | None, drainage: Drainage | None) -> str | None:
    if gas is None or drainage is None:
        return None
    traps = (
        f"traps {figure(gas.trapped_volume / ML, 2)} mL of gas over {area(gas.trapped_area)}"
        if gas.trapped_volume >= MIN_VOLUME_WORTH_A_HOLE_M3
        else "traps no gas"
    )
    holds = (
        f"holds {figure(drainage.held_volume / ML, 2)} mL when lifted out"
        if drainage.held_volume >= MIN_VOLUME_WORTH_A_HOLE_M3
        else "drains"
    )
    return f"{traps} and {holds}"


def _in_turn(pair: Pair) -> list[str]:
    """The second way up, as a step of its own with its own wires."""
    first, second = pair.first, pair.second
    left = f"; {area(pair.missed)} stay spoilt even so" if pair.missed > 0.01 * CM2 else ""
    wires = f"; wires at {words.listed([point(at) for at in kept.points])}" if (kept := second.hold) else ""
    return [
        note(
            f"Two ways up in turn leave {area(pair.gain)} less spoilt{left}: begin {words.way_up(first.up)}"
            f" {_toward(first.up)}."
        ),
        step(
            f"At half time switch off, lift it out, rinse, and hang it {words.way_up(second.up)}"
            f" {_toward(second.up)}{wires}."
        ),
    ]


def _best(one: Suggestion) -> str:
    room = "" if one.fits else " It does not fit the tank so."
    return f"Hang it {words.way_up(one.up)} {_toward(one.up)}: {'; '.join(one.reasons)}.{room}"


def _toward(up: Iterable[float]) -> str:
    """A direction as the model's axes have it."""
    x, y, z = (
        f"{value:.2f}".rstrip("0").rstrip(".").replace("-0", "0", 1) if abs(value) < 5e-3 else f"{value:.2g}"
        for value in up
    )
    return f"(model direction {x}, {y}, {z} up)"


def mixing(study: Study) -> Section:
    """The batch and the anode."""
    job = study.job
    lines: list[str] = []
    try:
        recipe = baths.recipe(job.bath)
        lines += _batch(study, recipe)
    except InputError as fault:
        return Section("Bath and anode", (note(f"No batch: {fault}."),))
    deposit: Deposit | None = study.results.get("deposit")
    if deposit is not None:
        lines += _anode(study, recipe, deposit)
    lines += [note(text) for text in texts(calm(cautions.temperature(job.bath)))]
    lines.append(_conductivity(job.bath))
    return Section("Bath and anode", tuple(lines))


def _batch(study: Study, recipe: baths.Recipe) -> list[str]:
    job = study.job
    wanted = baths.batch_volume(job.batch, job.tank)
    try:
        mix = baths.mix(recipe, wanted, job.batch.acid)
        steps = mixing_steps.procedure(mix, job.bath.temperature)
    except InputError as fault:
        return [note(f"No batch: {fault}.")]
    lines = plan_mixing.lines(job.bath.name, mix, steps)
    if recipe.brightener == 0 and job.bath.metal == "copper":
        lines.append(note("Without a brightener the deposit is coarse and matt."))
    return lines


def _conductivity(bath: Bath) -> str:
    """How sure the conductivity is, and how to measure it."""
    if bath.measured is None:
        return step(
            f"Measure the conductivity ({figure(bath.conductivity)} S/m are taken): two clean plates of the anode's"
            f" metal,"
            " facing each other a few cm apart; read the volts at two currents or more, clearly apart. The job"
            " takes area,"
            " gap and readings under [bath.measured]; the panel has Measure Conductivity."
        )
    found = conductivity.of(bath.measured)
    said = "".join(f" {text}" for text in texts(found.findings))
    return note(
        f"Conductivity {figure(found.value)} S/m, sure to {figure(100 * found.uncertainty / found.value, 2)} %,"
        f" from your"
        f" {len(bath.measured.currents)} readings between plates.{said}"
    )


def _anode(study: Study, recipe: baths.Recipe, deposit: Deposit) -> list[str]:
    bath = study.job.bath
    current = deposit.copies * deposit.supply_density * deposit.area
    size = baths.anode_size(recipe, bath, deposit.copies * deposit.area, current)
    least = max(size.low, size.least)
    most = max(size.high, least)
    side = math.sqrt(least)
    return [
        step(
            f"Anode: {recipe.anode}; {area(least)} to {area(most)} of it (least: {figure(side / MM, 2)} mm square),"
            f" half on either side of the part, no nearer than the part is wide. It loses"
            f" {mass(deposit.copies * deposit.mass)}."
        ),
        step(f"Bath at {temperature(bath.temperature)}; {recipe.agitation or 'move the solution gently'}."),
    ]


def running(study: Study) -> Section:
    """The order of the hands, voltage limit, the schedule of currents, when to move the part."""
    deposit: Deposit | None = study.results.get("deposit")
    timetable = schedules.of_study(study)
    if deposit is None or timetable is None:
        return Section("Current and time", (note(missing(study, "deposit", "Current")),))
    lines = [note(text) for text in texts(calm(deposit.findings))]
    field: Field | None = study.results.get("field")
    lines += [] if field is None else [note(text) for text in texts(calm(field.findings))]
    lines += [
        step(
            "Supply OFF: anode to PLUS, part to MINUS. Hang the part with the wire's contact under the liquid, rock it"
            " until no bubble clings, and switch on at once."
        ),
        step(_voltage(study)),
        *plan_schedule.lines(study, timetable, deposit),
        step(_moving(study, timetable.time)),
    ]
    lines += _brightener(study, timetable.charge)
    return Section("Current and time", tuple(lines))


def _voltage(study: Study) -> str:
    """The limit to set, and what to expect."""
    field: Field | None = study.results.get("field")
    if study.job.supply.hold is not None:
        held = study.job.supply.hold
        return f"Hold {figure(held)} V between anode and wire; set the current limit to what the schedule says."
    if field is None:
        most = figure(study.job.supply.voltage)
        return f"Set the voltage limit low, and raise it until the current flows; never above {most} V."
    coat: CoatResult | None = study.results.get("coat")
    starts = () if coat is None else coat.steps
    highest = max([field.voltage, *(stage.voltage for stage in starts)])
    limit = min(study.job.supply.voltage, VOLTAGE_MARGIN * highest)
    return (
        f"Expect about {figure(field.voltage, 2)} V at the full current; set the voltage limit to"
        f" {figure(limit, 2)} V. A higher reading means, in this order: a poor contact at the wire, a tired or small"
        " anode, a bath that is cold or thin, the anode too far away. Find out which before you go on."
    )


def _moving(study: Study, time: float) -> str:
    """When to move or turn the part."""
    hung: Hanging | None = study.results.get("hanging")
    sentence = "Every 10 min shake the part gently, so that bubbles leave its undersides"
    if study.job.place.half_turn:
        sentence += f". At half time ({duration(time / 2)}) turn the part by half about the vertical"
    elif hung is not None and hung.pair is not None and hung.pair.pays:
        sentence += f". At half time ({duration(time / 2)}) change to the second way up"
    return sentence + ". Never let it dry on the way."


def _brightener(study: Study, charge: float) -> list[str]:
    amount = baths.brightener(baths.recipe(study.job.bath), charge)
    if not amount:
        return []
    return [note(f"This run uses up about {figure(amount / ML, 2)} mL of brightener; its maker's data sheet decides.")]
