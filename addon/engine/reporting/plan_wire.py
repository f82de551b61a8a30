"""The plan's lines on the wires: which, where, their losses, and their contact marks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from ..coat import wires as placing
from ..coat.sheet import Pad
from ..geometry.location import Location, locate
from ..settings.part import Wire
from ..units import MM
from . import words
from .filled import filled
from .instructions_at_step import AtStep
from .plan_text import Line, Section, area, figure, note, point

if TYPE_CHECKING:
    from ..coat.contact import Contact
    from ..coat.result import WirePlace
    from ..mesh.surface import Surface
    from .plan_bench import Bench

MAX_IGNORED_STOLEN_SHARE = 0.05  # of its current: a bare wire that takes less is not mentioned
# Whether there are several, whether the width of their spots is known -> the wires, as the object of "fix"
NAMED = {
    (False, False): "a bare copper wire at {places}",
    (False, True): "a bare copper wire at {places}, with a contact {pad} mm wide",
    (True, False): "{count} bare copper wires at {places}",
    (True, True): "{count} bare copper wires at {places}, each with a contact {pad} mm wide",
}
MAX_FREE_DROP_SHARE = 0.1  # of the loss that calls for another wire: below it a wire may touch anywhere
SAME_PLACE_M = 1e-6  # m, wires closer than this are one, up to rounding
MAX_NAMED_WIRES = 3  # wires named in a step; more are in a table


def wires(bench: Bench, letters: Mapping[str, str]) -> str:
    """The wires of the job, else the best suggestions, else a rule for choosing one: as the object of "fix"."""
    coat, contacts = bench.coat, bench.contacts
    if hung_alone(bench) and bench.hangs is not None and bench.hangs.hold is not None:
        return _named([bench.where(place) for place in bench.hangs.hold.points], "")
    if coat is not None and coat.wires:
        if len(coat.wires) > MAX_NAMED_WIRES:
            template = "{count} bare copper wires at the places of table {letter}"
            return filled(template, count=len(coat.wires), letter=letters["wires"])
        pad = figure(max(wire.pad for wire in coat.wires) / MM, 2)
        return _named([_place(wire) for wire in coat.wires], pad)
    specified = [bench.where(wire.point) for wire in bench.job.wires if wire.point is not None]
    if specified:
        return _named(specified, "")
    if contacts is not None and contacts.ranked:
        return _named([_place(contact) for contact in contacts.best[:MAX_NAMED_WIRES]], "")
    return "a bare copper wire on a face that does not show, outside every hollow, near the middle of the part"


def _named(places: list[str], pad: str) -> str:
    """pad : mm, width of the spots, or "" where they are not known"""
    template = NAMED[len(places) > 1, bool(pad)]
    return filled(template, count=len(places), places=words.listed(places), pad=pad)


def _place(wire: WirePlace | Contact) -> str:
    return _placed(wire.point, wire.place)


def _placed(spot: Iterable[float], place: Location | None) -> str:
    return filled("{point} ({place})", point=point(spot), place=words.place_name(place))


def more(bench: Bench) -> list[str]:
    """Where further wires belong, where the coat needs more than there are."""
    coat, contacts = bench.coat, bench.contacts
    if coat is None or contacts is None or coat.wires_needed is None or coat.wires_needed <= len(coat.wires):
        return []
    pads = [_pad(wire) for wire in coat.wires]
    count = coat.wires_needed - len(coat.wires)
    pads_found = placing.suggested_pads(contacts, pads, [Wire(pad=coat.wires[0].pad)] * min(count, MAX_NAMED_WIRES))
    surface = bench.study.surface
    places = words.listed([_placed(pad.centre, _located(surface, bench, pad)) for pad in pads_found])
    return (
        [AtStep.MORE_WIRES.say(count=words.counted(len(pads_found), "more wire"), places=places)] if pads_found else []
    )


def hung_alone(bench: Bench) -> bool:
    """Whether the wires that hold the part also feed it, in place of the single wire suggested, whose loss is
    negligible."""
    hold, coat = None if bench.hangs is None else bench.hangs.hold, bench.coat
    if coat is None or len(coat.wires) != 1 or not coat.wires[0].suggested or hold is None or not hold.wires:
        return False
    if hold.tether or (bench.hung is not None and bench.hung.rigid_wire):
        return False
    return bench.metal_part or coat.worst_drop < MAX_FREE_DROP_SHARE * coat.drop_limit


def carrying(bench: Bench) -> frozenset[int]:
    """Which wires of the coat, from 0, hold the part the way it hangs: the first where a rigid one does; none where
    ballast does."""
    hold = None if bench.hangs is None else bench.hangs.hold
    if bench.coat is None or not bench.coat.wires:
        return frozenset()
    if bench.hung is not None and bench.hung.rigid_wire:
        return frozenset({0})
    if hold is None or hold.tether:
        return frozenset()
    if hung_alone(bench):
        return frozenset(range(len(bench.coat.wires)))
    return frozenset(
        number
        for number, wire in enumerate(bench.coat.wires)
        if len(hold.points) and np.linalg.norm(hold.points - wire.point, axis=1).min() < SAME_PLACE_M
    )


def beside(bench: Bench) -> list[str]:
    """Where the part is held, if none of the coat's wires keeps it the way up that the steps say."""
    hold = None if bench.hangs is None else bench.hangs.hold
    if hold is None or not hold.wires or hold.tether or (bench.hung is not None and bench.hung.rigid_wire):
        return []
    if carrying(bench) or bench.coat is None or not bench.coat.wires:
        return []
    places = words.listed([bench.where(place) for place in hold.points])
    return [(AtStep.CARRIER if hold.wires == 1 else AtStep.CARRIERS).say(places=places)]


