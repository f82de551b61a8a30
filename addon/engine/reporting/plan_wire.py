"""The plan's lines on the wire, from what the coat bears."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..units import MM
from . import words
from .plan_text import area, figure, length, note, point

if TYPE_CHECKING:
    from ..coat.result import CoatResult

SHARE = 0.05  # of its current that a bare wire may take for itself unsaid
WARM = 2.0  # K that a wire may warm unsaid


def wires(coat: CoatResult) -> str:
    """The wires as the coat was reckoned with them: which, where, what they lose, and what becomes of their marks."""
    at = words.listed([f"{point(wire.point)} ({wire.place}), pad {length(wire.pad)}" for wire in coat.wires])
    wire = coat.wire
    warm = f", {figure(wire.rise, 1)} K warm in air" if wire.rise > WARM else ""
    said = [
        f"bare copper, {figure(wire.diameter / MM, 2)} mm (gauge {wire.gauge}{warm}), at {at}; tight, under a dab"
        f" of the"
        " coat."
    ]
    if wire.takes > SHARE * wire.current:
        said.append(f"Lacquer the rest of it: bare it takes {figure(wire.takes, 2)} A.")
    if coat.worst_drop > 0:
        said.append(f"The bare coat loses {figure(coat.worst_drop, 2)} V at the full current.")
    if coat.wires_needed is not None and coat.wires_needed > len(coat.wires):
        said.append(f"{coat.wires_needed} wires bring that under {figure(coat.drop_limit, 2)} V.")
    second = [f"{point(one.second)} ({one.second_place})" for one in coat.wires if one.second is not None]
    if second:
        it = "it" if len(coat.wires) == 1 else "each"
        said.append(f"At half time move {it} to {words.listed(second)}, to plate its mark.")
    else:
        said.append("Its mark stays bare: touch it up afterwards.")
    return " ".join(said)


def bare(coat: CoatResult) -> list[str]:
    """What the deposit never closes over."""
    lost = sum(one.area for one in coat.never)
    if not lost > 0:
        return []
    where = words.listed([one.place for one in coat.never])
    return [note(f"{area(lost)} stay bare, {where}: too far from any wire or anode.")]
