"""The plan's steps, in working order: one action each, with number, check and cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..chemistry.deposit import duration
from ..chemistry.dip import bare_coat_is_dipped, is_dipped
from ..findings import Severity
from ..settings.tables import plastic
from ..units import AMPERE_HOUR, GRAM, GRAM_PER_ML, ML, UM, mm
from . import plan_helpers, plan_masks, plan_printed, plan_rack, plan_schedule, plan_wire, words
from .filled import capital, filled
from .instructions import Instructions
from .instructions_at_step import AtStep
from .instructions_steps import Step
from .plan_bench import STEPS_OF_SPOILING, Bench
from .plan_hanging import turns, way_up_and_hold
from .plan_ready import MASS_SLACK, weighed
from .plan_text import Section, figure, numbered, temperature

if TYPE_CHECKING:
    from ..schedule import Schedule
    from ..settings.job import Job

STRIP_SQUARES = 10.0  # length over width of the scrap strip between the tapes
SALT_COLOR = {"copper": "blue", "nickel": "green"}
GRAPHITE, COPPER_COATS = "graphite", ("copper paint", "silver-coated copper paint")

# Whether it is turned by half, whether wires move -> what is done at half time
AT_HALF_TIME = {
    (True, False): "At half time ({time}) turn it by half about the vertical.",
    (False, True): "At half time ({time}) switch OFF and {move}.",
    (True, True): "At half time ({time}) switch OFF, turn it by half about the vertical, and {move}.",
}


@dataclass(frozen=True)
class Row:
    """A step before it has its number: name, sentence, figures of it and its check; cautions: those before
    the findings of its step, and those after."""

    name: str
    kind: Instructions
    figures: Mapping[str, object] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


@dataclass(frozen=True)
class NumberedStep:
    """A step in words. name : of its `Row`; what to do, what to mind, and how to see that it worked."""

    number: int
    name: str
    action: str
    cautions: tuple[str, ...]
    check: str


def steps(bench: Bench, letters: Mapping[str, str]) -> Section:
    """The steps as lines of the plan."""
    steps = numbered_steps(bench, letters)
    lines = [line for row in steps for line in numbered(row.number, row.action, row.check, row.cautions)]
    return Section("Steps (write the time of day on the line)", tuple(lines))


def numbered_steps(bench: Bench, letters: Mapping[str, str]) -> list[NumberedStep]:
    """Twelve to sixteen steps; each caution stands at the step that it belongs to."""
    if bench.stopped:
        worst = [f"R{n}" for n, finding in enumerate(bench.spoiling(), 1) if finding.severity == Severity.STOPS]
        where = filled("what stands in appendix {letter}", letter=letters.get("found", letters["expect"]))
        places = words.listed(worst) or where
        return [NumberedStep(1, "stop", Step.NONE.say(what=places), (), Step.NONE.check())]
    spoiling = [
        (f"R{number}", STEPS_OF_SPOILING.get(finding.code)) for number, finding in enumerate(bench.spoiling(), 1)
    ]
    in_order = []
    for number, row in enumerate(rows(bench, letters), 1):
        mind = [label for label, step in spoiling if step == row.name]
        back = [AtStep.MIND.say(which=words.listed(mind))] if mind else []
        cautions = (*row.cautions, *bench.at(row.name), *row.after, *back)
        action, check = row.kind.say(**row.figures), row.kind.check(**row.figures)
        in_order.append(NumberedStep(number, row.name, action, cautions, check))
    return in_order


def rows(bench: Bench, letters: Mapping[str, str]) -> list[Row]:
    """The steps of a job that nothing stops, before they have their numbers."""
    return [*_surface(bench, letters), *_bath(bench), *_current(bench, letters), *_out(bench, letters)]


def _surface(bench: Bench, letters: Mapping[str, str]) -> list[Row]:
    """The steps up to weighing the dry, coated part."""
    job = bench.job
    rows = [Row("sand", Step.DEGREASE)] if bench.metal_part else [Row("sand", Step.SAND, {}, (AtStep.DUST.say(),))]
    if not bench.metal_part:
        rows.append(Row("seal", Step.SEAL, {}, (AtStep.SOLVENT.say(),)))
    masking = [Row("mask", plan_masks.step(bench), after=plan_masks.put_on(bench))] if bench.masked else []
    covered_last = plan_masks.stay_on(bench) and not bench.metal_part
    rows += [] if covered_last else masking
    fixed = {"wires": plan_wire.wires(bench, letters), "copies": bench.copies}
    several, lacquered = bench.copies > 1, (AtStep.LACQUER_WIRES.say(),)
    rows.append(
        Row(
            "wires",
            Step.WIRES_EACH if several else Step.WIRES,
            fixed,
            after=(
                *plan_wire.beside(bench),
                *plan_wire.more(bench),
                *plan_helpers.wiring(bench),
                *(lacquered if bench.metal_part else ()),
            ),
        )
    )
    if not bench.metal_part:
        coat = job.coat
        figures = {
            "coat": coat.name,
            "thickness": figure(coat.thickness / UM, 2),
            "softens": f"{plastic(job.part.material)['softens_C']:.0f}",
            "strip": figure(STRIP_SQUARES * coat.sheet_resistance, 2),
        }
        finish, off = _finish(coat.name), (*plan_masks.after_coat(bench), *lacquered)
        if plan_masks.ELECTROLESS in coat.name:
            rows.append(Row("coat", Step.COAT_ELECTROLESS, figures, after=off))
        elif finish is None:
            rows.append(Row("coat", Step.COAT, figures, after=off))
        else:
            rows.append(Row("coat", Step.COAT_RUBBED, {**figures, "finish": finish.say()}, after=off))
    rows += masking if covered_last else []
    return [*rows, Row("weigh", Step.WEIGH_EACH if several else Step.WEIGH, after=plan_helpers.setting(bench))]


def _finish(coat: str) -> Step | None:
    """Extra work for particle coats before weighing."""
    if GRAPHITE in coat:
        return Step.BURNISH_GRAPHITE
    return Step.BURNISH_COPPER if coat in COPPER_COATS else None


def _bath(bench: Bench) -> list[Row]:
    """The steps that prepare the bath and wet the part."""
    job = bench.job
    level = (
        filled("at {level} mm", level=mm(job.tank.level)) if job.tank.shape in ("box", "cylinder") else "over the part"
    )
    density = bench.mix.density if bench.mix is not None else job.bath.density
    figures = {
        "temperature": temperature(job.bath.temperature),
        "level": level,
        "agitation": (bench.recipe.agitation if bench.recipe is not None else "") or "gentle",
        "density": f"{density / GRAM_PER_ML:.3f}",
    }
    harm = [AtStep.ACID.say()] * bench.acid
    harm += [AtStep.NICKEL.say()] * any(name.startswith("nickel") for name in bench.substances)
    apart, after = _apart(bench), (*_around(bench), *plan_printed.before(bench.study.results))
    if apart is None:
        rows = [Row("bath", Step.BATH, figures, tuple(harm), after)]
    else:
        kind = Step.BATH_APART_EACH if bench.copies > 1 else Step.BATH_APART
        rows = [Row("bath", kind, {**figures, "distance": mm(apart, 0)}, tuple(harm), after)]
    if not bare_coat_is_dipped(job):
        return [*rows, Row("dip", Step.DIP_WET)]
    if bench.acid:
        base = (AtStep.BASE_METAL.say(),) if bench.metal_part and job.bath.metal == "copper" else ()
        return [*rows, Row("dip", Step.DIP_ACID, {}, base)]
    return [*rows, Row("dip", Step.DIP_ACID_RINSE, {}, (AtStep.ACID.say(),))]


def _again(job: Job) -> str:
    """How to reactivate metal after a pause: acid, unless the bare coat dissolves in it."""
    if not is_dipped(job):
        return "wet it again"
    return "dip again" if bare_coat_is_dipped(job) else "dip it 10 s in the 5 % acid"


def _apart(bench: Bench) -> float | None:
    """m that the anodes hang from the part; None where they are no plates."""
    plates = () if bench.tank is None else bench.tank.plates
    return None if not plates else min(plate.distance for plate in plates)


def _entering(bench: Bench) -> Step:
    """How it goes in: one part or several, on one wire or several."""
    if bench.copies > 1:
        return Step.ENTER_EACH
    return Step.ENTER_WIRES if bench.coat is not None and len(bench.coat.wires) > 1 else Step.ENTER


def _current(bench: Bench, letters: Mapping[str, str]) -> list[Row]:
    """The steps with current, from the supply still off to the full charge."""
    timetable, deposit = bench.schedule, bench.deposit
    if timetable is None or deposit is None:
        return []
    first = plan_schedule.first(timetable)
    held = bench.job.supply.hold
    kind = Step.CONNECT if held is None else Step.CONNECT_HOLD
    volts = figure(plan_schedule.voltage_limit(bench), 2) if held is None else figure(held, 3)
    connect = Row("connect", kind, {"current": first, "voltage": volts})
    how = {"way": way_up_and_hold(bench), "amperes": first, "copies": bench.copies, "places": plan_rack.places(bench)}
    unknown = bench.hung is not None and bench.hung.unknown_lift > 0 and bench.hung.rigid_wire is None
    hands = (AtStep.HANDS.say(), *([AtStep.LIFTED.say()] if unknown else []))
    rows = [connect, Row("enter", _entering(bench), how, hands, plan_helpers.hooking(bench))]
    if len(timetable.steps) > 1:
        rows.append(_start(bench, timetable))
    full = plan_schedule.current(timetable.steps[-1].current)
    plate = {
        "current": filled("{current} A, all {copies} parts together,", current=full, copies=deposit.copies)
        if deposit.copies > 1
        else filled("{current} A", current=full),
        "charge": plan_schedule.charge(timetable.charge),
        "time": duration(timetable.steps[-1].time),
        "volts": plan_schedule.volts(bench),
    }
    kind = Step.PLATE_HOLD if held is not None else Step.PLATE_BLIND if bench.field is None else Step.PLATE
    rows.append(Row("plate", kind, plate, (AtStep.AIR.say(),)))
    half = _half(bench, timetable, letters)
    moving = {"again": _again(bench.job), "current": first, "half": half}
    if bench.unbroken:
        return [*rows, Row("move", Step.MOVE_NICKEL_HALF if half else Step.MOVE_NICKEL, moving)]
    return [*rows, Row("move", Step.MOVE_HALF if half else Step.MOVE, moving)]


def _charge_of_a_gram(bench: Bench) -> float:
    """A h of the supply per g of metal on the part, thieves included."""
    deposit, thief_share = bench.deposit, 0.0 if bench.schedule is None else bench.schedule.thief_share
    assert deposit is not None
    return deposit.charge / AMPERE_HOUR / (deposit.mass / GRAM) / (1.0 - thief_share)


def _around(bench: Bench) -> tuple[str, ...]:
    """Whatever else hangs in the bath."""
    shields = [AtStep.SHIELD.say()] if bench.job.shields else []
    share = 0.0 if bench.schedule is None else bench.schedule.thief_share
    thieves = [AtStep.THIEF.say(share=figure(100 * share, 2))] if share > 0 else []
    return (*shields, *thieves)


def _start(bench: Bench, timetable: Schedule) -> Row:
    """The currents before the full one."""
    figures = {"steps": plan_schedule.start(timetable), "metal": capital(bench.job.bath.metal)}
    timed = plan_schedule.milestones(bench)
    if not timed:
        return Row("start", Step.START, figures)
    return Row("start", Step.START_TIMED, {**figures, "milestones": timed})


def _half(bench: Bench, timetable: Schedule, letters: Mapping[str, str]) -> str:
    """What to do at half time."""
    time = duration(timetable.time / 2)
    if turns(bench):
        change = "At half time ({time}) change to the second position (appendix {letter})."
        return filled(change, time=time, letter=letters["hanging"])
    moved, turned = plan_wire.moved(bench), bench.job.place.half_turn
    template = AT_HALF_TIME.get((turned, bool(moved)))
    return "" if template is None else filled(template, time=time, move=moved)


def _out(bench: Bench, letters: Mapping[str, str]) -> list[Row]:
    """Current off, part out, rinsed and weighed."""
    timetable, deposit = bench.schedule, bench.deposit
    rows = []
    if timetable is not None:
        held = bench.drainage is not None and bench.drainage.held_volume > 0.05 * ML
        figures = {"charge": plan_schedule.charge(timetable.charge)}
        rows.append(Row("lift", Step.LIFT_TIP if held else Step.LIFT, figures))
    if bench.handling is not None:
        color = SALT_COLOR.get(bench.job.bath.metal, "colored bath")
        rinse = {"count": bench.handling.rinses, "color": color, "letter": letters["waste"]}
        rows.append(Row("rinse", Step.RINSE, rinse))
    if deposit is not None:
        dry = {
            "gain": weighed(bench, deposit.mass),
            "slack": figure(MASS_SLACK * deposit.mass / GRAM, 1),
            "again": _again(bench.job),
            "more": figure(_charge_of_a_gram(bench), 2),
            "letter": letters["after"],
        }
        several = bench.copies > 1
        kind = Step.DRY_EACH if several else Step.DRY
        if bench.unbroken:
            kind = Step.DRY_NICKEL_EACH if several else Step.DRY_NICKEL
        rows.append(Row("dry", kind, dry, after=_after_weighing(bench)))
    return rows


def _after_weighing(bench: Bench) -> tuple[str, ...]:
    """What is not weighed with the part, and what comes off it afterwards: what was on when it was weighed before."""
    hung, masks = bench.hung, bench.study.results.masks
    tied = hung is not None and hung.rigid_wire is None and hung.ballast > 0
    covered = bench.masked and plan_masks.stay_on(bench) and (masks is None or bool(masks.by_hand))
    return (*([AtStep.NO_BALLAST.say()] if tied else []), *([AtStep.UNCOVER.say()] if covered else []))
