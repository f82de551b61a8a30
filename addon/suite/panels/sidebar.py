"""Shared by all panels of the sidebar. Panels read stored results and never compute."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import bpy

from ...engine.findings import Severity
from ...engine.reporting.filled import filled
from ...engine.study import LEFT_OUT, Results
from ...engine.verdict.judge import Section
from .. import judged
from ..draw.rows import UILayout, say
from ..operators import quality
from ..preview.live import LivePreview
from ..scene import viewing
from ..session import StudyRecord, session
from . import presets

R = TypeVar("R")


class SidebarPanel:
    """Base of all panels: their place, and the presets and the question mark in their headers."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Platewright"
    page = ""  # heading of the guide that tells of it
    presets = ""  # section of the settings that presets are kept of
    layout: UILayout

    def draw_header_preset(self, _context: bpy.types.Context) -> None:
        if self.presets:
            presets.draw(self.layout, self.presets)
        if self.page:
            self.layout.operator("platewright.help", text="", icon="QUESTION", emboss=False).page = self.page


class StepPanel(SidebarPanel):
    """One of the six steps: closed by default, with an icon of its status."""

    bl_options = {"DEFAULT_CLOSED"}
    section: Section

    def draw_header(self, context: bpy.types.Context) -> None:
        self.layout.label(text="", icon=status(context, self.section))


STATUS_ICONS: dict[Severity, Any] = {
    Severity.STOPS: "CANCEL",
    Severity.SPOILS: "ERROR",
    Severity.COSTS: "INFO",
}


def status(context: bpy.types.Context, section: Section) -> Any:
    """The icon of a step: not computed, out of date, to be changed, or fine."""
    record = session.find(context)
    if record is None:
        return "RADIOBUT_OFF"
    needs = judged.NEEDS[section]
    worst = judged.judgment(record.study).worst[section]
    if record.moved or record.stale(context.scene).intersection(needs):
        return "FILE_REFRESH"
    if worst is not None:
        return STATUS_ICONS.get(worst, "CHECKMARK")
    return "CHECKMARK" if all(name in record.study.results.names for name in needs) else "RADIOBUT_OFF"


def answer(
    context: bpy.types.Context, layout: UILayout, analysis: str, read: Callable[[Results], R | None]
) -> R | None:
    """The stored result of an analysis, or None after drawing the reason; stale results are marked."""
    record = session.find(context)
    if record is None:
        return None  # the Part panel has the button
    if analysis in record.study.results.names:
        if analysis in record.stale(context.scene):
            say(layout, filled("Out of date: {why}", why=why_stale(record)), icon="ERROR")
        return read(record.study.results)
    reason = record.study.reasons.get(analysis, LEFT_OUT)
    if reason == LEFT_OUT:
        say(layout, "Not calculated yet", icon="INFO")
    else:
        say(layout, reason, icon="CANCEL")
    return None


def why_stale(record: StudyRecord) -> str:
    """Why results are out of date."""
    return "the part has changed" if record.moved else "settings or things in the tank have changed"


def show_button(layout: UILayout, map_name: str, text: str = "Show on Part") -> None:
    """A button that colors the part by a map, or takes the colors off while they are shown."""
    shown = viewing.of(bpy.context).shown == map_name
    if shown:
        layout.operator("platewright.normal", text="Hide Colors", icon="LOOP_BACK", depress=True)
    else:
        layout.operator("platewright.show", text=text, icon="SHADING_SOLID").map_name = map_name


def follow_button(layout: UILayout) -> None:
    """The button of the live preview, and the gas and liquid in the present position."""
    live = session.state(LivePreview)
    text = "End Live Preview" if live.on else "Live Gas Preview"
    layout.operator("platewright.follow", text=text, icon="DRIVER_ROTATIONAL_DIFFERENCE", depress=live.on)
    if live.on:
        say(layout, filled("As turned now: {words}", words=live.words), icon="INFO")


def quality_row(layout: UILayout, effort: Any) -> None:
    """One button for each quality of the calculations; the current one is pressed."""
    row = layout.row(align=True)
    for level in quality.LEVELS:
        row.operator("platewright.quality", text=level.title, depress=quality.is_set(effort, level)).level = level.name
