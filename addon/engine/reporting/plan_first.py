"""The plan's first page: what it makes, what to put right, what to change in the model, what to have ready."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from ..chemistry import bath as baths
from ..errors import InputError
from ..findings import Code, Severity
from ..printing.steps import MIN_SANDED_STEP_M
from ..units import MM, UM, mm
from . import finding_text, plan_fits, plan_helpers, plan_holes, plan_schedule, words
from .filled import capital, filled, joined, sentence, unstopped
from .instructions import Model, Ready
from .plan_bench import Bench
from .plan_text import (
    Section,
    area,
    figure,
    mass,
    note,
    spanned,
    step,
    thickness,
    volume,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

MAX_FIRST_FINDINGS = 6  # findings on the first page; the rest stands in the appendix
GLOVES = "acid-proof gloves"
AMOUNT = "{amount} of {substance}"
# Whether its weight is known, whether faces stay bare -> what it is
PART = {
    (False, False): "{size} mm of {plastic}.",
    (False, True): "{size} mm of {plastic}; {bare} stay bare.",
    (True, False): "{size} mm of {plastic}, about {mass} with its coat.",
    (True, True): "{size} mm of {plastic}, about {mass} with its coat; {bare} stay bare.",
}


def title(bench: Bench) -> str:
    """The plan's first line."""
    return filled("PLATING PLAN: {name}", name=bench.study.part.name)


def summary(bench: Bench) -> list[str]:
    """What is made, what to expect of it, and its size, a sentence or two each."""
    deposit, timetable, found = bench.deposit, bench.schedule, []
    if bench.stopped:
        found.append("NOT TO BE PLATED AS IT IS: see below what stops the job.")
    if deposit is not None and timetable is not None:
        several = deposit.copies > 1
        found.append(
            filled(
                "{metal}, {thickness} on {area} each of {copies} parts: {run}, {weight} of metal."
                if several
                else "{metal}, {thickness} on {area}: {run}, {weight} of metal.",
                metal=capital(deposit.metal),
                thickness=thickness(deposit.thickness),
                area=area(deposit.area),
                copies=deposit.copies,
                run=plan_schedule.summary(timetable),
                weight=mass(deposit.copies * deposit.mass),
            )
        )
    if bench.field is not None and not bench.stopped:
        found.append(_expected(bench))
    return [*found, _part(bench)]


def _part(bench: Bench) -> str:
    """Size and weight."""
    surface, job = bench.study.surface, bench.job
    sizes = " x ".join(mm(float(x)) for x in surface.bounds[1] - surface.bounds[0])
    body = None if bench.hung is None else bench.hung.body
    weighed = body is not None and not job.is_metal  # which metal, nobody says
    template = PART[weighed, bench.masked]
    size = filled(
        template,
        size=sizes,
        plastic="metal" if job.is_metal else job.part.material,
        mass="" if body is None else mass(body.mass, 2),
        bare=area(float((surface.wet_area - surface.plated_area).sum())),
    )
    return joined([size, Model.SIZE.say()])


def _expected(bench: Bench) -> str:
    """The thickness to expect, as ranges where they were computed."""
    field = bench.field
    assert field is not None
    spread = field.thickness_spread
    low, high = (_ranged(bench, f"field.thickness_um.{name}", getattr(spread, name)) for name in ("min", "max"))
    thin, thick = bench.span("field.thickness_um.p5"), bench.span("field.thickness_um.p95")
    most = spanned(spread.p5 / UM if thin is None else thin[0], spread.p95 / UM if thick is None else thick[1])
    return filled(
        "Expect {low} um at the thinnest, {most} um on nine tenths of it, {high} um at the thickest."
        if spread.min > 0
        else "Expect nothing at the thinnest, {most} um on nine tenths of it, {high} um at the thickest.",
        low=low,
        most=most,
        high=high,
    )


