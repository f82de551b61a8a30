"""How the part hangs, in the plan's words: the way up of the step, ballast, and the other ways in the appendix."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..reasons import ReasonCode
from ..units import CM2, GRAM, ML
from . import plan_rack, reason_text, words
from .instructions_after import After
from .plan_text import Line, Section, area, figure, note, point, step

if TYPE_CHECKING:
    from ..hanging.rank import Suggestion
    from .plan_bench import Bench

MAX_OTHER_WAYS = 2  # further ways up that the appendix lists
MAX_SAME_WAY_DIFFERENCE = 1e-3  # of a direction's parts: nearer, two ways up are one


def way(bench: Bench) -> str:
    """How to hold the part as it goes in."""
    up = _up(bench)
    return f"{words.way_up(up)} {toward(up)}"


def _up(bench: Bench) -> NDArray[np.float64]:
    """(3,) the way up that the part goes in."""
    return np.asarray(bench.up if bench.hangs is None else bench.hangs.up, dtype=float)


def ballast(bench: Bench) -> str:
    """What keeps it under: a rigid wire where the part floats, else the weight that keeps its wire taut."""
    if bench.hung is None:
        return ""
    if bench.hung.rigid_wire is not None:
        return ", its rigid wire clamped above"
    return f", with {_weight(bench)}" if bench.hung.ballast > 0 else ""


def _weight(bench: Bench) -> str:
    """The ballast of a flexible wire."""
    assert bench.hung is not None
    kept = None if bench.hangs is None else bench.hangs.hold
    at = f"at {words.listed([point(one) for one in kept.points])}" if kept is not None and kept.tether else "below it"
    return f"{figure(bench.hung.ballast / GRAM, 2)} g of copper tied {at}, lacquered all over"


def toward(up: Iterable[float]) -> str:
    """A direction as the model's axes have it."""
    x, y, z = (f"{round(float(value), 2) + 0.0:g}" for value in up)
    return f"(model direction {x}, {y}, {z} up)"


def section(bench: Bench) -> Section | None:
    """Why it hangs so, what it would do otherwise, two ways in turn where they pay; the copies in the tank."""
    hung, hangs = bench.hung, bench.hangs
    lines: list[Line] = []
    if hung is None:
        lines.append(note(bench.missing("hanging", "Ways to hang it")))
    if hangs is not None:
        lines.append(
            note(f"Hung as the steps say, it {_reasons(hangs, rigid=hung is not None and bool(hung.rigid_wire))}.")
        )
    if hung is not None and hung.rigid_wire is not None and hung.ballast > 0:
        lines.append(note(f"On a flexible wire it rises: then with {_weight(bench)}."))
    lines += [note(one) for one in _as_modeled(bench)]
    others = [] if hung is None else [one for one in hung.suggestions if one is not hangs]
    for other in others[:MAX_OTHER_WAYS]:
        lines.append(note(f"Also possible, {words.way_up(other.up)} {toward(other.up)}: {_reasons(other)}."))
    lines += _in_turn(bench)
    lines += [note(one) for one in bench.at("rack")]
    lines += plan_rack.lines(bench)
    return Section("Hanging", tuple(lines)) if lines else None


def _as_modeled(bench: Bench) -> list[str]:
    """What gas and bath would do the way the model stands, where the part hangs otherwise."""
    gas, drainage = bench.study.results.gas, bench.study.results.drainage
    if not bench.study.turned or gas is None or drainage is None:
        return []
    traps, holds = (f"{figure(one / ML, 2)} mL" for one in (gas.trapped_volume, drainage.held_volume))
    return [f"As modeled {toward(bench.job.part.up)} it would trap {traps} of gas and hold {holds} of bath."]


def _reasons(one: Suggestion, rigid: bool = False) -> str:
    """rigid : whether a rigid wire holds it, so that its ballast is no reason"""
    kept = [reason for reason in one.reasons if not (rigid and reason.code is ReasonCode.ON_BALLAST)]
    return "; ".join(reason_text.texts(kept))


def turns(bench: Bench) -> bool:
    """Whether the part changes to a second way up at half time: that pays, and it goes in as the first of the two."""
    pair = None if bench.hung is None else bench.hung.pair
    if pair is None or bench.schedule is None:
        return False
    return pair.pays and np.allclose(pair.first.up, _up(bench), atol=MAX_SAME_WAY_DIFFERENCE)


def _in_turn(bench: Bench) -> list[Line]:
    """The second way up, as a step of its own with its own wires, where it pays; where the part goes in otherwise, both
    as what could be done instead."""
    pair = None if bench.hung is None else bench.hung.pair
    if pair is None or not pair.pays:
        return []
    first, second = (f"{words.way_up(one.up)} {toward(one.up)}" for one in (pair.first, pair.second))
    left = f"; {area(pair.missed)} stay spoilt even so" if pair.missed > 0.01 * CM2 else ""
    if not turns(bench):
        way = f"first {first}, from half time {second}"
        return [note(f"Two ways up in turn would leave {area(pair.gain)} less spoilt{left}: {way}.")]
    kept = pair.second.hold
    wires = "" if kept is None or kept.wires == 0 else words.listed([point(at) for at in kept.points])
    return [
        note(f"Two ways up in turn leave {area(pair.gain)} less spoilt{left}: begin {first}."),
        step(After.TURN.say(way=second, wires=f", wires at {wires}" if wires else "")),
    ]
