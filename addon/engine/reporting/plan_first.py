"""The plan's first page: what it makes, what to put right, what to change in the model, what to have ready."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from ..chemistry import bath as baths
from ..chemistry.dip import DIP_STRENGTH, is_dipped
from ..chemistry.solution import acid_density
from ..errors import InputError
from ..findings import Code, Severity
from ..printing.steps import MIN_SANDED_STEP_M
from ..tank.anodes import LONG_SIDES
from ..units import GRAM, MM, UM, mm
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
WATER_KG_M3 = 998.2  # at 20 C (CRC Handbook value, from memory)
USUAL_SCALE_KG = 1e-5  # the last digit of a kitchen's fine scale
MASS_SLACK = 0.1  # of the metal wanted, that may be missing when weighed (common practice, no source)
ONE_OF = (
    "This is the plan of one part. {count} at once take {current} A: set the places of the report as"
    " {rack.positions_mm} and make it again."
)
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
    spaced = bench.study.results.rack
    if spaced is not None and bench.copies == 1 and not bench.stopped:
        found.append(filled(ONE_OF, count=spaced.wanted, current=figure(spaced.wanted * spaced.current_each, 2)))
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
    for number, finding in enumerate(found[:MAX_FIRST_FINDINGS], 1):
        said: str = sentence(finding_text.text(finding))
        if finding.severity == Severity.STOPS:
            said = filled("STOP: {finding}", finding=said)
        lines.append(step(joined([f"R{number}", said])))
    if len(found) > MAX_FIRST_FINDINGS:
        lines.append(note(filled("{count} more are in the appendix.", count=len(found) - MAX_FIRST_FINDINGS)))
    return Section("Put right first", tuple(lines))


def model(bench: Bench, letters: Mapping[str, str]) -> Section | None:
    """What to change in the model and how to print it."""
    lines = [*plan_holes.vents(bench), *plan_holes.drains(bench), *map(note, bench.at("model"))]
    prepared = bench.prepared
    if prepared is not None:
        fits = plan_fits.first(bench, letters)
        lines += [step(text) for text in (*fits, _fit(bench, "other faces" if fits else "parts"))]
        lines += [] if bench.metal_part else [step(text) for text in plan_fits.print_up(bench)]
        if prepared.sanding_area > 0 and not bench.metal_part:
            lines.append(
                step(Model.SAND.say(area=area(prepared.sanding_area), least=figure(MIN_SANDED_STEP_M / UM, 2)))
            )
    lines += [step(text) for text in plan_helpers.printing(bench)]
    return Section("Change in the model and the print", tuple(lines)) if lines else None


def _fit(bench: Bench, what: str) -> str:
    """Growth where `what` must fit: by the local thickness where it is known."""
    prepared, coat = bench.prepared, bench.job.coat.thickness
    assert prepared is not None
    figures = {"what": what, "growth": figure(prepared.growth / UM, 2), "bore": figure(prepared.bore_loss / MM, 2)}
    if bench.field is None:
        return Model.FIT_EVEN.say(**figures)
    spread = bench.field.thickness_spread
    low, high = (figure((coat + thickness) / UM, 2) for thickness in (spread.p5, spread.p95))
    return Model.FIT.say(**figures, low=low, high=high)


def ready(bench: Bench, letters: Mapping[str, str]) -> Section:
    """What to buy, measure out, lay ready and put on."""
    job = bench.job
    lines = [*_tank(bench), _bath(bench, letters), *_additions(bench), *_anode(bench), *_wire(bench)]
    if bench.metal_part:
        lines.append(Ready.METAL.say())
    elif not any(finding.code == Code.COAT_TOO_POOR for finding in bench.spoiling()):
        lines.append(Ready.COAT.say(coat=capital(job.coat.name)))
    if bench.handling is not None:
        water = bench.handling.rinse_volume
        if is_dipped(bench.job):
            lines.append(dip(water, bench.job.batch.acid))
        lines.append(Ready.RINSES.say(count=bench.handling.rinses + 1, volume=volume(water)))
    lines += _set_up(bench)
    lines += [Ready.TOOLS.say(scale=f"{_scale(bench) / GRAM:g}"), Ready.PROTECTION.say(wear=words.listed(wear(bench)))]
    return Section("Buy, measure out, put on", tuple(step(line) for line in lines))


def dip(water: float, strength: float) -> str:
    """What the acid dip is made of. water : m3 of it; strength : 0..1 by weight, of the acid that is bought"""
    whole = water * acid_density(DIP_STRENGTH)
    acid = whole * min(1.0, DIP_STRENGTH / strength)
    told = {"acid": volume(acid / acid_density(strength)), "water": volume((whole - acid) / WATER_KG_M3)}
    return Ready.DIP.say(volume=volume(water), strength=f"{100 * strength:.0f}", **told)


def _set_up(bench: Bench) -> list[str]:
    """What keeps the bath warm, and its pH."""
    recipe, lines = bench.recipe, list[str]()
    if recipe is not None and recipe.heating:
        lines.append(Ready.HEATER.say(heating=recipe.heating))
    if recipe is not None and recipe.ph_window is not None:
        low, high = (f"{end:g}" for end in recipe.ph_window)
        lines.append(Ready.ACIDITY.say(low=low, high=high, lower=recipe.ph_lower, higher=recipe.ph_raise))
    return lines


def _scale(bench: Bench) -> float:
    """kg, to which the deposit is weighed: so that what may be missing of it shows."""
    small = bench.deposit is not None and MASS_SLACK * bench.deposit.mass < 2 * USUAL_SCALE_KG
    return USUAL_SCALE_KG / 10 if small else USUAL_SCALE_KG


def weighed(bench: Bench, value: float) -> str:
    """A mass in kg as the scale shows it, in g: to three figures, and to no more than it has."""
    decimals = round(-math.log10(_scale(bench) / GRAM))
    shown = figure(value / GRAM)
    return f"{value / GRAM:.{decimals}f}" if len(shown.partition(".")[2]) > decimals else shown


def _wire(bench: Bench) -> list[str]:
    """The wire to buy, and the ballast that goes with one that is not rigid."""
    hung, coat = bench.hung, bench.coat
    thin = 0.0 if coat is None or not coat.wires else coat.wire.diameter
    if hung is not None and hung.rigid_wire is not None:
        diameter = figure(max(hung.rigid_wire, thin) / MM, 2)
        if hung.unknown_lift > 0:
            return [Ready.RIGID_WIRE_UNKNOWN.say(diameter=diameter, lift=mass(hung.unknown_lift, 2))]
        return [Ready.RIGID_WIRE.say(diameter=diameter)]
    lines = [Ready.PLAIN_WIRE.say()]
    if coat is not None and coat.wires:
        lines = [Ready.WIRE.say(diameter=figure(thin / MM, 2), gauge=coat.wire.gauge)]
    if hung is not None and hung.unknown_lift > 0:
        lines.append(Ready.BALLAST_UNKNOWN.say(lift=mass(hung.unknown_lift, 2)))
    elif hung is not None and hung.ballast > 0:
        lines.append(Ready.BALLAST.say(ballast=mass(hung.ballast, 2)))
    return lines


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
    amounts.append(filled("{amount} of distilled water", amount=volume(mix.water / WATER_KG_M3)))
    return Ready.BATH.say(volume=volume(mix.volume), amounts=words.listed(amounts), letter=letters["mixing"])


def _additions(bench: Bench) -> list[str]:
    """Additive and wetting agent of the finished bath."""
    if bench.recipe is None or bench.mix is None:
        return []
    found = baths.additions(bench.recipe, bench.mix.volume)
    amounts = [filled(AMOUNT, amount=told(addition), substance=addition.substance) for addition in found]
    return [Ready.ADDITIONS.say(additions=joined(amounts, "; "))] if amounts else []


def told(addition: baths.Addition) -> str:
    """An amount as it is measured out."""
    return volume(addition.amount) if addition.liquid else mass(addition.amount)


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
        thieves = 0.0 if bench.tank is None else bench.tank.thief_area
        size = baths.anode_size(recipe, bench.job.bath, deposit.copies * deposit.area + thieves, bench.full_current)
    except InputError:
        return []
    least = max(size.low, size.least)
    if bench.tank is not None and bench.tank.plates:
        sizes = Counter(_plate(plate.size) for plate in bench.tank.plates)
        plates = words.listed(
            [
                filled("{plates} of {size}", plates=words.counted(count, "plate"), size=size)
                for size, count in sizes.items()
            ]
        )
        kind = Ready.PLATES if bench.tank.plates_on == LONG_SIDES else Ready.PLATES_SHORT
        return [kind.say(anode=_bagged(recipe), plates=plates, least=area(least))]
    square = filled("{area} ({side} mm square)", area=area(least), side=math.ceil(math.sqrt(least) / MM))
    return [Ready.ANODE.say(anode=_bagged(recipe), least=square, most=area(max(size.high, least)))]
