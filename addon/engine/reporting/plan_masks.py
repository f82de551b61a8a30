"""Printed masks in the plan and on the panel: how they are printed, where they go, and when they come off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..helpers.mask import REASONS, Form, Mask, Masks
from ..units import CM2, mm
from . import words
from .filled import filled
from .instructions_helpers import Masking
from .plan_text import figure, point

if TYPE_CHECKING:
    from .plan_bench import Bench

MAX_TOLD_BY_HAND = 3  # regions without a printed mask that have a line each; the report has all


def printing(bench: Bench) -> list[str]:
    """How they are printed."""
    made = bench.study.results.masks
    if made is None:
        return []
    count = words.counted(len(made.masks), "printed mask")
    kind = Masking.PRINT if bench.metal_part else Masking.PRINT_TWICE
    return [kind.say(masks=count, plastic=made.masks[0].plastic)]


def before_coat(bench: Bench) -> tuple[str, ...]:
    """Which masks go where before the coat, or before the bath where the part is metal; what is covered by hand."""
    made = bench.study.results.masks
    if made is None:
        return ()
    by_hand = [
        Masking.BY_HAND.say(area=figure(one.area / CM2, 2), place=point(one.place), why=REASONS[one.why])
        for one in made.by_hand[:MAX_TOLD_BY_HAND]
    ]
    if len(made.by_hand) > MAX_TOLD_BY_HAND:
        by_hand.append(Masking.MORE_BY_HAND.say(count=len(made.by_hand) - MAX_TOLD_BY_HAND))
    sealed = (Masking.SEAL.say(),) if bench.metal_part else ()
    return (*(_put_on(one) for one in made.masks), *sealed, *by_hand)


def after_coat(bench: Bench) -> tuple[str, ...]:
    """Off with what was coated."""
    return () if bench.study.results.masks is None else (Masking.COAT_OFF.say(),)


def for_bath(bench: Bench) -> tuple[str, ...]:
    """Clean masks for the bath; those of a metal part are on."""
    return () if bench.study.results.masks is None or bench.metal_part else (Masking.CLEAN_ON.say(),)


def _put_on(one: Mask) -> str:
    place = point(one.place)
    if one.form == Form.CAP:
        return Masking.CAP.say(outer=mm(one.outer, padded=True), shaft=mm(one.diameter, padded=True), place=place)
    return Masking.PLUG.say(top=mm(one.outer, padded=True), hole=mm(one.diameter, padded=True), place=place)


def summary(made: Masks) -> list[str]:
    """The masks in a few lines, for the panel."""
    cap = "Cap over the end of {diameter} mm at {place}: it covers {area} cm2"
    plug = "Plug for the masked hole of {diameter} mm at {place}: it covers {area} cm2"
    lines: list[str] = [
        filled(
            cap if one.form == Form.CAP else plug,
            diameter=mm(one.diameter, padded=True),
            place=point(one.place),
            area=figure(one.area / CM2, 2),
        )
        for one in made.masks
    ]
    return lines + by_hand(made)


def by_hand(made: Masks) -> list[str]:
    """What no printed mask covers, a line each of the largest, and how many more there are."""
    lines: list[str] = [
        filled(
            "No mask for {area} cm2 at {place}: {why}; use stop-off lacquer or tape",
            area=figure(one.area / CM2, 2),
            place=point(one.place),
            why=REASONS[one.why],
        )
        for one in made.by_hand[:MAX_TOLD_BY_HAND]
    ]
    more = len(made.by_hand) - MAX_TOLD_BY_HAND
    return [*lines, filled("No mask for {count} smaller regions either", count=more)] if more > 0 else lines
