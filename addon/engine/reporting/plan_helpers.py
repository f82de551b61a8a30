"""The plan's lines on the printed hanger, where one was asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..units import CM2, GRAM, MM
from .filled import filled
from .instructions_after import AtStep
from .plan_text import figure, point

if TYPE_CHECKING:
    from ..helpers.hanger import Hanger
    from ..helpers.plug import Plugs
    from .plan_bench import Bench

FLOATING = "The part floats: lash the hook to the rod"


def hanging(bench: Bench) -> tuple[str, ...]:
    """How the part goes into its hanger, as another way than the wire of the step."""
    made = bench.study.results.hanger
    if made is None:
        return ()
    wire = f"a wire of its own, fixed at {point(made.wire)}," if made.own_wire else f"the wire at {point(made.wire)}"
    return (
        AtStep.HANGER.say(
            wire=wire,
            pull=figure(made.pull / GRAM, 2),
            count={2: "both", 3: "all three"}[len(made.tips)],
            rod=f"{made.rod / MM:g}",
            lash="; lash it to the rod crosswise, for the part floats" if made.lashed else "",
        ),
    )


def plugging(bench: Bench) -> tuple[str, ...]:
    """Which plugs go into which holes."""
    made = bench.study.results.plugs
    return tuple(
        AtStep.PLUG.say(top=f"{one.top / MM:.1f}", hole=f"{one.hole / MM:.1f}", place=point(one.mouth))
        for one in (made.plugs if made is not None else ())
    )


def plugged(made: Plugs) -> list[str]:
    """The plugs in a few lines, for the panel."""
    return [
        filled(
            "Plug for the hole of {hole} mm at {place}: it shuts off {area} cm2, {share} % of the plated area",
            hole=f"{one.hole / MM:.1f}",
            place=point(one.mouth),
            area=figure(one.area / CM2, 2),
            share=figure(100 * one.share, 2),
        )
        for one in made.plugs
    ]


def said(made: Hanger) -> list[str]:
    """The hanger in a few lines, for the panel."""
    fixed = (
        "Fix a wire of its own at {place}, pull it up the groove with {pull} g"
        if made.own_wire
        else "Fix the wire at {place}, pull it up the groove with {pull} g"
    )
    lines: list[str] = [
        filled(
            "{length} mm long, {mass} g of {plastic}, printed solid on its back",
            length=f"{made.length / MM:.0f}",
            mass=figure(made.mass / GRAM, 2),
            plastic=made.plastic,
        ),
        filled(fixed, place=point(made.wire), pull=figure(made.pull / GRAM, 2)),
    ]
    return [*lines, FLOATING] if made.lashed else lines