def _pad(wire: WirePlace) -> Pad:
    x, y, z = (float(value) for value in wire.point)
    return Pad((x, y, z), wire.pad, wire.face)


def _located(surface: Surface, bench: Bench, pad: Pad) -> Location:
    return locate(surface.bounds, bench.up, pad.centre, surface.normal[pad.face])


def moved(bench: Bench) -> str:
    """Where wires move to at half time, so that their marks are plated too; "" where they stay."""
    coat, fixed = bench.coat, carrying(bench)
    wires = () if coat is None or bench.unbroken else coat.wires
    second = [wire for k, wire in enumerate(wires) if wire.second is not None and k not in fixed]
    if not second:
        return ""
    if len(second) > MAX_NAMED_WIRES:
        return "move each wire that has a second place there"
    to = words.listed([_placed(wire.second, wire.second_place) for wire in second if wire.second is not None])
    numbers = [str(k + 1) for k, wire in enumerate(wires) if wire.second is not None and k not in fixed]
    if len(wires) == 1:
        return filled("move the wire to {places}, so that its mark is plated too", places=to)
    if len(numbers) == 1:
        template = "move wire {numbers} to {places}, so that its mark is plated too"
    else:
        template = "move wires {numbers} to {places}, so that their marks are plated too"
    return filled(template, numbers=words.listed(numbers), places=to)


def table(bench: Bench) -> Section | None:
    """Every wire by number: the coat's loss, the current taken by bare wire, the contact marks."""
    coat = bench.coat
    if coat is None or not coat.wires:
        return None
    lines = []
    fixed, share = carrying(bench), _share_of_computed(bench)
    unmoved = [bench.unbroken or k in fixed or wire.second is None for k, wire in enumerate(coat.wires)]
    if len(coat.wires) > MAX_NAMED_WIRES:
        for number, wire in enumerate(coat.wires, 1):
            template = "{number}. {place}, {current} A; second place {second}"
            if unmoved[number - 1]:
                template = "{number}. {place}, {current} A"
            second = "" if wire.second is None else point(wire.second)
            current = figure(share * wire.current, 2)
            lines.append(note(filled(template, number=number, place=_place(wire), current=current, second=second)))
    advice = coat.wire
    if advice.takes > MAX_IGNORED_STOLEN_SHARE * advice.current:
        takes = "A bare wire takes {current} A for itself, so it is lacquered under the bath."
        lines.append(note(filled(takes, current=figure(advice.takes, 2))))
    if coat.worst_drop > 0 and coat.wires_needed is not None and coat.wires_needed <= len(coat.wires):
        loses = "The bare coat loses {voltage} V at the full current."
        lines.append(note(filled(loses, voltage=figure(coat.worst_drop, 2))))
    if any(unmoved) or beside(bench):
        lines.append(note("A wire that is not moved leaves a bare mark."))
    return Section("Wires", tuple(lines)) if lines else None


def _share_of_computed(bench: Bench) -> float:
    """Of the currents of the wires as computed, that the plan sets in the end: what of the supply one part takes."""
    timetable, coat = bench.schedule, bench.coat
    computed = 0.0 if coat is None else sum(wire.current for wire in coat.wires)
    if timetable is None or not computed > 0:
        return 1.0
    return (1.0 - timetable.thief_share) * timetable.full_current / bench.copies / computed


def bare(bench: Bench) -> list[Line]:
    """Areas that the deposit never covers, unless a finding reports them."""
    coat = bench.coat
    lost = 0.0 if coat is None else sum(patch.area for patch in coat.never)
    if coat is None or not lost > 0 or coat.findings:
        return []
    places = words.listed([words.place_name(patch.place) for patch in coat.never])
    return [note(filled("{area} stay bare, {places}.", area=area(lost), places=places))]
