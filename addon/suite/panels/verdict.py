"""The head of the tab: one button, what to change, the four figures, what the last change did, and the plan."""

from __future__ import annotations

import bpy

from ...engine.reporting import compare_text, verdict_text
from ...engine.reporting.filled import capital, filled
from ...engine.study import USUAL
from ...engine.verdict import compare
from ...engine.verdict.changes import Judgment
from .. import judged
from ..draw.rows import UILayout, button_fits, facts, say
from ..figures import TITLES
from ..language import localized
from ..operators.fix import GATE
from ..operators.work import running, share_text, step_text
from ..scene import settings, viewing
from ..session import StudyRecord, session
from .sidebar import SidebarPanel

MAX_LISTED_CHANGES = 3
SHOW_SHARE = 0.32  # of the row that Show takes beside a fix
TURN_ICONS = {Judgment.WORSE: "TRIA_DOWN", Judgment.BETTER: "TRIA_UP"}


class PLATEWRIGHT_PT_verdict(SidebarPanel, bpy.types.Panel):
    """The part, one button to check it, and what to change before you print"""

    bl_label = "Verdict"
    page = "check-the-part"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        _part(context, layout)
        record, gate = session.find(context), judged.gate(context)
        _check(context, layout, record)
        if gate is not None:
            _gate(layout, gate)
            return
        if record is None:
            return
        if record.fault(context.scene):
            say(layout, record.fault(context.scene), icon="CANCEL")
        judgment = judged.judgment(record.study)
        left = judged.missing(record.study)
        if left and not running().busy():
            say(
                layout,
                filled("Not calculated yet: {titles}", titles=", ".join(localized(TITLES[name]) for name in left)),
                icon="INFO",
            )
        holds = _holds(context, record)
        for number, change in enumerate(judgment.verdict.changes):
            _change(
                layout, number, verdict_text.headline(change), judgment.fixes[number], judgment.placed[number], holds
            )
        if judgment.verdict.more:
            layout.label(
                text=localized(filled("{more} more: see the steps below", more=judgment.verdict.more)), icon="BLANK1"
            )
        if not judgment.verdict.changes and not judged.owed(record.study):
            layout.label(text=verdict_text.NOTHING, icon="CHECKMARK")
        figures = layout.column()
        figures.active = holds
        facts(figures, verdict_text.figures(judgment.verdict))
        if holds:
            _since(layout)
        row = layout.row()
        row.scale_y = 1.2
        row.operator("platewright.plan", icon="TEXT")


def _part(context: bpy.types.Context, layout: UILayout) -> None:
    """The objects of the part, and the map that colors them."""
    row = layout.row()
    objects = session.objects(context)
    if objects:
        name, more = objects[0].name, len(objects) - 1
        whole = localized(filled("{name} and {more} more", name=name, more=more)) if more else name
        row.label(text=whole, translate=False, icon="MESH_DATA")
    else:
        row.label(text="Select the part to plate", icon="INFO")
    side = row.row(align=True)
    chosen = settings.of(context.scene)
    if objects and chosen.objects and set(context.selected_objects) - set(objects):
        side.operator("platewright.choose", text="", icon="EYEDROPPER")
    shown = viewing.of(context)
    if shown.shown or shown.cut_shown:
        side.operator("platewright.normal", text="", icon="LOOP_BACK")


def _holds(context: bpy.types.Context, record: StudyRecord) -> bool:
    """Whether what the verdict tells is of the part and the settings as they are."""
    return not record.stale(context.scene).intersection(USUAL).difference(judged.AFTER_VERDICT)


def _check(context: bpy.types.Context, layout: UILayout, record: StudyRecord | None) -> None:
    if running().busy():
        layout.progress(factor=running().step.fraction, text=share_text())
        say(layout, step_text())
        if record is not None and not _holds(context, record):
            say(layout, "Out of date until this is done", icon="FILE_REFRESH")
        return
    row = layout.row()
    row.scale_y = 1.6
    row.operator("platewright.check", text="Check Part" if record is None else "Check Again", icon="PLAY")
    if record is not None and record.stale(context.scene).intersection(USUAL):
        say(layout, "Out of date: the part or a setting has changed", icon="FILE_REFRESH")


def _gate(layout: UILayout, gate: judged.Finding) -> None:
    """The question about the scale, in red, and nothing else."""
    box = layout.box()
    box.alert = True
    say(box, verdict_text.headline(gate), icon="CANCEL")
    column = box.column(align=True)
    column.operator("platewright.fix", text=localized(verdict_text.change(judged.gate_fix(gate)))).number = GATE
    column.operator("platewright.size_is_right")


def _change(layout: UILayout, number: int, headline: str, fix: judged.Fix | None, placed: bool, holds: bool) -> None:
    """Show, unless it is about the whole part and there is a fix; the fix. holds : whether it is not out of date"""
    box = layout.box()
    lines = box.column()
    lines.active = holds
    say(lines, headline, icon="ERROR")
    change = localized(verdict_text.change(fix)) if fix is not None else ""
    show = placed or fix is None
    beside = bool(show and change and button_fits(change, 1.0 - SHOW_SHARE))
    row = box.split(factor=SHOW_SHARE, align=True) if beside else box.column(align=True)
    if show:
        row.operator("platewright.show_finding").number = number
    if change:
        row.operator("platewright.fix", text=change).number = number


def _since(layout: UILayout) -> None:
    """What the last change improved or worsened."""
    column = layout.column(align=True)
    for change in compare.most_significant(session.state(judged.Checks).changes, MAX_LISTED_CHANGES):
        say(column, localized(capital(compare_text.brief(change))).replace("->", "→"), icon=TURN_ICONS[change.judgment])


class PLATEWRIGHT_PT_states(SidebarPanel, bpy.types.Panel):
    """Checks that you kept, side by side with the latest"""

    bl_label = "Compare"
    page = "check-the-part"
    bl_parent_id = "PLATEWRIGHT_PT_verdict"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, states = self.layout, settings.of(context.scene).states
        layout.operator("platewright.keep_state", icon="ADD")
        for number, state in enumerate(states):
            row = layout.row(align=True)
            row.prop(state, "name", text="")
            row.operator("platewright.drop_state", text="", icon="X").number = number
        rows = judged.beside(context)
        if not rows:
            say(layout, "Check the part, keep the check, change something and check again", icon="INFO")
            return
        column = layout.column(align=True)
        for name, values in rows:
            column.label(text=localized(name))
            row = column.row()
            for value in values:
                row.label(text=localized(value))


CLASSES = (PLATEWRIGHT_PT_verdict, PLATEWRIGHT_PT_states)
