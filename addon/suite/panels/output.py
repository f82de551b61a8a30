"""Documents for the bench and the client, and the quality of the calculations."""

from __future__ import annotations

import bpy

from ...engine import study as studies
from ...engine.reporting.filled import filled, joined
from ..draw.rows import inputs, say
from ..figures import TITLES
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, quality_row


class PLATEWRIGHT_PT_plan(SidebarPanel, bpy.types.Panel):
    """The plan for the bench, and pictures for the client"""

    bl_label = "Plan & Pictures"
    page = "6-plan-and-pictures"
    bl_options = {"DEFAULT_CLOSED"}

    def draw_header(self, context: bpy.types.Context) -> None:
        self.layout.label(text="", icon=_status(context))

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        record = session.find(context)
        if record is not None and record.stale(context.scene):
            stale = record.stale(context.scene)
            names = joined([TITLES[name] for name in studies.NAMES if name in stale], ", ")
            say(layout, filled("Out of date: {names}", names=names), icon="ERROR")
        layout.operator("platewright.plan", icon="TEXT")
        layout.operator("platewright.workshop", icon="FILE_TEXT")
        layout.operator("platewright.sheet", icon="FILE_IMAGE")
        layout.operator("platewright.picture", icon="IMAGE_DATA")
        layout.operator("platewright.still", icon="CAMERA_DATA")
        layout.separator()
        layout.operator("platewright.store", icon="GROUP_VERTEX")
        layout.operator("platewright.materials", icon="MATERIAL")
        layout.operator("platewright.remove", icon="TRASH")
        say(layout, "Acid, copper salts and mains can hurt: read the cautions in the plan", icon="INFO")


def _status(context: bpy.types.Context) -> str:
    """Whether there is a study to write, and whether it is up to date."""
    record = session.find(context)
    if record is None:
        return "RADIOBUT_OFF"
    return "FILE_REFRESH" if record.stale(context.scene) else "CHECKMARK"


class PLATEWRIGHT_PT_sheet(SidebarPanel, bpy.types.Panel):
    """What the client's sheet says beside what is calculated"""

    bl_label = "Client Sheet"
    page = "6-plan-and-pictures"
    bl_parent_id = "PLATEWRIGHT_PT_plan"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        sheet = settings.of(context.scene).sheet
        inputs(self.layout, sheet, "title", "project", "revision", "date", "logo", "finish")
        self.layout.prop(sheet, "clear")


class PLATEWRIGHT_PT_effort(SidebarPanel, bpy.types.Panel):
    """How fine the calculations are. Finer is slower"""

    bl_label = "Quality"
    page = "thickness-and-shielded-areas"
    bl_parent_id = "PLATEWRIGHT_PT_plan"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        effort = settings.of(context.scene).effort
        quality_row(self.layout, effort)
        inputs(self.layout, effort, "panels", "rays", "directions")


CLASSES = (PLATEWRIGHT_PT_plan, PLATEWRIGHT_PT_sheet, PLATEWRIGHT_PT_effort)
