"""Copies of the part in one tank, in words: how far apart they hang, what each takes, what the supply feeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..analyses import LEFT_OUT
from . import words
from .finding_text import texts
from .plan_before import missing
from .plan_text import figure, length, note, step

if TYPE_CHECKING:
    from ..analyses import Study
    from ..field.rack import RackPlan


def spacing(study: Study) -> list[str]:
    """The plan's lines on copies that were asked for; none where nobody asked."""
    found: RackPlan | None = study.results.get("rack")
    if found is None:
        if study.reasons.get("rack", LEFT_OUT) == LEFT_OUT:
            return []
        return [note(missing(study, "rack", "How far apart copies hang"))]
    first, *more = told(found, study.job.supply.current)
    return [step(first) if found.enough else note(first), *map(note, more)]


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
