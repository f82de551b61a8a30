"""Bores, shafts and threads in the plan: the one that changes most on page one, all of them as a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from ..units import MM
from . import words
from .instructions import Model
from .plan_bench import Bench
from .plan_text import Section, figure, note, point

if TYPE_CHECKING:
    from ..printing.fits import Fit

MAX_LISTED_SIZES = 12


def first(bench: Bench, letters: Mapping[str, str]) -> list[str]:
    """What to model instead of the fit that changes most, where one does."""
    found = bench.study.results.fits
    if found is None or not found.affected:
        return []
    sizes = [one for one, _ in found.sizes() if one.affected]
    worst = max(sizes, key=lambda one: one.change / one.diameter)
    others = len(sizes) - 1
    more = f"; {words.counted(others, 'more size')} in appendix {letters['fits']}" if others else ""
    return [
        Model.FITS.say(
            kind=worst.kind.value,
            diameter=size(worst.diameter),
            model=size(worst.model),
            finished=finished(worst),
            more=more,
        )
    ]


def table(bench: Bench) -> Section | None:
    """Every size once, with where the first of them is."""
    found = bench.study.results.fits
    if found is None or not found.fits:
        return None
    sizes = found.sizes()
    lines = [note(row(one, count)) for one, count in sizes[:MAX_LISTED_SIZES]]
    if len(sizes) > MAX_LISTED_SIZES:
        lines.append(note(f"{words.counted(len(sizes) - MAX_LISTED_SIZES, 'more size')} in the report."))
    by = "the local thickness" if found.local else "the wanted thickness everywhere: there is no thickness map"
    said = (
        f"By {by}. A bore is what fits between its flats, a shaft what fits round its corners; a printer's own error of"
        " about 0.1 mm comes on top: print a test piece."
    )
    return Section("Bores, shafts and threads when plated", (*lines, note(said)))


def row(one: Fit, count: int) -> str:
    """One size: what it is, what it becomes, what to model instead."""
    what = words.counted(count, one.kind.value) if count > 1 else one.kind.value.capitalize()
    winding = f", pitch {figure(one.pitch / MM, 3)} mm (pitch diameter)" if one.pitch else ""
    masked = ", masked" if not one.plated else ""
    change = f"comes out {finished(one)} mm; model {size(one.model)} mm" if one.change > 0 else "stays as it is"
    length = f"{size(one.length)} mm long"
    return f"{what} of {size(one.diameter)} mm{winding}, {length}, at {point(one.center)}{masked}: {change}."


def finished(one: Fit) -> str:
    """ "2.82 to 2.87": to a hundredth of a millimeter."""
    low, high = (size(end) for end in one.finished)
    return low if low == high else f"{low} to {high}"


def size(length: float) -> str:
    """A length in mm to a hundredth."""
    return f"{length / MM:.2f}"