def _ranged(bench: Bench, key: str, value: float) -> str:
    """A thickness in um: its range where there is one."""
    span = bench.span(key)
    return figure(value / UM, 2) if span is None else spanned(*span)


def urgent(bench: Bench) -> Section | None:
    """What stops the job or spoils the part, most severe first; None where nothing does."""
    found = bench.spoiling()
    if not found:
        return None
    lines = []
    for number, one in enumerate(found[:MAX_FIRST_FINDINGS], 1):
        said: str = sentence(finding_text.text(one))
        if one.severity == Severity.STOPS:
            said = filled("STOP: {finding}", finding=said)
        lines.append(step(joined([f"R{number}", said])))
    if len(found) > MAX_FIRST_FINDINGS:
        lines.append(note(filled("{count} more stand in the appendix.", count=len(found) - MAX_FIRST_FINDINGS)))
    return Section("Put right first", tuple(lines))


def model(bench: Bench, letters: Mapping[str, str]) -> Section | None:
    """What to change in the model and how to print it."""
    lines = [*plan_holes.vents(bench), *plan_holes.drains(bench), *map(note, bench.at("model"))]
    prepared = bench.prepared
    if prepared is not None:
        fits = plan_fits.first(bench, letters)
        lines += [step(one) for one in (*fits, _fit(bench, "other faces" if fits else "parts"))]
        lines += [] if bench.metal_part else [step(one) for one in plan_fits.print_up(bench)]
        if prepared.sanding_area > 0 and not bench.metal_part:
            lines.append(
                step(Model.SAND.say(area=area(prepared.sanding_area), least=figure(MIN_SANDED_STEP_M / UM, 2)))
            )
    lines += [step(one) for one in plan_helpers.printing(bench)]
    return Section("Change in the model and the print", tuple(lines)) if lines else None


def _fit(bench: Bench, what: str) -> str:
    """Growth where `what` must fit: by the local thickness where it is known."""
    prepared, coat = bench.prepared, bench.job.coat.thickness
    assert prepared is not None
    figures = {"what": what, "growth": figure(prepared.growth / UM, 2), "bore": figure(prepared.bore_loss / MM, 2)}
    if bench.field is None:
        return Model.FIT_EVEN.say(**figures)
    spread = bench.field.thickness_spread
    low, high = (figure((coat + one) / UM, 2) for one in (spread.p5, spread.p95))
    return Model.FIT.say(**figures, low=low, high=high)


def ready(bench: Bench, letters: Mapping[str, str]) -> Section:
    """What to buy, measure out, lay ready and put on."""
    job = bench.job
    lines = [*_tank(bench), _bath(bench, letters), *_additions(bench), *_anode(bench)]
    rigid = None if bench.hung is None else bench.hung.rigid_wire
    if rigid is not None:
        thick = max(rigid, 0.0 if bench.coat is None else bench.coat.wire.diameter)
        lines.append(Ready.RIGID_WIRE.say(diameter=figure(thick / MM, 2)))
    elif bench.coat is not None and bench.coat.wires:
        wire = bench.coat.wire
        lines.append(Ready.WIRE.say(diameter=figure(wire.diameter / MM, 2), gauge=wire.gauge))
    else:
        lines.append(Ready.PLAIN_WIRE.say())
    if bench.metal_part:
        lines.append(Ready.METAL.say())
    elif not any(one.code == Code.COAT_TOO_POOR for one in bench.spoiling()):
        lines.append(Ready.COAT.say(coat=capital(job.coat.name)))
    if bench.handling is not None:
        water = volume(bench.handling.rinse_volume)
        if job.bath.metal in ("copper", "nickel"):
            lines.append(Ready.DIP.say(volume=water))
        lines.append(Ready.RINSES.say(count=bench.handling.rinses + 1, volume=water))
    lines += [Ready.TOOLS.say(), Ready.PROTECTION.say(wear=words.listed(wear(bench)))]
    return Section("Buy, measure out, put on", tuple(step(line) for line in lines))


