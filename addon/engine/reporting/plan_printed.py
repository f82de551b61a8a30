"""What is printed to stand in the tank, in the plan and on the panel: rack, anode holders, shields, thief."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from ..helpers.anode_holder import AnodeHolders
from ..helpers.printed import Printed
from ..helpers.rack import RackMade
from ..helpers.shield import ShieldMade
from ..helpers.thief import ThiefMade
from ..units import GRAM, MM, mm
from . import words
from .filled import Filled, filled, sentence
from .instructions_helpers import Printing, Standing
from .plan_text import figure

if TYPE_CHECKING:
    from ..study.results import Results

THIEF_TAKES = "Thieves then take {share} % of the current: set {factor} times the currents of this plan"


class _HelpersOnRods(NamedTuple):
    rack: RackMade | None
    anodes: AnodeHolders | None
    shield: ShieldMade | None
    thief: ThiefMade | None


def _helpers_on_rods(results: Results) -> _HelpersOnRods:
    return _HelpersOnRods(results.rack_holder, results.anode_holder, results.shield, results.thief)


def printing(results: Results) -> list[str]:
    """How they are printed."""
    rack, anodes, shield, thief = _helpers_on_rods(results)
    lines: list[str] = []
    if rack is not None:
        lines.append(Printing.RACK.say(plastic=rack.printed.plastic))
    if anodes is not None:
        lines.append(Printing.ANODE_HOLDER.say(count=anodes.printed.bodies, plastic=anodes.printed.plastic))
    if shield is not None:
        lines.append(Printing.SHIELD.say(count=shield.printed.bodies, plastic=shield.printed.plastic))
    if thief is not None:
        lines.append(Printing.THIEF.say(plastic=thief.printed.plastic))
    return lines


def before(results: Results) -> list[str]:
    """What is set up in the tank before the part goes in."""
    rack, anodes, shield, thief = _helpers_on_rods(results)
    lines: list[str] = []
    if anodes is not None:
        lines.append(Standing.ANODE_HOLDER.say(anodes=words.listed(list(anodes.plates))))
    rods = [(helper.rods, helper.rod) for helper in (rack, shield, thief) if helper is not None]
    for apart, rod in dict.fromkeys(rods):
        lines.append(Standing.RODS.say(rod=mm(rod, 2), apart=mm(apart, 0)))
    if shield is not None:
        lines.append(Standing.SHIELD.say(off=words.listed([mm(off, 0) for off in sorted(set(shield.places))])))
    if thief is not None:
        lines.append(Standing.THIEF.say(wire=mm(thief.wire), length=mm(thief.length, 0)))
        lines.append(sentence(_taken(thief)))
    helpers = (("rack", rack), ("anode holders", anodes), ("shields", shield), ("thief", thief))
    lifted = [name for name, helper in helpers if helper is not None and helper.printed.floats]
    if lifted:
        lines.append(Standing.TIED.say(what=words.listed(lifted)))
    return lines


def entering(results: Results) -> list[str]:
    """How the copies go into the bath."""
    return [] if results.rack_holder is None else [Standing.RACK.say()]


def summary(helper: RackMade | AnodeHolders | ShieldMade | ThiefMade) -> list[str]:
    """One helper in a few lines, for the panel."""
    lines = [*_SUMMARIES[type(helper)](helper), _weight(helper.printed)]
    return [*lines, filled("The bath lifts it: tie it down")] if helper.printed.floats else lines


def _rack(rack: RackMade) -> list[str]:
    return [
        filled(
            "Rack for {copies} parts in {rows} rows, on two rods {apart} mm from the tank's middle",
            copies=rack.copies,
            rows=rack.rows,
            apart=mm(rack.rods, 0),
        )
    ]


def _anodes(holders: AnodeHolders) -> list[str]:
    return [
        filled(
            "{count} strips for plates of {plate} mm on a rim of {rim} mm",
            count=sum(holders.strips),
            plate=mm(holders.plate, 2),
            rim=mm(holders.rim, 2),
        )
    ]


def _shield(shield: ShieldMade) -> list[str]:
    wide, tall = shield.window
    return [
        filled(
            "{count} frames {off} mm off the part, window {wide} x {tall} mm, on two rods {apart} mm from the tank's"
            " middle",
            count=shield.printed.bodies,
            off=mm(min(shield.places), 0),
            wide=mm(wide, 0),
            tall=mm(tall, 0),
            apart=mm(shield.rods, 0),
        ),
        _even(shield.even_before, shield.even),
    ]


def _thief(thief: ThiefMade) -> list[str]:
    return [
        filled(
            "Former for {length} mm of bare wire, {wire} mm thick, {off} mm round the part, on two rods {apart} mm from"
            " the tank's middle",
            length=mm(thief.length, 0),
            wire=mm(thief.wire),
            off=mm(thief.away, 0),
            apart=mm(thief.rods, 0),
        ),
        _even(thief.even_before, thief.even),
        _taken(thief),
    ]


def _taken(thief: ThiefMade) -> Filled:
    return filled(THIEF_TAKES, share=figure(100 * thief.share, 2), factor=figure(thief.times, 2))


def _even(before: float, now: float) -> Filled:
    return filled(
        "The thin end gets {now} % of the thick end, {before} % without it",
        now=figure(100 * now, 2),
        before=figure(100 * before, 2),
    )


def _weight(helper: Printed) -> Filled:
    low, high = helper.bounds
    size = sorted((high - low) / MM)
    return filled(
        "{mass} g of {plastic}, {long} x {wide} mm on the printer",
        mass=figure(helper.mass / GRAM, 2),
        plastic=helper.plastic,
        long=f"{size[2]:.0f}",
        wide=f"{size[1]:.0f}",
    )


_SUMMARIES: Mapping[type, Callable[[Any], list[str]]] = {
    RackMade: _rack,
    AnodeHolders: _anodes,
    ShieldMade: _shield,
    ThiefMade: _thief,
}
