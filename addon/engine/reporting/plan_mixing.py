"""The plan's lines on mixing the bath: each step with its amount, temperature and check."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ..chemistry import bath as baths
from ..chemistry.deposit import duration
from ..chemistry.mixing import Action, MixStep
from ..settings import conductivity
from ..units import GRAM_PER_ML, ZERO_CELSIUS
from . import finding_text, plan_ready
from .filled import filled, joined, unstopped
from .instructions_after import Mixing
from .plan_bench import Bench
from .plan_text import Line, Section, density, figure, mass, note, step, temperature, volume

MAX_COLD_ROOM_K = 18 + ZERO_CELSIUS  # K: a bath that drops crystals above this does so overnight
MAX_ROOM_K = 22 + ZERO_CELSIUS  # C, water that needs no warming
MAX_COLD_MARGIN_K = 8.0  # below it, that is still worth saying


def section(bench: Bench) -> Section:
    """The steps of the batch, in the order of the hands."""
    mix, procedure = bench.mix, bench.procedure
    if mix is None or procedure is None:
        return Section(
            "Mix the bath", (note(filled("No batch: {why}.", why=unstopped(bench.no_batch))), *_conductivity(bench))
        )
    values = {"vessel": volume(procedure.vessel), "volume": volume(procedure.volume), "bath": bench.job.bath.name}
    lines, mentioned = [step(Mixing.VESSEL.say(**values))], list[str]()
    for stage in procedure.steps:
        text = _acid(stage, mix.acid_strength) if stage.action == Action.ADD_ACID else TELL[stage.action](stage)
        if stage.action == Action.DISSOLVE and mentioned:
            mentioned[-1] = joined([mentioned[-1], text])  # one vessel, one stirring
        else:
            mentioned.append(text)
    lines += [step(text) for text in mentioned]
    lines.append(step(Mixing.CHECK.say(density=f"{mix.density / GRAM_PER_ML:.3f}")))
    lines += [step(line) for line in _finishing(bench, mix.volume)]
    cold = procedure.crystallizes_below
    if cold is not None and cold >= MAX_COLD_ROOM_K - MAX_COLD_MARGIN_K:
        lines.append(note(Mixing.KEEP_WARM.say(temperature=temperature(cold))))
    if bench.recipe is not None and bench.recipe.brightener == 0 and bench.job.bath.metal == "copper":
        lines.append(note("Without a brightener the deposit is coarse and matt."))
    return Section("Mix the bath", (*lines, *_conductivity(bench)))


def _finishing(bench: Bench, batch: float) -> list[str]:
    """What the finished bath still needs: pH, additive, heating, conditioned anodes."""
    recipe, lines = bench.recipe, list[str]()
    if recipe is None:
        return lines
    if recipe.ph_window is not None:
        low, high = recipe.ph_window
        lines.append(Mixing.PH.say(low=f"{low:g}", high=f"{high:g}", lower=recipe.ph_lower, higher=recipe.ph_raise))
    for addition in baths.additions(recipe, batch):
        lines.append(Mixing.ADD.say(amount=plan_ready.amount_text(addition), substance=addition.substance))
    if recipe.heating:
        lines.append(Mixing.HEAT.say(heating=recipe.heating))
    if recipe.anode_film is not None:
        time, at = recipe.anode_film
        lines.append(Mixing.WORK_IN.say(time=duration(time), density=density(at), metal=bench.job.bath.metal))
    return lines


def _conductivity(bench: Bench) -> list[Line]:
    """The uncertainty of the conductivity, and how to measure it."""
    bath = bench.job.bath
    if bath.measured is None:
        return [step(Mixing.CONDUCTIVITY.say(taken=figure(bath.conductivity, 2)))]
    measured = conductivity.of(bath.measured)
    sure = figure(100 * measured.uncertainty / measured.value, 2)
    count = len(bath.measured.currents)
    value = filled(
        "Conductivity {value} S/m, sure to {percent} %, from your {count} readings between plates.",
        value=figure(measured.value),
        percent=sure,
        count=count,
    )
    return [note(joined([value, *finding_text.texts(measured.findings)]))]


def _pour(mix_step: MixStep) -> str:
    if mix_step.temperature > MAX_ROOM_K:
        return Mixing.POUR_WARM.say(amount=volume(mix_step.amount), temperature=temperature(mix_step.temperature))
    return Mixing.POUR.say(amount=volume(mix_step.amount))


def _acid(mix_step: MixStep, strength: float) -> str:
    return Mixing.ACID.say(amount=volume(mix_step.amount), strength=f"{100 * strength:.0f}")


TELL: Mapping[Action, Callable[[MixStep], str]] = {
    Action.POUR_WATER: _pour,
    Action.DISSOLVE: lambda step: Mixing.DISSOLVE.say(amount=mass(step.amount), substance=step.substance),
    Action.COOL: lambda step: Mixing.COOL.say(temperature=temperature(step.temperature)),
    Action.FILL_UP: lambda step: Mixing.FILL.say(amount=volume(step.amount), temperature=temperature(step.temperature)),
    Action.WARM: lambda step: Mixing.WARM.say(temperature=temperature(step.temperature)),
}
