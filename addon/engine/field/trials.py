"""Trial layouts as data: what each gains, why, and their order.

`reporting.layout_text` makes the words.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from ..findings import Quantity as Of
from ..reasons import Reason, ReasonCode
from ..settings.tank import Anode

MIN_UNIFORMITY_GAIN = 0.05  # thinnest/mean: a smaller difference is not significant at a preview's resolution
MAX_DEEP_UNIFORMITY = 0.3  # thinnest/mean of a place that other anodes do not reach
MIN_REACHED_UNIFORMITY_RATIO = 1.1  # between the best layout and the job's own: below it no anodes reach the place


class LayoutKind(Enum):
    """What a layout changes."""

    AS_SET = "as-set"  # nothing
    NOT_TURNED = "not-turned"
    TURNED = "turned"
    OTHER_DENSITY = "other-density"
    DENSITY_BELOW_WINDOW = "density-below-window"
    DENSITY_ABOVE_WINDOW = "density-above-window"
    WITHOUT_BODIES = "without-bodies"  # thieves and shields
    ONE_SIDE = "one-side"
    TWO_SIDES = "two-sides"
    RING = "ring"


@dataclass(frozen=True)
class Layout:
    """One way to plate the part.

    anodes : those that are tried, None for the job's own; gap : m from the part's side to them, of plates on the sides
    half_turn : whether the parts are turned at half time; without : names of the thieves and shields taken away
    """

    kind: LayoutKind
    anodes: tuple[Anode, ...] | None = None
    gap: float = 0.0
    half_turn: bool = False
    without: tuple[str, ...] = ()


@dataclass(frozen=True)
class Trial:
    """What a layout gives.

    reasons : what it does to the deposit, the last against the job as it is
    uniformity : thinnest over mean, of show faces where any are marked, of all copies
    low : what all but the thinnest 5 % of the area exceed, over the mean
    density : A/m2, mean; time : s to the wanted mean thickness; time_thinnest : s until the thinnest place has it
    voltage : V; shares : current of each copy over their mean
    bright : A/m2 that all of the visible area exceeds but for what may stay dull; peak : A/m2, the densest place
    load : A/m2, of the anode that gives most
    """

    layout: Layout
    reasons: tuple[Reason, ...]
    uniformity: float
    low: float
    density: float
    time: float
    time_thinnest: float
    voltage: float
    shares: tuple[float, ...] = (1.0,)
    bright: float = 0.0
    peak: float = math.inf
    load: float = math.inf

    @property
    def own(self) -> bool:
        """Whether it is the unchanged job."""
        return self.layout.kind is LayoutKind.AS_SET


class RemarkCode(Enum):
    """Remarks: what was not tried, and what no layout changes."""

    TURN_REFUSED = "turn-refused"
    NO_ROOM_AT_SIDES = "no-room-at-sides"
    SIDES_REFUSED = "sides-refused"
    NO_ROOM_FOR_RING = "no-room-for-ring"
    RING_REFUSED = "ring-refused"
    OUT_OF_REACH = "out-of-reach"  # no anodes reach the thinnest place


@dataclass(frozen=True)
class Remark:
    """fault : the message of the error that refused it, "" where there was none"""

    code: RemarkCode
    fault: str = ""


@dataclass(frozen=True)
class Comparison:
    """trials : best first"""

    trials: tuple[Trial, ...]
    remarks: tuple[Remark, ...] = ()


def with_gains(trials: Sequence[Trial]) -> list[Trial]:
    """The same trials, each but the job's own with what it gains for the thinnest place as its last reason."""
    now = _own(trials).uniformity
    return [
        trial if trial.own else replace(trial, reasons=(*trial.reasons, _gain(now, trial.uniformity)))
        for trial in trials
    ]


def out_of_reach(trials: Sequence[Trial]) -> list[Remark]:
    """A remark where no other anodes reach the thinnest place."""
    own = _own(trials)
    best = max(trial.uniformity for trial in trials if trial.density == own.density)
    if own.uniformity > MAX_DEEP_UNIFORMITY or best > MIN_REACHED_UNIFORMITY_RATIO * own.uniformity:
        return []
    return [Remark(RemarkCode.OUT_OF_REACH)]


def ranked(trials: Sequence[Trial]) -> tuple[Trial, ...]:
    """The most even first; among equals the quicker one, then the one that leaves less of the area thin."""
    left, order = sorted(trials, key=lambda trial: -trial.uniformity), []
    while left:
        best = left[0].uniformity
        alike = [trial for trial in left if trial.uniformity >= (1.0 - MIN_UNIFORMITY_GAIN) * best]
        pick = min(alike, key=lambda trial: (trial.time, -trial.low))
        left.remove(pick)
        order.append(pick)
    return tuple(order)


def _own(trials: Sequence[Trial]) -> Trial:
    """The trial of the unchanged job."""
    return next(trial for trial in trials if trial.own)


def _gain(now: float, uniformity: float) -> Reason:
    """What a layout gains for the thinnest place, from thinnest/mean now and with it."""
    if not now > 0:
        return Reason(ReasonCode.THINNEST_GETS_SOME if uniformity > 0 else ReasonCode.THINNEST_GETS_NONE)
    gain = uniformity / now - 1.0
    if abs(gain) < MIN_UNIFORMITY_GAIN:
        return Reason(ReasonCode.AS_EVEN)
    return Reason(ReasonCode.THINNEST_GETS_MORE if gain > 0 else ReasonCode.THINNEST_GETS_LESS, {Of.SHARE: abs(gain)})
