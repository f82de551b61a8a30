"""The head of the tab, and the part itself."""

from __future__ import annotations

import bpy

from ...engine.units import CM3, DM2, MM
from ..draw import maps
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..operators.work import running
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel


class PLATEWRIGHT_PT_head(SidebarPanel, bpy.types.Panel):
    """Which part the tab is about, what is at work, and what is shown"""

    bl_label = "Platewright"
    bl_options = {"HIDE_HEADER"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout.box()  # on its own it has no ground behind it
        found = session.objects(context)
        row = layout.row(align=True)
        if found:
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            row.label(text=found[0].name + more, icon="MESH_DATA")
        else:
            row.label(text="No part selected", icon="INFO")
        row.operator("platewright.choose")
        if running().busy():
            layout.progress(factor=running().step.fraction, text=f"{running().step.sentence} (Esc cancels)")
        chosen = settings.of(context.scene)
        shown = chosen.shown
        if shown or chosen.cut_shown:
            row = layout.row(align=True)
            row.label(text=f"In color: {maps.MAPS[shown].title if shown else 'cut'}", icon="HIDE_OFF")
            row.operator("platewright.normal", text="", icon="LOOP_BACK")
        kept = session.find(context)
        if kept is not None and kept.fault(context.scene):
            say(layout, kept.fault(context.scene), icon="CANCEL")


class PLATEWRIGHT_PT_part(SidebarPanel, bpy.types.Panel):
    """The part as it is read from the scene"""

    bl_label = "Part"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        kept = session.find(context)
        text = "Measure Again" if kept is not None else "Measure"
        layout.operator("platewright.measure", text=text, icon="DRIVER_DISTANCE")
        if kept is None or kept.study.surface is None:
            return
        if kept.moved:
            say(layout, "Stale: the part has changed", icon="ERROR")
        surface = kept.study.surface
        size = (surface.bounds[1] - surface.bounds[0]) / MM
        layout.label(text=" × ".join(figure(length) for length in size) + " mm", icon="CUBE")
        facts(
            layout,
            [
                ("Plated area", figure(surface.plated_area.sum() / DM2, "dm2")),
                ("Whole surface", figure(surface.area.sum() / DM2, "dm2")),
                ("Volume", figure(surface.volume / CM3, "cm3")),
                ("Triangles", f"{len(surface.triangles):,}".replace(",", " ")),
            ],
        )
        for number, fault in enumerate(surface.faults):
            box = layout.box()
            say(box, fault.sentence, icon="ERROR")
            if len(fault.faces):
                jump = box.operator("platewright.jump", text=f"Select {len(fault.faces)} Faces", icon="ZOOM_SELECTED")
                jump.kind, jump.number = "FAULT", number
        for sentence in kept.study.part.skipped:
            say(layout, sentence, icon="INFO")


class PLATEWRIGHT_PT_print(SidebarPanel, bpy.types.Panel):
    """How the part is printed: for its weight, its layer steps and its growth"""

    bl_label = "Print"
    bl_parent_id = "PLATEWRIGHT_PT_part"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        chosen = settings.of(context.scene)
        inputs(self.layout, chosen.part, "material", "walls", "infill", "sheet_sides")
        inputs(self.layout, chosen.print, "layer", "up")
        inputs(self.layout, chosen.part, "mask", "show")


CLASSES = (PLATEWRIGHT_PT_head, PLATEWRIGHT_PT_part, PLATEWRIGHT_PT_print)
