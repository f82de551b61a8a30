"""What to buy, measure out, lay ready and put on: the end of the plan's first page."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from .. import faraday
from ..chemistry import bath as baths
from ..chemistry.dip import DIP_STRENGTH, is_dipped
from ..chemistry.solution import acid_density
from ..copper_wire import gauge
from ..errors import InputError
from ..findings import Code
from ..tank.anodes import LONG_SIDES
from ..units import GRAM, MM, mm
from . import plan_masks, words
from .filled import capital, filled, joined, unstopped
from .instructions_first import Ready
from .plan_bench import Bench
from .plan_text import (
    Section,
    area,
    figure,
    mass,
    step,
    volume,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ..settings.tank import Anode


GLOVES = "acid-proof gloves"
WATER_KG_M3 = 998.2  # at 20 C (CRC Handbook value, from memory)
USUAL_SCALE_KG = 1e-5  # the last digit of a kitchen's fine scale
USUAL_SHEET_M = 0.5e-3  # of an anode, that nobody need be told to take (common practice, no source)
MASS_SLACK = 0.1  # of the metal wanted, that may be missing when weighed (common practice, no source)
AMOUNT = "{amount} of {substance}"


def ready(bench: Bench, letters: Mapping[str, str]) -> Section | None:
    """What to buy, measure out, lay ready and put on; None where the job stops: what is bought for it may not serve."""
    if bench.stopped:
        return None
    job = bench.job
    lines = [
        *_tank(bench),
        _bath(bench, letters),
        *_additions(bench),
        *_anode(bench),
        *_anode_thickness(bench),
        *_wire(bench),
    ]
    if bench.metal_part:
        lines.append(Ready.METAL.say())
    elif not any(finding.code == Code.COAT_TOO_POOR for finding in bench.spoiling()):
        lines.append(Ready.COAT.say(coat=capital(job.coat.name)))
    lines += plan_masks.to_buy(bench)
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
    values = {"acid": volume(acid / acid_density(strength)), "water": volume((whole - acid) / WATER_KG_M3)}
    return Ready.DIP.say(volume=volume(water), strength=f"{100 * strength:.0f}", **values)


def _set_up(bench: Bench) -> list[str]:
    """How to keep the bath's temperature and pH."""
    recipe, lines = bench.recipe, list[str]()
    if recipe is not None and recipe.heating:
        lines.append(Ready.HEATER.say(heating=recipe.heating))
    if recipe is not None and recipe.ph_window is not None:
        low, high = (f"{end:g}" for end in recipe.ph_window)
        lines.append(Ready.ACIDITY.say(low=low, high=high, lower=recipe.ph_lower, higher=recipe.ph_raise))
    return lines


def _scale(bench: Bench) -> float:
    """kg, to which the deposit is weighed: so that a missing amount shows."""
    small = bench.deposit is not None and MASS_SLACK * bench.deposit.mass < 2 * USUAL_SCALE_KG
    return USUAL_SCALE_KG / 10 if small else USUAL_SCALE_KG


def weighed(bench: Bench, value: float) -> str:
    """A mass in kg as the scale shows it, in g: to three digits, but no finer than the scale."""
    decimals = round(-math.log10(_scale(bench) / GRAM))
    shown = figure(value / GRAM)
    return f"{value / GRAM:.{decimals}f}" if len(shown.partition(".")[2]) > decimals else shown


def _wire(bench: Bench) -> list[str]:
    """The wire to buy, and the ballast that goes with one that is not rigid."""
    hung, coat = bench.hung, bench.coat
    thin = 0.0 if coat is None or not coat.wires else coat.wire.diameter
    thin = hung.wire(thin) if thin and hung is not None else thin
    if hung is not None and hung.rigid_wire is not None:
        diameter = figure(max(hung.rigid_wire, thin) / MM, 2)
        if hung.unknown_lift > 0:
            return [Ready.RIGID_WIRE_UNKNOWN.say(diameter=diameter, lift=mass(hung.unknown_lift, 2))]
        return [Ready.RIGID_WIRE.say(diameter=diameter)]
    lines = [Ready.PLAIN_WIRE.say()]
    if coat is not None and coat.wires:
        lines = [Ready.WIRE.say(diameter=figure(thin / MM, 2), gauge=gauge(thin))]
    if hung is not None and hung.unknown_lift > 0:
        lines.append(Ready.BALLAST_UNKNOWN.say(lift=mass(hung.unknown_lift, 2)))
    elif hung is not None and hung.ballast > 0:
        lines.append(Ready.BALLAST.say(ballast=mass(hung.ballast, 2)))
    return lines


