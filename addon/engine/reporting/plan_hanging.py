"""How the part hangs, in the plan's words: the way up of the step, ballast, and the other ways in the appendix."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..reasons import BESIDE_NEXT, ReasonCode
from ..trapping.bores import NEGLIGIBLE_VOLUME_M3
from ..units import CM2, GRAM, ML
from . import plan_rack, reason_text, words
from .filled import filled, joined
from .instructions_after import After
from .plan_text import Line, Section, area, figure, note, point, step

if TYPE_CHECKING:
    from ..hanging.suggestion import Suggestion
    from .plan_bench import Bench

MAX_OTHER_WAYS = 2  # further ways up that the appendix lists
MIN_REPORTED_AREA_M2 = 0.01 * CM2  # that stays spoilt in two ways up
# Whether the part changes to the second way, whether area stays spoilt even so -> what two ways in turn gain
IN_TURN = {
    (False, False): "Two positions in turn would leave {gain} less spoiled: first {first}, from half time {second}.",
    (
        False,
        True,
    ): "Two positions in turn would leave {gain} less spoiled; {missed} stay spoiled even so: first"
    " {first}, from half time {second}.",
    (True, False): "Two positions in turn leave {gain} less spoiled: begin {first}.",
    (True, True): "Two positions in turn leave {gain} less spoiled; {missed} stay spoiled even so: begin {first}.",
}
MAX_SAME_WAY_DIFFERENCE = 1e-3  # of a direction's components: closer ways up count as equal


def way(bench: Bench) -> str:
    """How to hold the part as it goes in."""
    up = _up(bench)
    return direction_text(up)


def direction_text(up: Iterable[float]) -> str:
    """A way up in words and as a direction."""
    up = tuple(up)
    return filled("{way} {direction}", way=words.way_up(up), direction=toward(up))


def _up(bench: Bench) -> NDArray[np.float64]:
    """(3,) the way up that the part goes in."""
    return np.asarray(bench.up if bench.hangs is None else bench.hangs.up, dtype=float)


def way_up_and_hold(bench: Bench) -> str:
    """The way up, and what keeps it under: a rigid wire where the part floats, else the weight that keeps its wire
    taut."""
    held = way(bench)
    if bench.hung is None:
        return held
    if bench.hung.rigid_wire is not None:
        if bench.coat is not None and len(bench.coat.wires) > 1:
            return filled("{way}, wire 1, the rigid one, clamped above", way=held)
        return filled("{way}, its rigid wire clamped above", way=held)
    return filled("{way}, with {ballast}", way=held, ballast=_weight(bench)) if bench.hung.ballast > 0 else held


def _weight(bench: Bench) -> str:
    """The ballast of a flexible wire."""
    assert bench.hung is not None
    hold = None if bench.hangs is None else bench.hangs.hold
    mass = figure(bench.hung.ballast / GRAM, 2)
    if hold is None or not hold.tether:
        return filled("{mass} g of copper tied below it, lacquered all over", mass=mass)
    places = words.listed([point(place) for place in hold.points])
    return filled("{mass} g of copper tied at {places}, lacquered all over", mass=mass, places=places)


def toward(up: Iterable[float]) -> str:
    """A direction as the model's axes have it."""
    x, y, z = (f"{round(float(value), 2) + 0.0:g}" for value in up)
    return filled("(model direction {direction} up)", direction=f"{x}, {y}, {z}")


def section(bench: Bench) -> Section | None:
    """Reasons for the hanging position, alternatives, two positions in turn where they pay, and the copies in the
    tank."""
    hung, hangs = bench.hung, bench.hangs
    others = [] if hung is None else [suggestion for suggestion in hung.suggestions if suggestion is not hangs]
    lines: list[Line] = []
    if hung is None:
        lines.append(note(bench.missing("hanging", "Hanging positions")))
    if hangs is not None:
        lines.append(
            note(
                filled(
                    "Hung as the steps say, it {reasons}.",
                    reasons=_reasons(hangs, rigid=hung is not None and bool(hung.rigid_wire), last=not others),
                )
            )
        )
    if hung is not None and hung.rigid_wire is not None and hung.ballast > 0:
        lines.append(note(filled("On a flexible wire it rises: then with {ballast}.", ballast=_weight(bench))))
    lines += [note(text) for text in _as_modeled(bench)]
    listed = others[:MAX_OTHER_WAYS]
    for other in listed:
        reasons = _reasons(other, last=other is listed[-1])
        lines.append(note(filled("Also possible, {way}: {reasons}.", way=direction_text(other.up), reasons=reasons)))
    lines += _in_turn(bench)
    lines += [note(text) for text in bench.at("rack")]
    lines += plan_rack.lines(bench)
    return Section("Hanging", tuple(lines)) if lines else None


def _as_modeled(bench: Bench) -> list[str]:
    """Gas and drag-out as modeled, where the part hangs another way."""
    gas, drainage = bench.study.results.gas, bench.study.results.drainage
    if not bench.study.turned or gas is None or drainage is None:
        return []
    if max(gas.trapped_volume, drainage.held_volume) < NEGLIGIBLE_VOLUME_M3:
        return []
    volumes = (gas.trapped_volume, drainage.held_volume)
    traps, holds = (figure(volume / ML, 2) if volume >= NEGLIGIBLE_VOLUME_M3 else "0" for volume in volumes)
    template = "As modeled {direction} it would trap {gas} mL of gas and hold {bath} mL of bath."
    return [filled(template, direction=toward(bench.job.part.up), gas=traps, bath=holds)]


def _reasons(suggestion: Suggestion, rigid: bool = False, last: bool = False) -> str:
    """rigid : whether a rigid wire holds it, so that its ballast is no reason; last : whether no next one is listed"""
    reasons = [reason for reason in suggestion.reasons if not (rigid and reason.code is ReasonCode.ON_BALLAST)]
    reasons = [reason for reason in reasons if not (last and reason.code in BESIDE_NEXT)]
    return joined(reason_text.texts(reasons), "; ")


def turns(bench: Bench) -> bool:
    """Whether the part changes to a second way up at half time: that pays, and it goes in as the first of the two."""
    pair = None if bench.hung is None else bench.hung.pair
    if pair is None or bench.schedule is None or bench.unbroken:
        return False
    return pair.pays and np.allclose(pair.first.up, _up(bench), atol=MAX_SAME_WAY_DIFFERENCE)


def _in_turn(bench: Bench) -> list[Line]:
    """The second way up, as a step of its own with its own wires, where it pays; where the part goes in otherwise, both
    as what could be done instead."""
    pair = None if bench.hung is None else bench.hung.pair
    if pair is None or not pair.pays or bench.unbroken:
        return []
    first, second = direction_text(pair.first.up), direction_text(pair.second.up)
    turned = turns(bench)
    ways = filled(
        IN_TURN[turned, pair.missed > MIN_REPORTED_AREA_M2],
        gain=area(pair.gain),
        missed=area(pair.missed),
        first=first,
        second=second,
    )
    if not turned:
        return [note(ways)]
    hold = pair.second.hold
    if hold is None or hold.wires == 0:
        return [note(ways), step(After.TURN.say(way=second))]
    wires = words.listed([point(at) for at in hold.points])
    return [note(ways), step(After.TURN_WIRED.say(way=second, wires=wires))]
