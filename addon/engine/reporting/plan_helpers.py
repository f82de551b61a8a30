"""The plan's lines on the printed hanger, where one was asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..study.kinds import BY_ANALYSIS
from ..units import CM2, GRAM, ML, MM, UM, mm
from . import plan_masks, plan_printed, words
from .filled import filled, keyed
from .instructions_at_step import AtStep
from .instructions_first import Model
from .plan_text import figure, point

if TYPE_CHECKING:
    from ..helpers.hanger import Cage, Hanger
    from ..helpers.plug import Plugs
    from ..study.results import Results
    from .plan_bench import Bench

KINDS = {
    "hanger": "hanger",
    "plugs": "plugs",
    "masks": "masks",
    "rack": "rack",
    "anode-holder": "anode holders",
    "shield": "shields",
    "thief": "thief",
}
MIN_GAS_ML, MIN_SHADED_CM2 = 0.001, 0.01  # smaller values are left out of the plan
FLOATING = "The part floats: lash the hook to the rod"


def printing(bench: Bench) -> list[str]:
    """How the helpers are printed."""
    hanger, plugs = bench.study.results.hanger, bench.study.results.plugs
    lines = []
    if hanger is not None:
        lines.append((Model.HANGER if hanger.cage is None else Model.CAGE).say(plastic=hanger.plastic))
    if plugs is not None:
        count = words.counted(len(plugs.plugs), "plug")
        lines.append(Model.PLUGS.say(plugs=count, plastic=plugs.plugs[0].plastic))
    return lines + plan_masks.printing(bench) + plan_printed.printing(bench.study.results)


def wiring(bench: Bench) -> list[str]:
    """The wire that the hanger needs beside those of the plan."""
    hanger = bench.study.results.hanger
    if hanger is None or not hanger.own_wire:
        return []
    return [AtStep.OWN_WIRE.say(diameter=figure(hanger.wire_diameter / MM, 2), place=point(hanger.wire))]


def setting(bench: Bench) -> tuple[str, ...]:
    """Which plugs and masks go where; then how the dry part goes into its hanger, as another way than the wire."""
    hanger = bench.study.results.hanger
    if hanger is None:
        return putting_on(bench)
    if hanger.cage is not None:
        return (*putting_on(bench), AtStep.CAGE.say(place=point(hanger.wire)))
    count = {2: keyed("both", "both (fingers)"), 3: keyed("all three", "all three (fingers)")}[len(hanger.tips)]
    text = AtStep.HANGER.say(place=point(hanger.wire), pull=figure(hanger.pull / GRAM, 2), count=count)
    return (*putting_on(bench), text)


def hooking(bench: Bench) -> tuple[str, ...]:
    """How the hanger hangs."""
    hanger, others = bench.study.results.hanger, plan_printed.entering(bench.study.results)
    if hanger is None:
        return tuple(others)
    hook = AtStep.HOOK_LASHED if hanger.lashed else AtStep.HOOK
    across = (AtStep.ROD_ON_RODS.say(rod=mm(hanger.rod, 2)),) if hanger.on_rods else ()
    return (*across, hook.say(rod=mm(hanger.rod, 2)), *others)


def putting_on(bench: Bench) -> tuple[str, ...]:
    """Plugs and clean masks, for the bath."""
    return (*plugging(bench), *plan_masks.for_bath(bench))


def plugging(bench: Bench) -> tuple[str, ...]:
    """Which plugs go into which holes."""
    plugs = bench.study.results.plugs
    return tuple(
        AtStep.PLUG.say(top=mm(plug.top, padded=True), hole=mm(plug.hole, padded=True), place=point(plug.mouth))
        for plug in (plugs.plugs if plugs is not None else ())
    )


def plugged(plugs: Plugs) -> list[str]:
    """The plugs in a few lines, for the panel."""
    return [
        filled(
            "Plug for the hole of {hole} mm at {place}: it closes off {area} cm2, {share} % of the plated area",
            hole=mm(plug.hole, padded=True),
            place=point(plug.mouth),
            area=figure(plug.area / CM2, 2),
            share=figure(100 * plug.share, 2),
        )
        for plug in plugs.plugs
    ]


def hanger_lines(hanger: Hanger) -> list[str]:
    """The hanger in a few lines, for the panel."""
    if hanger.cage is not None:
        return _caged(hanger, hanger.cage)
    fixed = (
        "Fix a wire of its own at {place}, pull it up the groove with {pull} g"
        if hanger.own_wire
        else "Fix the wire at {place}, pull it up the groove with {pull} g"
    )
    lines: list[str] = [
        filled(
            "{length} mm long, {mass} g of {plastic}, printed solid on its back",
            length=mm(hanger.length, 0),
            mass=figure(hanger.mass / GRAM, 2),
            plastic=hanger.plastic,
        ),
        filled(fixed, place=point(hanger.wire), pull=figure(hanger.pull / GRAM, 2)),
    ]
    return [*lines, FLOATING] if hanger.lashed else lines


def costs(name: str, results: Results) -> list[str]:
    """What a helper costs the part, as far as that was computed, for the panel. name : of the analysis that made it"""
    helper, shade = getattr(results, name), getattr(results, BY_ANALYSIS[name].effect)
    lines: list[str] = []
    if name != "plugs" and (results.gas is not None or results.gas_hung is not None):
        gas_ml = (helper if BY_ANALYSIS[name].on_part or name == "hanger" else helper.printed).gas / ML
        if gas_ml >= MIN_GAS_ML:
            lines.append(filled("Gas that it and the part keep together: {gas} mL", gas=figure(gas_ml, 2)))
        else:
            lines.append("No gas is kept between it and the part")
    if shade is None:
        return lines
    solved = "Solved with it in the bath: thinnest {now} um, {before} um without"
    lines.append(filled(solved, now=figure(shade.thinnest / UM, 2), before=figure(shade.thinnest_before / UM, 2)))
    if name != "plugs" and shade.area / CM2 >= MIN_SHADED_CM2:
        lost = "{area} cm2 lose more than a tenth of their deposit"
        lines.append(filled(lost, area=figure(shade.area / CM2, 2)))
    return lines


def together(results: Results) -> list[str]:
    """What all that was made does to the deposit at once, for the panel; nothing where that was not computed."""
    joint = results.helpers_field
    if joint is None:
        return []
    lines: list[str] = [
        filled(
            "All at once in the bath ({what}): thinnest {now} um, {before} um without",
            what=words.listed([KINDS[name] for name in joint.names]),
            now=figure(joint.thinnest / UM, 2),
            before=figure(joint.thinnest_before / UM, 2),
        ),
        filled(
            "The thin end gets {now} % of the thick end, {before} % without it",
            now=figure(100 * joint.even, 2),
            before=figure(100 * joint.even_before, 2),
        ),
    ]
    if joint.area / CM2 >= MIN_SHADED_CM2:
        lost = "{area} cm2 lose more than a tenth of their deposit"
        lines.append(filled(lost, area=figure(joint.area / CM2, 2)))
    return lines


def _caged(hanger: Hanger, cage: Cage) -> list[str]:
    fixed = "Fix a wire of its own at {place}, lead it out between the bars"
    free = "The part can move by {shift} mm in it and turn freely"
    lines: list[str] = [
        filled(
            "Two plates with {bars} bars between them, {length} mm long, {mass} g of {plastic}, each printed on its"
            " outer side",
            bars=cage.bars,
            length=mm(hanger.length, 0),
            mass=figure(hanger.mass / GRAM, 2),
            plastic=hanger.plastic,
        ),
        filled(
            fixed if hanger.own_wire else "Fix the wire at {place}, lead it out between the bars",
            place=point(hanger.wire),
        ),
        filled(free, shift=mm(cage.shift))
        if cage.turn is None
        else filled(
            "The part can move by {shift} mm in it and turn by {turn} degrees",
            shift=mm(cage.shift),
            turn=f"{np.degrees(cage.turn):.0f}",
        ),
    ]
    return [*lines, FLOATING] if hanger.lashed else lines
