"""The plan's lines on the wires: which, where, what they lose, and what becomes of their marks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from ..coat import wires as placing
from ..coat.sheet import Pad
from ..geometry.location import Location, locate
from ..settings.part import Wire
from ..units import MM
from . import words
from .instructions_after import AtStep
from .plan_text import Line, Section, area, figure, note, point

if TYPE_CHECKING:
    from ..coat.contact import Contact
    from ..coat.result import WirePlace
    from ..mesh.surface import Surface
    from .plan_bench import Bench

MAX_UNTOLD_STOLEN_SHARE = 0.05  # of its current that a bare wire may take for itself unsaid
MAX_NAMED_WIRES = 3  # wires that a step names; more stand in a table


def wires(bench: Bench, letters: Mapping[str, str]) -> str:
    """The wires of the job, else the best suggestions, else a rule for choosing one: as the object of "fix"."""
    coat, contacts = bench.coat, bench.contacts
    if coat is not None and coat.wires:
        if len(coat.wires) > MAX_NAMED_WIRES:
            return f"{len(coat.wires)} bare copper wires at the places of table {letters['wires']}"
        pad = figure(max(wire.pad for wire in coat.wires) / MM, 2)
        return _named([_place(wire) for wire in coat.wires], f", each with a spot {pad} mm wide")
    given = [bench.where(wire.point) for wire in bench.job.wires if wire.point is not None]
    if given:
        return _named(given, "")
    if contacts is not None and contacts.ranked:
        return _named([_place(one) for one in contacts.best[:MAX_NAMED_WIRES]], "")
    return "a bare copper wire on a face that does not show, outside every hollow, near the middle of the part"


def _named(places: list[str], spot: str) -> str:
    what = "a bare copper wire" if len(places) == 1 else f"{len(places)} bare copper wires"
    return f"{what} at {words.listed(places)}{spot if len(places) > 1 else spot.replace(', each with', ', with')}"


def _place(wire: WirePlace | Contact) -> str:
    return f"{point(wire.point)} ({words.told(wire.place)})"


def more(bench: Bench) -> list[str]:
    """Where further wires belong, where the coat needs more than there are."""
    coat, contacts = bench.coat, bench.contacts
    if coat is None or contacts is None or coat.wires_needed is None or coat.wires_needed <= len(coat.wires):
        return []
    pads = [_pad(wire) for wire in coat.wires]
    count = coat.wires_needed - len(coat.wires)
    found = placing.suggested(contacts, pads, [Wire(pad=coat.wires[0].pad)] * min(count, MAX_NAMED_WIRES))
    surface = bench.study.surface
    places = words.listed([f"{point(pad.centre)} ({words.told(_located(surface, bench, pad))})" for pad in found])
    return [AtStep.MORE_WIRES.say(count=words.counted(len(found), "more wire"), places=places)] if found else []


def _pad(wire: WirePlace) -> Pad:
    x, y, z = (float(value) for value in wire.point)
    return Pad((x, y, z), wire.pad, wire.face)


def _located(surface: Surface, bench: Bench, pad: Pad) -> Location:
    return locate(surface.bounds, bench.up, pad.centre, surface.normal[pad.face])


def moved(bench: Bench) -> str:
    """Where wires move to at half time, so that their marks are plated too; "" where they stay."""
    coat = bench.coat
    second = [] if coat is None else [one for one in coat.wires if one.second is not None]
    if not second:
        return ""
    if len(second) > MAX_NAMED_WIRES:
        return "move each wire to its second place"
    to = words.listed(
        [f"{point(one.second)} ({words.told(one.second_place)})" for one in second if one.second is not None]
    )
    numbers = [str(number) for number, one in enumerate(coat.wires, 1) if one.second is not None] if coat else []
    which = (
        "the wire"
        if coat is not None and len(coat.wires) == 1
        else f"wire{'s' if len(numbers) > 1 else ''} {words.listed(numbers)}"
    )
    marks = "its mark is" if len(second) == 1 else "their marks are"
    return f"move {which} to {to}, so that {marks} plated too"


def table(bench: Bench) -> Section | None:
    """Every wire by number, what the coat loses, what a bare wire takes, what becomes of the marks."""
    coat = bench.coat
    if coat is None or not coat.wires:
        return None
    lines = []
    if len(coat.wires) > MAX_NAMED_WIRES:
        for number, wire in enumerate(coat.wires, 1):
            second = "" if wire.second is None else f"; second place {point(wire.second)}"
            lines.append(note(f"{number}. {_place(wire)}, {figure(wire.current, 2)} A{second}"))
    advice = coat.wire
    if advice.takes > MAX_UNTOLD_STOLEN_SHARE * advice.current:
        lines.append(
            note(f"A bare wire takes {figure(advice.takes, 2)} A for itself, so it is lacquered under the bath.")
        )
    if coat.worst_drop > 0 and coat.wires_needed is not None and coat.wires_needed <= len(coat.wires):
        lines.append(note(f"The bare coat loses {figure(coat.worst_drop, 2)} V at the full current."))
    if any(wire.second is None for wire in coat.wires):
        lines.append(note("A wire that is not moved leaves a bare mark."))
    return Section("Wires", tuple(lines)) if lines else None


def bare(bench: Bench) -> list[Line]:
    """What the deposit never closes over, where no finding says it."""
    coat = bench.coat
    lost = 0.0 if coat is None else sum(one.area for one in coat.never)
    if coat is None or not lost > 0 or coat.findings:
        return []
    return [note(f"{area(lost)} stay bare, {words.listed([words.told(one.place) for one in coat.never])}.")]
