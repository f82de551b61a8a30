"""Bores, shafts and threads in the plan: the one that changes most on page one, all of them as a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from ..units import MM, UM, mm
from . import words
from .instructions import Model
from .plan_bench import Bench
from .plan_text import Line, Section, area, figure, note, point

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


def print_up(bench: Bench) -> list[str]:
    """The way up on the printer, where another one leaves clearly less to sand."""
    found = bench.study.results.orientation
    if found is None or found.better is None:
        return []
    best, now = found.better, found.as_set
    return [
        Model.PRINT_UP.say(
            way=words.way_up(best.up),
            up=", ".join(f"{round(float(x), 2) + 0.0:g}" for x in best.up),
            rough=area(best.rough_area),
            rough_now=area(now.rough_area),
            support=area(best.support_area),
            support_now=area(now.support_area),
        )
    ]


def sanding(bench: Bench) -> list[Line]:
    """Where to sand, in the order of effort, and what would hide the steps."""
    found = bench.study.results.orientation
    if found is None:
        return []
    todo, lines = found.sanding, []
    for number, one in enumerate(todo.regions, 1):
        where = f"{point(one.point)} ({words.told(one.place)})"
        steps = f"steps of {figure(one.step / UM, 2)} um are left"
        lines.append(note(f"Sand {number}: {area(one.area)} round {where}, {steps}."))
    if todo.hidden_layer is not None and todo.hidden_filler:
        layer, filler = figure(todo.hidden_layer / MM, 1), figure(todo.hidden_filler / UM, 2)
        lines.append(
            note(
                f"Coat and deposit follow the steps: on 95 % of what shows they hide only those of layers under {layer}"
                f" mm. Filler of {filler} um, sanded flush before the coat, takes those of this print away."
            )
        )
    return lines


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
    return mm(length, 2, padded=True)
