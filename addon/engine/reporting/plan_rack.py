"""Copies of the part in one tank, in words: how far apart they hang, what each takes, what the supply feeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import words
from .filled import filled
from .finding_text import texts
from .plan_text import Line, figure, length, note

if TYPE_CHECKING:
    from ..field.rack import RackPlan, Spacing
    from .plan_bench import Bench


MIN_REPORTED_SHARE_DIFFERENCE = 0.01  # of the mean current: copies that differ by less take the same


def lines(bench: Bench) -> list[Line]:
    """What the appendix says of several parts in one tank; none where there is one."""
    study = bench.study
    rack = study.results.rack
    notes = [note(_shares(bench))] if len(bench.job.rack.positions) > 1 else []
    if rack is None:
        return notes
    return [*notes, *map(note, spacing_lines(rack, bench.job.supply.current, planned=not bench.job.rack.positions))]


def _shares(bench: Bench) -> str:
    """The copies, and what of the current each takes."""
    count, field = len(bench.job.rack.positions), bench.field
    if field is None:
        return filled("{count} parts hang in the tank, as the job places them.", count=count)
    mean = sum(field.part_currents) / count
    shares = words.listed([f"{100 * current / mean:.0f}" for current in field.part_currents])
    return filled(
        "{count} parts hang in the tank, as the job places them, numbered as there. Of the mean current they take"
        " {shares} %: where that differs by more than you can bear, space them wider or plate fewer at once.",
        count=count,
        shares=shares,
    )


def spacing_lines(rack: RackPlan, supply: float, planned: bool = False) -> list[str]:
    """Sentences: the distance, the shares, what the supply (A) feeds, how many more there is room for.

    planned : whether current and voltage of these copies stand elsewhere
    """
    best = rack.chosen
    figures = {"count": rack.wanted, "rows": arrangement(best)}
    lines: list[str] = []
    if rack.enough:
        hang = "Hang the {count} copies {rows}: every one gets its share within {off}."
        off = max(float(abs(best.share - 1.0).max()), MIN_REPORTED_SHARE_DIFFERENCE)
        lines.append(filled(hang, off=_percent(off), **figures))
    else:
        none = (
            "No spacing that was tried keeps {count} copies within {tolerance} of one alone. The best is {rows}, off by"
            " {off}: plate fewer at once, or swap their places at half time."
        )
        lines.append(filled(none, tolerance=_percent(rack.tolerance), off=_percent(best.off), **figures))
    shares = words.listed([f"{100 * share:.0f}" for share in best.share])
    alike = float(abs(best.share - 1.0).max()) < MIN_REPORTED_SHARE_DIFFERENCE
    if planned:
        keeps = (
            "Next to its neighbors all but 5 % of a copy's surface keeps at least {kept} of what it gets alone."
            if alike
            else "They take {shares} % of their mean; next to its neighbors all but 5 % of a copy's surface keeps at"
            " least {kept} of what it gets alone."
        )
        lines.append(filled(keeps, shares=shares, kept=_percent(float(best.shaded.min()))))
    else:
        lines.append(_alone(rack, alike, shares))
    if rack.fed < rack.wanted:
        feeds = "The supply's {current} A feed {count} of them at the wanted current density."
        lines.append(filled(feeds, current=figure(supply), count=rack.fed))
    if rack.fits is not None and rack.fits > rack.wanted:
        room = "At this spacing the tank has room for {count}; ask for that many to see what they would get."
        lines.append(filled(room, count=rack.fits))
    return [*lines, *texts(rack.findings)]


def arrangement(spacing: Spacing) -> str:
    """How copies stand to each other: rows, copies in each, and the liquid between them."""
    rows, gap = spacing.rows, length(spacing.gap)
    if len(rows) == 1:
        return filled("in a row along the anodes, with {gap} of liquid between neighbors", gap=gap)
    counts = sorted(set(rows))
    return filled(
        "in {rows} rows of {columns} along the anodes, one above the other, with {gap} of liquid between neighbors",
        rows=len(rows),
        columns=words.listed([str(count) for count in counts]),
        gap=gap,
    )


def places(bench: Bench) -> str:
    """Where the parts of a rack hang, for the step that hangs them."""
    if bench.job.rack.positions:
        return "where the job places them"
    rack = bench.study.results.rack
    return "as far apart as the tank allows" if rack is None else arrangement(rack.chosen)


def _alone(rack: RackPlan, alike: bool, shares: str) -> str:
    best = rack.chosen
    return filled(
        "Next to its neighbors all but 5 % of a copy's surface keeps at least {kept} of what it gets alone."
        " Together they take {current} A at {voltage} V."
        if alike
        else "They take {shares} % of their mean; next to its neighbors all but 5 % of a copy's surface keeps at"
        " least {kept} of what it gets alone. Together {current} A at {voltage} V.",
        shares=shares,
        kept=_percent(float(best.shaded.min())),
        current=figure(best.current),
        voltage=figure(best.voltage, 2),
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
