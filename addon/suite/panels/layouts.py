"""Layouts that even the deposit out: a table of trials, best first, each with a button to apply it."""

from __future__ import annotations

import bpy

from ...engine.field.trials import Trial
from ...engine.reporting import layout_text
from ...engine.reporting.filled import capital, filled
from ..draw.rows import say
from ..figures import duration, figure
from ..language import localized
from .sidebar import SidebarPanel, answer


class PLATEWRIGHT_PT_even(SidebarPanel, bpy.types.Panel):
    """Try other current densities, other anodes and a rotation at half time, and see which plates most evenly"""

    bl_label = "Improve Evenness"
    page = "evenness"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("platewright.study", text="Try Layouts", icon="SORTSIZE").only = "layouts"
        comparison = answer(context, layout, "layouts", lambda results: results.layouts)
        if comparison is None:
            return
        say(layout, "Best first: thinnest spot in percent of average, plating time, voltage")
        for number, trial in enumerate(comparison.trials):
            _trial(layout, number, trial)
        for remark in comparison.remarks:
            say(layout, capital(layout_text.remark(remark)), icon="INFO")


def _trial(layout: bpy.types.UILayout, number: int, trial: Trial) -> None:
    box = layout.box()
    head = box.row()
    say(
        head,
        filled("{number}. {layout}", number=number + 1, layout=capital(layout_text.name(trial))),
        icon="RADIOBUT_ON" if trial.own else "NONE",
    )
    if not trial.own:
        take = head.row()
        take.alignment = "RIGHT"
        take.operator("platewright.take_layout", text="", icon="CHECKMARK").number = number
    _row(box, figure(100 * trial.uniformity, "%"), duration(trial.time), figure(trial.voltage, "V"))
    if len(trial.shares) > 1:
        shares = ", ".join(f"{100 * share:.0f}" for share in trial.shares)
        say(box, filled("The parts take {shares} % of their average current", shares=shares))
    if not trial.own:
        say(box, capital(layout_text.why(trial)))


def _row(layout: bpy.types.UILayout, *cells: str) -> None:
    row = layout.row()
    for cell in cells:
        row.label(text=localized(cell))


CLASSES = (PLATEWRIGHT_PT_even,)