def _bagged(recipe: baths.Recipe) -> str:
    """The anode's material and bag."""
    return filled("{anode} ({bag})", anode=recipe.anode, bag=recipe.anode_bag) if recipe.anode_bag else recipe.anode


def _plate(size: tuple[float, float]) -> str:
    return f"{mm(size[0], 0)} x {mm(size[1], 0)} mm"


def _anode_thickness(bench: Bench) -> list[str]:
    """How thick plates must be, where a thin sheet would not last."""
    plates = [plate.size for plate in bench.tank.plates] if bench.tank is not None else []
    plates = plates or [anode.plate for anode in bench.job.anodes or () if anode.plate is not None]
    area, charge = sum(width * height for width, height in plates), bench.charge
    if not area > 0 or charge is None:
        return []
    needed = baths.anode_thickness(bench.job.bath, charge, area)
    if needed < USUAL_SHEET_M:
        return []
    loss = faraday.mass(faraday.metal(bench.job.bath.metal), charge, 1.0)
    return [Ready.ANODE_THICKNESS.say(loss=mass(loss), thickness=mm(needed))]


def _plates(sizes: Iterable[tuple[float, float]]) -> str:
    """ "2 plates of 50 x 80 mm"."""
    counts = Counter(map(_plate, sizes))
    return words.listed(
        [
            filled("{plates} of {size}", plates=words.counted(count, "plate"), size=size)
            for size, count in counts.items()
        ]
    )


def _bodies(anodes: Sequence[Anode]) -> str:
    """The anodes of the job: plates by their sizes, others by their files."""
    plates = [anode.plate for anode in anodes if anode.plate is not None]
    return words.listed(([_plates(plates)] if plates else []) + [anode.file for anode in anodes if anode.plate is None])


def wear(bench: Bench) -> list[str]:
    """Protection, by what is in this job."""
    items = ["goggles or a face shield", GLOVES, "apron"]
    if any(name.startswith(("nickel", "boric")) for name in bench.substances):
        items.append("fine-dust mask while salts are weighed")
    elif not bench.metal_part:
        items.append("dust mask")
    return items + ["mask for organic vapor while spraying"] * (not bench.metal_part)


def _bath(bench: Bench, letters: Mapping[str, str]) -> str:
    mix = bench.mix
    if mix is None:
        batch = volume(baths.batch_volume(bench.job.batch, bench.job.tank))
        return Ready.BATH_THERE.say(volume=batch, why=unstopped(bench.no_batch))
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
    additions = baths.additions(bench.recipe, bench.mix.volume)
    amounts = [filled(AMOUNT, amount=amount_text(addition), substance=addition.substance) for addition in additions]
    return [Ready.ADDITIONS.say(additions=joined(amounts, "; "))] if amounts else []


def amount_text(addition: baths.Addition) -> str:
    """An amount as it is measured out."""
    return volume(addition.amount) if addition.liquid else mass(addition.amount)


def _tank(bench: Bench) -> list[str]:
    """The vessel, where its inside is known."""
    tank = bench.tank
    if tank is None or tank.shape not in ("box", "cylinder"):
        return []
    sides = tank.size if tank.shape == "box" else (tank.size[0], tank.size[2])
    size = " x ".join(mm(side) for side in sides)
    values = {"size": size, "level": mm(tank.level)}
    if not tank.assumed:
        return [Ready.TANK_GIVEN.say(**values)]
    if not tank.vessel:
        return [Ready.TANK_ASSUMED.say(**values)]
    return [Ready.TANK.say(vessel=tank.vessel, **values)]


def _anode(bench: Bench) -> list[str]:
    deposit, recipe = bench.deposit, bench.recipe
    if deposit is None or recipe is None or bench.full_current is None:
        return []
    try:
        thieves = 0.0 if bench.tank is None else bench.tank.thief_area
        size = baths.anode_size(recipe, bench.job.bath, deposit.copies * deposit.area + thieves, bench.full_current)
    except InputError:
        return []
    specified = bench.job.anodes
    if specified:
        placed = Ready.ANODES_PLACED if len(specified) > 1 else Ready.ANODE_PLACED
        return [placed.say(anode=_bagged(recipe), bodies=_bodies(specified))]
    least = max(size.low, size.least)
    if bench.tank is not None and bench.tank.plates:
        plates = _plates(plate.size for plate in bench.tank.plates)
        kind = Ready.PLATES if bench.tank.plates_on == LONG_SIDES else Ready.PLATES_SHORT
        return [kind.say(anode=_bagged(recipe), plates=plates, least=area(least))]
    square = filled("{area} ({side} mm square)", area=area(least), side=math.ceil(math.sqrt(least) / MM))
    return [Ready.ANODE.say(anode=_bagged(recipe), least=square, most=area(max(size.high, least)))]
