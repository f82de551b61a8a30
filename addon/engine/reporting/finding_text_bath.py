"""The sentences of findings on what is in the bath, and how warm it is: what happens, then what to do."""

from __future__ import annotations

from ..findings import Finding
from ..findings import Quantity as Of
from . import words
from .filled import filled, joined

MAX_UNLICENSED_ACID_PERCENT = 15.0  # by weight, of sulfuric acid: Regulation (EU) 2019/1148


def acid(f: Finding) -> str:
    """What the law says of acid that is bought, or in the bath, and what stays below it."""
    bought, finished = 100 * f.shown(Of.BOUGHT_SHARE), 100 * f.shown(Of.SHARE)
    remedies: list[str] = []
    if bought > MAX_UNLICENSED_ACID_PERCENT:
        remedies.append(filled("the {share} % acid that you buy", share=f"{bought:.0f}"))
    if finished > MAX_UNLICENSED_ACID_PERCENT:
        remedies.append(filled("the finished bath ({share} % acid)", share=f"{finished:.1f}"))
    helps: str = "Mix it from acid of 15 % or less." if finished else "Mix the dip from acid of 15 % or less."
    if finished > MAX_UNLICENSED_ACID_PERCENT:
        below = joined(words.baths(f.names["baths"]), ", ")
        helps = filled("These baths stay below: {baths}.", baths=below) if below else "Take a bath with less acid."
    return joined(
        [
            "EU: private persons may not buy, bring in, have or use sulfuric acid above 15 % by weight without a"
            " license (Regulation (EU) 2019/1148).",
            filled("That covers {what}.", what=words.listed(remedies)),
            helps,
            "Look up your own country's rules.",
        ]
    )


def saturated(f: Finding) -> str:
    """A recipe with more salt than stays dissolved."""
    return filled(
        "The bath '{bath}' holds {share} % of the salt that stays dissolved at {temperature} C:"
        " crystals form. Use less salt or less acid, or keep it warmer.",
        bath=f.names["bath"],
        share=f"{100 * f.shown(Of.SATURATION):.0f}",
        temperature=f"{f.shown(Of.TEMPERATURE):.0f}",
    )


def temperature(f: Finding) -> str:
    """A bath that is set warmer or colder than it works well."""
    return filled(
        "{temperature} C is set; the bath works well from {low} to {high} C. Set {nearest} C.",
        temperature=f"{f.shown(Of.TEMPERATURE):.0f}",
        low=f"{f.shown(Of.LOW_TEMPERATURE):.0f}",
        high=f"{f.shown(Of.HIGH_TEMPERATURE):.0f}",
        nearest=f"{min(max(f.shown(Of.TEMPERATURE), f.shown(Of.LOW_TEMPERATURE)), f.shown(Of.HIGH_TEMPERATURE)):.0f}",
    )
