"""After the bath, care of the bath, and waste, for the metal and the substances of the actual bath."""

from __future__ import annotations

from ..handling import POLISH_LOSS_M, Handling
from ..settings.tables import plastic
from ..units import AMPERE_HOUR, GRAM, ML, UM
from . import plan_steps
from .filled import filled
from .instructions_after import After, Care, Waste
from .plan_bench import Bench
from .plan_ready import AMOUNT
from .plan_text import Section, figure, mass, note, volume
from .words import listed

MIN_MEASURED_M3 = 0.5 * ML  # what a small measuring cylinder shows (common practice, no source)
MIN_REPORTED_SHARE = 0.005  # of the area that polishing takes to the coat


def after(bench: Bench) -> Section:
    """Neutral, polished, colored where wanted, protected."""
    job, metal = bench.job, bench.job.bath.metal
    lines = []
    if metal in plan_steps.SALT_COLOR:
        lines.append(After.NEUTRAL.say(color=plan_steps.SALT_COLOR[metal]))
    lines.append(After.OVERWEIGHT.say() if bench.metal_part else After.LEAK.say())
    worn = None if bench.handling is None else bench.handling.worn_share
    loss = figure(POLISH_LOSS_M / UM, 2)
    if worn is not None and worn > MIN_REPORTED_SHARE:
        lines.append(After.POLISH_WORN.say(loss=loss, share=f"{100 * worn:.0f}"))
    else:
        lines.append(After.POLISH.say(loss=loss))
    if bench.metal_part:
        lines.append(After.COOL_METAL.say())
    else:
        softens = f"{plastic(job.part.material)['softens_C']:.0f}"
        lines.append(After.COOL.say(material=job.part.material, softens=softens))
    if metal == "copper":
        lines += [After.PATINA.say(), After.PATINA_GREEN.say(), After.PROTECT_COPPER.say()]
    elif metal == "nickel":
        lines.append(After.PROTECT_NICKEL.say())
    lines += bench.at("after")
    return Section("After the bath", tuple(note(line) for line in lines))


def care(bench: Bench) -> Section | None:
    """What the run used up, how to analyze the bath, and when to replace it."""
    handling, metal = bench.handling, bench.job.bath.metal
    if handling is None:
        return None
    lines = []
    if handling.additive > 0:
        amount, whole = figure(handling.additive / ML, 2), handling.additive_charge / AMPERE_HOUR
        little = handling.additive < MIN_MEASURED_M3
        lines.append(
            Care.ADDITIVE_LITTLE.say(amount=amount, charge=figure(whole, 2))
            if little
            else Care.ADDITIVE.say(amount=amount)
        )
    lost = {"volume": figure(handling.carried_out / ML, 2), "lifts": _round(handling.lifts)}
    out = [
        filled(AMOUNT, amount=mass(value), substance=name)
        for value, name in ((handling.acid, "acid"), (handling.metal, metal))
        if value > 0
    ]
    lines.append(Care.LOST_WITH.say(**lost, what=listed(out)) if out else Care.LOST.say(**lost))
    lines.append(Care.EVAPORATED.say())
    if metal == "copper":
        lines += [Care.COPPER_BALANCE.say(), Care.TITRATE_COPPER.say()]
    elif metal == "nickel":
        lines += [_nickel_balance(bench, handling), Care.TITRATE_NICKEL.say()]
    lines += [*_upkeep(bench), Care.CARBON.say(), Care.STOP.say(metal=metal)]
    return Section("Care of the bath", tuple(note(line) for line in lines))


def _nickel_balance(bench: Bench, handling: Handling) -> str:
    """The metal gain of a nickel bath, and the acid that lowers its pH."""
    acid = (bench.recipe.ph_lower if bench.recipe is not None else "") or "dilute sulfuric acid"
    return Care.NICKEL_BALANCE.say(gain=figure(handling.metal_gain / GRAM, 1), acid=acid)


def _upkeep(bench: Bench) -> list[str]:
    """Upkeep of the bath as in its table entry."""
    recipe, lines = bench.recipe, list[str]()
    if recipe is None:
        return lines
    if recipe.ph_window is not None:
        low, high = recipe.ph_window
        lines.append(Care.PH.say(low=f"{low:g}", high=f"{high:g}"))
    if recipe.aeration:
        lines.append(Care.AIR.say(air=recipe.aeration))
    if recipe.filtering:
        mesh = figure(recipe.filter_mesh / UM, 2)
        coarse = recipe.filter_mesh == 0
        how = recipe.filtering
        lines.append(Care.FILTER.say(how=how) if coarse else Care.FILTER_MESH.say(how=how, mesh=mesh))
    return lines


def _round(lifts: float) -> str:
    return figure(max(lifts, 1.0), 1)


def waste(bench: Bench) -> Section:
    """What leaves the bench, and where it goes."""
    handling, lines = bench.handling, [Waste.LOCAL.say()]
    if handling is not None:
        if handling.first_rinse_metal > 0:
            content = figure(handling.first_rinse_metal, 1)
            first = volume(handling.rinse_volume)
            lines.append(Waste.FIRST.say(volume=first, content=content, metal=bench.job.bath.metal))
        lines.append(Waste.LATER.say(volume=volume(handling.rinses * handling.rinse_volume)))
        lines.append(Waste.BATH.say(volume=volume(handling.batch)))
    return Section("Waste", tuple(note(line) for line in lines))
