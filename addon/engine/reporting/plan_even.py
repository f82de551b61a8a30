"""The plan's section on evenness, if requested: layouts that even the deposit out, best first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..chemistry.deposit import duration
from . import layout_text
from .filled import capital, filled, sentence
from .language import Language, translated
from .plan_text import Section, figure, note
from .words import listed

if TYPE_CHECKING:
    from ..field.trials import Comparison, Trial
    from .plan_bench import Bench

MAX_LISTED_TRIALS = 5  # trials listed
# Whether the thinnest place gets any metal -> a trial
TRIAL = {
    True: "{number}. {layout}: {uniformity} in {time} ({thinnest} for the thinnest place) at {voltage} V; {why}.",
    False: "{number}. {layout}: {uniformity} in {time} at {voltage} V; {why}.",
}
COLUMNS = ("thinnest/mean", "5 %/mean", "time", "thinnest done", "volts")


def evening(bench: Bench) -> Section | None:
    """The best trials, including the unchanged job; None if not requested."""
    study = bench.study
    comparison = study.results.layouts
    title = "What would even out the deposit"
    if comparison is None:
        if not study.asked_for("layouts"):
            return None
        return Section(title, (note(bench.missing("layouts", "Other layouts")),))
    lines = [note("Thinnest over mean thickness, at a preview's resolution and without the coat's losses; best first.")]
    lines += [
        note(trial_text(number, trial))
        for number, trial in enumerate(comparison.trials, 1)
        if number <= MAX_LISTED_TRIALS or trial.own
    ]
    return Section(title, (*lines, *(note(sentence(layout_text.remark(remark))) for remark in comparison.remarks)))


def table(comparison: Comparison, language: Language) -> str:
    """All trials, best first, each with its reason on a second line, and what was not tried."""
    lines = ["    " + "".join(f"{translated(head, language):>15}" for head in COLUMNS)]
    for number, trial in enumerate(comparison.trials, 1):
        last = duration(trial.time_thinnest) if trial.uniformity > 0 else "never"
        cells = (
            figure(trial.uniformity, 2),
            figure(trial.low, 2),
            duration(trial.time),
            last,
            figure(trial.voltage, 2),
        )
        row = "".join(f"{translated(cell, language):>15}" for cell in cells)
        lines.append(f"{number:>3}.{row}  {translated(layout_text.name(trial), language)}")
        lines.append(f"{'':>6}{translated(_why(trial), language)}")
    remarks = (sentence(layout_text.remark(remark)) for remark in comparison.remarks)
    return "\n".join([*lines, *(f"    {translated(text, language)}" for text in remarks)])


def trial_text(number: int, trial: Trial) -> str:
    """One trial: its figures and the reason."""
    return filled(
        TRIAL[trial.uniformity > 0],
        number=number,
        layout=capital(layout_text.name(trial)),
        uniformity=figure(trial.uniformity, 2),
        time=duration(trial.time),
        thinnest=duration(trial.time_thinnest) if trial.uniformity > 0 else "",
        voltage=figure(trial.voltage, 2),
        why=_why(trial),
    )


def _why(trial: Trial) -> str:
    """The copies' shares, where there are several, and the reason."""
    if len(trial.shares) < 2:
        return layout_text.why(trial)
    shares = listed([f"{100 * share:.0f}" for share in trial.shares])
    return filled("the parts take {shares} % of their mean; {why}", shares=shares, why=layout_text.why(trial))