def _bagged(recipe: baths.Recipe) -> str:
    """The anode's material, and its bag."""
    return filled("{anode} ({bag})", anode=recipe.anode, bag=recipe.anode_bag) if recipe.anode_bag else recipe.anode


def _plate(size: tuple[float, float]) -> str:
    return f"{mm(size[0], 0)} x {mm(size[1], 0)} mm"


def wear(bench: Bench) -> list[str]:
    """Protection, by what is in this job."""
    found = ["goggles or a face shield", GLOVES, "apron"]
    if any(name.startswith(("nickel", "boric")) for name in bench.substances):
        found.append("fine-dust mask while salts are weighed")
    elif not bench.metal_part:
        found.append("dust mask")
    return found + ["mask for organic vapor while spraying"] * (not bench.metal_part)


def _bath(bench: Bench, letters: Mapping[str, str]) -> str:
    mix = bench.mix
    if mix is None:
        made = volume(baths.batch_volume(bench.job.batch, bench.job.tank))
        return Ready.BATH_THERE.say(volume=made, why=unstopped(bench.no_batch))
    amounts = [filled(AMOUNT, amount=mass(amount), substance=name) for name, amount in mix.solids.items()]
    if mix.acid_volume > 0:
        strength = f"{100 * mix.acid_strength:.0f}"
        amounts.append(
            filled("{amount} of {strength} % sulfuric acid", amount=volume(mix.acid_volume), strength=strength)
        )
    amounts.append(filled("{amount} of distilled water", amount=volume(mix.water / 998.2)))
    return Ready.BATH.say(volume=volume(mix.volume), amounts=words.listed(amounts), letter=letters["mixing"])


def _additions(bench: Bench) -> list[str]:
    """Additive and wetting agent of the finished bath."""
    if bench.recipe is None or bench.mix is None:
        return []
    found = baths.additions(bench.recipe, bench.mix.volume)
    amounts = [filled(AMOUNT, amount=told(one), substance=one.substance) for one in found]
    return [Ready.ADDITIONS.say(additions=joined(amounts, "; "))] if amounts else []


def told(one: baths.Addition) -> str:
    """An amount as it is measured out."""
    return volume(one.amount) if one.liquid else mass(one.amount)


def _tank(bench: Bench) -> list[str]:
    """The vessel, where its inside is known."""
    found = bench.tank
    if found is None or found.shape not in ("box", "cylinder"):
        return []
    sides = found.size if found.shape == "box" else (found.size[0], found.size[2])
    size = " x ".join(mm(side) for side in sides)
    told = {"size": size, "level": mm(found.level)}
    if not found.assumed:
        return [Ready.TANK_GIVEN.say(**told)]
    if not found.vessel:
        return [Ready.TANK_ASSUMED.say(**told)]
    return [Ready.TANK.say(vessel=found.vessel, **told)]


def _anode(bench: Bench) -> list[str]:
    deposit, recipe = bench.deposit, bench.recipe
    if deposit is None or recipe is None or bench.full_current is None:
        return []
    try:
        size = baths.anode_size(recipe, bench.job.bath, deposit.copies * deposit.area, bench.full_current)
    except InputError:
        return []
    least = max(size.low, size.least)
    if bench.tank is not None and bench.tank.plates:
        sizes = Counter(_plate(one.size) for one in bench.tank.plates)
        plates = words.listed(
            [
                filled("{plates} of {size}", plates=words.counted(count, "plate"), size=size)
                for size, count in sizes.items()
            ]
        )
        return [Ready.PLATES.say(anode=_bagged(recipe), plates=plates, least=area(least))]
    square = filled("{area} ({side} mm square)", area=area(least), side=math.ceil(math.sqrt(least) / MM))
    return [Ready.ANODE.say(anode=_bagged(recipe), least=square, most=area(max(size.high, least)))]
