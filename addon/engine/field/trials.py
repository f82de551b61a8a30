"""Ways to plate a part that were tried: what each gains, and their order."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..filled import filled, joined
from ..settings.tank import Anode

MIN_UNIFORMITY_GAIN = 0.05  # thinnest/mean closer than this are not told apart at a preview's resolution
MAX_DEEP_UNIFORMITY = 0.3  # thinnest/mean of a place that other anodes do not reach


@dataclass(frozen=True)
class Trial:
    """One way to plate the part.

    name : what is done; why : what it does to the deposit, against the job as it is
    uniformity : thinnest over mean, of show faces where any are marked, of all copies
    low : what all but the thinnest 5 % of the area exceed, over the mean
    density : A/m2, mean; time : s to the wanted mean thickness; time_thinnest : s until the thinnest place has it
    voltage : V; shares : current of each copy over their mean
    anodes : those that are tried, None for the job's own; half_turn : whether the parts are turned at half time
    without : names of the thieves and shields that are taken away; own : whether it is the job as it is
    """

    name: str
    why: str
    uniformity: float
    low: float
    density: float
    time: float
    time_thinnest: float
    voltage: float
    shares: tuple[float, ...] = (1.0,)
    anodes: tuple[Anode, ...] | None = None
    half_turn: bool = False
    without: tuple[str, ...] = ()
    own: bool = False


@dataclass(frozen=True)
class Comparison:
    """trials : best first; notes : sentences: what was not tried, and what no trial changes"""

    trials: tuple[Trial, ...]
    notes: tuple[str, ...] = ()


def with_gains(rows: list[Trial]) -> list[Trial]:
    """With what each gains for the thinnest place."""
    now = next(row for row in rows if row.own)
    out = []
    for row in rows:
        gain = row.uniformity / now.uniformity - 1.0 if now.uniformity > 0 else 0.0
        more = "the thinnest place gets {percent} % more for the same mean"
        less = "the thinnest place gets {percent} % less for the same mean"
        told: str = filled(more if gain > 0 else less, percent=f"{100 * abs(gain):.0f}")
        told = "as even as now" if abs(gain) < MIN_UNIFORMITY_GAIN else told
        if not now.uniformity > 0:
            told = (
                "the thinnest place gets some deposit" if row.uniformity > 0 else "the thinnest place gets none, as now"
            )
        out.append(row if row.own else replace(row, why=joined([row.why, told], "; ")))
    return out


def out_of_reach(rows: list[Trial]) -> list[str]:
    """What to say where no other anodes reach the thinnest place."""
    now = next(row for row in rows if row.own)
    best = max(row.uniformity for row in rows if row.density == now.density)
    if now.uniformity > MAX_DEEP_UNIFORMITY or best > 1.1 * now.uniformity:
        return []
    return [
        "no other anodes reach the thinnest place: it lies in a hollow or a slot; open it, hang a small anode into it,"
        " or leave it out and judge by what all but the thinnest 5 % of the area get"
    ]


def ranked(rows: list[Trial]) -> tuple[Trial, ...]:
    """The most even first; among equals the quicker one, then the one that leaves less of the area thin."""
    left, order = sorted(rows, key=lambda row: -row.uniformity), []
    while left:
        best = left[0].uniformity
        alike = [row for row in left if row.uniformity >= (1.0 - MIN_UNIFORMITY_GAIN) * best]
        pick = min(alike, key=lambda row: (row.time, -row.low))
        left.remove(pick)
        order.append(pick)
    return tuple(order)
