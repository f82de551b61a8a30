"""Copies of the part in one tank, in words: how far apart they hang, what each takes, what the supply feeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import words
from .finding_text import texts
from .plan_text import Line, figure, length, note

if TYPE_CHECKING:
    from ..field.rack import RackPlan
    from .plan_bench import Bench


def lines(bench: Bench) -> list[Line]:
    """What the appendix says of several parts in one tank; none where there is one."""
    study = bench.study
    found = study.results.rack
    said = [note(_shares(bench))] if len(bench.job.rack.positions) > 1 else []
    if found is None:
        if not study.asked_for("rack"):
            return said
        return [*said, note(bench.missing("rack", "How far apart copies hang"))]
    return [*said, *map(note, told(found, bench.job.supply.current))]


def _shares(bench: Bench) -> str:
    """The copies, and what of the current each takes."""
    count, field = len(bench.job.rack.positions), bench.field
    if field is None:
        return f"{count} parts hang in the tank, as the job places them."
    mean = sum(field.part_currents) / count
    shares = words.listed([f"{100 * current / mean:.0f}" for current in field.part_currents])
    return (
        f"{count} parts hang in the tank, as the job places them, numbered as there. Of the mean current they take"
        f" {shares} %: where that differs by more than you can bear, space them wider or plate fewer at once."
    )


def told(found: RackPlan, supply: float) -> list[str]:
    """Sentences: the distance, the shares, what the supply (A) feeds, how many more there is room for."""
    best = found.chosen
    apart = f"{length(best.gap)} of liquid between neighbors"
    if found.enough:
        uneven = float(abs(best.share - 1.0).max())
        lines = [f"Hang the {found.wanted} copies with {apart}: every one gets its share within {_percent(uneven)}."]
    else:
        lines = [
            f"No spacing that was tried keeps {found.wanted} copies within {_percent(found.tolerance)} of one"
            f" alone. The"
            f" best is {apart}, off by {_percent(best.off)}: plate fewer at once, or swap their places at half time."
        ]
    shares = words.listed([f"{100 * share:.0f}" for share in best.share])
    lines.append(
        f"They take {shares} % of their mean; next to its neighbors all but 5 % of a copy's surface keeps at least"
        f" {_percent(float(best.shaded.min()))} of what it gets alone. Together {figure(best.current)} A at"
        f" {figure(best.voltage, 2)} V."
    )
    if found.fed < found.wanted:
        lines.append(f"The supply's {figure(supply)} A feed {found.fed} of them at the density that is wanted.")
    if found.fits is not None and found.fits > found.wanted:
        lines.append(f"So far apart the tank has room for {found.fits}; ask for that many to see what they would get.")
    return [*lines, *texts(found.findings)]


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
