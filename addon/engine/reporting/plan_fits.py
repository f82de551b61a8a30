"""Bores, shafts and threads in the plan: the one that changes most on page one, all of them as a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from ..units import CM2, MM, UM, mm
from . import words
from .filled import capital, filled, joined
from .instructions_first import Model
from .plan_bench import AT_PLACE, Bench
from .plan_text import Line, Section, area, figure, note, point

if TYPE_CHECKING:
    from ..printing.fits import Fit

MAX_LISTED_SIZES = 12
MIN_SANDED_AREA_M2 = 0.1 * CM2  # of layer steps: less is a few strokes, and told as none (common practice, no source)
GAUGED = (
    "A bore is what fits between its flats, a shaft what fits around its corners; a printer's own"
    " error of about 0.1 mm comes on top: print a test piece."
)
# Whether it is a thread, whether it is masked -> one size
ROW = {
    (False, False): "{what} of {diameter} mm, {length} mm long, at {point}: {change}.",
    (False, True): "{what} of {diameter} mm, {length} mm long, at {point}, masked: {change}.",
    (
        True,
        False,
    ): "{what} of {diameter} mm, pitch {pitch} mm (pitch diameter), {length} mm long, at {point}: {change}.",
    (True, True): "{what} of {diameter} mm, pitch {pitch} mm (pitch diameter), {length} mm long, at {point}, masked:"
    " {change}.",
}


def first(bench: Bench, letters: Mapping[str, str]) -> list[str]:
    """What to model instead of the fit that changes most, where one does."""
    fits = bench.study.results.fits
    if fits is None or not fits.affected:
        return []
    sizes = [fit for fit, _ in fits.sizes() if fit.affected]
    worst = max(sizes, key=lambda fit: fit.change / fit.diameter)
    others = len(sizes) - 1
    values = {
        "kind": worst.kind.value,
        "diameter": size(worst.diameter),
        "model": size(worst.model),
        "finished": finished(worst),
    }
    if not others:
        return [Model.FITS.say(**values)]
    return [Model.FITS_MORE.say(**values, more=words.counted(others, "more size"), letter=letters["fits"])]


def print_up(bench: Bench) -> list[str]:
    """The way up on the printer, where another one leaves clearly less to sand."""
    orientation = bench.study.results.orientation
    if orientation is None or orientation.better is None:
        return []
    best, now = orientation.better, orientation.as_set
    rough, rough_now = (side.rough_area if side.rough_area >= MIN_SANDED_AREA_M2 else 0.0 for side in (best, now))
    template = Model.PRINT_UP if rough or rough_now else Model.PRINT_UP_SUPPORTS
    return [
        template.say(
            way=words.way_up(best.up),
            up=", ".join(f"{round(float(x), 2) + 0.0:g}" for x in best.up),
            rough=area(rough, rough_now),
            rough_now=area(rough_now, rough),
            support=area(best.support_area, now.support_area),
            support_now=area(now.support_area, best.support_area),
        )
    ]


def sanding(bench: Bench) -> list[Line]:
    """Where to sand, in the order of effort, and what would hide the steps."""
    orientation = bench.study.results.orientation
    if orientation is None:
        return []
    todo, lines = orientation.sanding, []
    for number, region in enumerate(todo.regions, 1):
        lines.append(
            note(
                filled(
                    "Sand {number}: {area} round {place}, steps of {step} um are left.",
                    number=number,
                    area=area(region.area),
                    place=filled(AT_PLACE, point=point(region.point), place=words.place_name(region.place)),
                    step=figure(region.step / UM, 2),
                )
            )
        )
    if todo.hidden_layer is not None and todo.hidden_filler:
        layer, filler = figure(todo.hidden_layer / MM, 1), figure(todo.hidden_filler / UM, 2)
        hides = (
            "Coat and deposit follow the steps: on 95 % of what shows they hide only those of layers"
            " under {layer} mm. Filler of {filler} um, sanded flush before the coat, hides those of this"
            " print."
        )
        lines.append(note(filled(hides, layer=layer, filler=filler)))
    return lines


def table(bench: Bench) -> Section | None:
    """Every size once, with where the first of them is."""
    fits = bench.study.results.fits
    if fits is None or not fits.fits:
        return None
    sizes = fits.sizes()
    lines = [note(row(fit, count)) for fit, count in sizes[:MAX_LISTED_SIZES]]
    if len(sizes) > MAX_LISTED_SIZES:
        more = words.counted(len(sizes) - MAX_LISTED_SIZES, "more size")
        lines.append(note(filled("{sizes} in the report.", sizes=more)))
    by = "By the wanted thickness everywhere: there is no thickness map."
    text = joined(["By the local thickness." if fits.local else by, GAUGED])
    return Section("Bores, shafts and threads when plated", (*lines, note(text)))


def row(fit: Fit, count: int) -> str:
    """One size: what it is, what it becomes, what to model instead."""
    change: str = "stays as it is"
    if fit.change > 0:
        change = filled("comes out {finished} mm; model {model} mm", finished=finished(fit), model=size(fit.model))
    return filled(
        ROW[bool(fit.pitch), not fit.plated],
        what=words.counted(count, fit.kind.value) if count > 1 else capital(fit.kind.value),
        diameter=size(fit.diameter),
        pitch=figure(fit.pitch / MM, 3),
        length=size(fit.length),
        point=point(fit.center),
        change=change,
    )


def finished(fit: Fit) -> str:
    """ "2.82 to 2.87": to a hundredth of a millimeter."""
    low, high = (size(end) for end in fit.finished)
    return low if low == high else filled("{low} to {high}", low=low, high=high)


def size(length: float) -> str:
    """A length in mm to a hundredth."""
    return mm(length, 2, padded=True)
