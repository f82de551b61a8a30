"""Printed masks in the plan and on the panel: how they are printed, where they go, and when they come off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..helpers.mask import REASONS, Form, Mask, Masks
from ..units import CM2, mm
from . import words
from .filled import filled
from .instructions_at_step import AtStep
from .instructions_first import Ready
from .instructions_helpers import Masking
from .instructions_steps import Step
from .plan_text import figure, point

if TYPE_CHECKING:
    from .plan_bench import Bench

ELECTROLESS = "electroless"  # in the name of a coat from a bath, which no spray mask keeps off
MAX_LISTED_BY_HAND = 3  # regions without a printed mask that are listed; the report has all


def stay_on(bench: Bench) -> bool:
    """Whether masking stays on in the bath: on metal, or under a coat that gets everywhere."""
    return bench.metal_part or ELECTROLESS in bench.job.coat.name


def step(bench: Bench) -> Step:
    """What to do to the faces that stay bare."""
    masks = bench.study.results.masks
    if masks is not None and not masks.by_hand:
        return Step.MASK_PRINTED
    return Step.MASK if stay_on(bench) else Step.MASK_SPRAY


def to_buy(bench: Bench) -> list[str]:
    """The masking materials to buy."""
    masks = bench.study.results.masks
    if not bench.masked:
        return []
    by_hand = (
        [] if masks is not None and not masks.by_hand else [(Ready.STOP_OFF if stay_on(bench) else Ready.TAPE).say()]
    )
    return by_hand + [Ready.SEAL_MASKS.say()] * (masks is not None)


def printing(bench: Bench) -> list[str]:
    """How they are printed."""
    masks = bench.study.results.masks
    if masks is None:
        return []
    count = words.counted(len(masks.masks), "printed mask")
    kind = Masking.PRINT if stay_on(bench) else Masking.PRINT_TWICE
    return [kind.say(masks=count, plastic=masks.masks[0].plastic)]


def put_on(bench: Bench) -> tuple[str, ...]:
    """Which masks go where before the coat, or after it where they stay on; what is covered by hand."""
    masks = bench.study.results.masks
    if masks is None:
        return ()
    stay = stay_on(bench)
    by_hand = [
        (Masking.BY_HAND if stay else Masking.BY_HAND_TAPE).say(
            area=figure(mask.area / CM2, 2), place=point(mask.place), why=REASONS[mask.why]
        )
        for mask in masks.by_hand[:MAX_LISTED_BY_HAND]
    ]
    if len(masks.by_hand) > MAX_LISTED_BY_HAND:
        more = Masking.MORE_BY_HAND if stay else Masking.MORE_BY_HAND_TAPE
        by_hand.append(more.say(count=len(masks.by_hand) - MAX_LISTED_BY_HAND))
    sealed = (Masking.SEAL.say(),) if stay else ()
    return (*(_put_on(mask) for mask in masks.masks), *sealed, *by_hand)


def after_coat(bench: Bench) -> tuple[str, ...]:
    """Removal of masking that was coated."""
    masks = bench.study.results.masks
    if not bench.masked or stay_on(bench):
        return ()
    tape = (AtStep.TAPE_OFF.say(),) if masks is None or masks.by_hand else ()
    return (*tape, *((Masking.COAT_OFF.say(),) if masks is not None else ()))


def for_bath(bench: Bench) -> tuple[str, ...]:
    """Clean masks for the bath, if they are not on already."""
    return () if bench.study.results.masks is None or stay_on(bench) else (Masking.CLEAN_ON.say(),)


def _put_on(mask: Mask) -> str:
    place = point(mask.place)
    if mask.form == Form.CAP:
        return Masking.CAP.say(outer=mm(mask.outer, padded=True), shaft=mm(mask.diameter, padded=True), place=place)
    return Masking.PLUG.say(top=mm(mask.outer, padded=True), hole=mm(mask.diameter, padded=True), place=place)


def summary(masks: Masks) -> list[str]:
    """The masks in a few lines, for the panel."""
    cap = "Cap over the end of {diameter} mm at {place}: it covers {area} cm2"
    plug = "Plug for the masked hole of {diameter} mm at {place}: it covers {area} cm2"
    lines: list[str] = [
        filled(
            cap if mask.form == Form.CAP else plug,
            diameter=mm(mask.diameter, padded=True),
            place=point(mask.place),
            area=figure(mask.area / CM2, 2),
        )
        for mask in masks.masks
    ]
    return lines + by_hand(masks)


def by_hand(masks: Masks) -> list[str]:
    """What no printed mask covers, a line each of the largest, and how many more there are."""
    lines: list[str] = [
        filled(
            "No mask for {area} cm2 at {place}: {why}; use stop-off lacquer or tape",
            area=figure(mask.area / CM2, 2),
            place=point(mask.place),
            why=REASONS[mask.why],
        )
        for mask in masks.by_hand[:MAX_LISTED_BY_HAND]
    ]
    more = len(masks.by_hand) - MAX_LISTED_BY_HAND
    return [*lines, filled("No mask for {count} smaller regions either", count=more)] if more > 0 else lines
