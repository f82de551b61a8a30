"""The plan's lines on mixing the bath: each step with its amount, its warmth and how to see that it worked."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ..chemistry.bath import Mix
from ..chemistry.mixing import Action, MixStep, Procedure
from ..units import GRAM_PER_ML, ZERO_CELSIUS
from .plan_text import mass, note, step, temperature, volume

COLD_ROOM = 18 + ZERO_CELSIUS  # K: a bath that drops crystals above this does so overnight


def lines(name: str, mix: Mix, procedure: Procedure) -> list[str]:
    """The steps of a batch of the bath `name`, in the order of the hands."""
    found = [
        note(
            f"Makes {volume(procedure.volume)} of '{name}'. Use a vessel of {volume(procedure.vessel)} or more, of"
            " polypropylene or glass, kept for this alone and labeled."
        )
    ]
    told: list[str] = []
    for one in procedure.steps:
        said = _acid(one, mix.acid_strength) if one.action == Action.ADD_ACID else TELL[one.action](one)
        if one.action == Action.DISSOLVE and told:
            told[-1] = f"{told[-1]} {said}"  # one vessel, one stirring
        else:
            told.append(said)
    found += [step(said) for said in told]
    found.append(
        step(f"Check: nothing lies on the floor, and a hydrometer reads {mix.density / GRAM_PER_ML:.3f} g/mL at 20 C.")
    )
    cold = procedure.crystallizes_below
    if cold is not None and cold >= COLD_ROOM - 10:
        found.append(
            note(f"Keep the bath above {temperature(cold)}, or crystals fall out; warm and stir until they are gone.")
        )
    return found


def _pour(one: MixStep) -> str:
    warm = f", warmed to {temperature(one.temperature)}" if one.temperature > 22 + ZERO_CELSIUS else ""
    return f"Pour {volume(one.amount)} of distilled water{warm}."


def _dissolve(one: MixStep) -> str:
    return f"Stir in {mass(one.amount)} of {one.substance} until it is clear."


def _cool(one: MixStep) -> str:
    return f"Filter through a coffee filter if it is cloudy. Let it cool to {temperature(one.temperature)}."


def _acid(one: MixStep, strength: float) -> str:
    return (
        f"Goggles and gloves on. ACID INTO WATER, a little at a time, stirring: {volume(one.amount)} of"
        f" {100 * strength:.0f} % sulfuric acid."
        f" Wait whenever it gets warmer than {temperature(one.temperature + 15)}."
    )


def _fill(one: MixStep) -> str:
    return (
        f"Rinse the measures into it with {volume(one.amount)} of distilled water; bring it to"
        f" {temperature(one.temperature)}."
    )


def _warm(one: MixStep) -> str:
    return f"Warm it to {temperature(one.temperature)}."


TELL: Mapping[Action, Callable[[MixStep], str]] = {
    Action.POUR_WATER: _pour,
    Action.DISSOLVE: _dissolve,
    Action.COOL: _cool,
    Action.FILL_UP: _fill,
    Action.WARM: _warm,
}
