"""The head of the tab, and the part itself."""

from __future__ import annotations

import bpy

from ...engine.reporting import finding_text
from ...engine.units import CM2, CM3, MM
from ..draw import cuts, maps
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..operators.work import progress_text, running
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel


class PLATEWRIGHT_PT_head(SidebarPanel, bpy.types.Panel):
    """The part, the calculation that is running, and the colors that are shown"""

    bl_label = "Platewright"
    bl_options = {"HIDE_HEADER"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout.box()  # on its own it has no ground behind it
        found = session.objects(context)
        if found:
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            layout.label(text=found[0].name + more, icon="MESH_DATA")
        else:
            layout.label(text="No part set", icon="INFO")
        layout.operator("platewright.choose")
        if running().busy():
            layout.progress(factor=running().step.fraction, text=progress_text())
        chosen = settings.of(context.scene)
        shown = chosen.shown
        if shown or chosen.cut_shown:
            row = layout.row(align=True)
            row.label(text=f"Colors: {maps.MAPS[shown].title if shown else cuts.MAP.title}", icon="HIDE_OFF")
            row.operator("platewright.normal", text="", icon="LOOP_BACK")
        kept = session.find(context)
        if kept is not None and kept.fault(context.scene):
            say(layout, kept.fault(context.scene), icon="CANCEL")


class PLATEWRIGHT_PT_part(SidebarPanel, bpy.types.Panel):
    """Size, area and mesh of the part, as the viewport shows it"""

    bl_label = "Part"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        kept = session.find(context)
        text = "Check Again" if kept is not None else "Check Part"
        layout.operator("platewright.measure", text=text, icon="DRIVER_DISTANCE")
        if kept is None:
            return
        if kept.moved:
            say(layout, "Out of date: the part has changed", icon="ERROR")
        surface = kept.study.surface
        size = (surface.bounds[1] - surface.bounds[0]) / MM
        layout.label(text=" × ".join(figure(length, digits=3) for length in size) + " mm", icon="CUBE")
        facts(
            layout,
            [
                ("Plated Area", figure(surface.plated_area.sum() / CM2, "cm2")),
                ("Total Surface", figure(surface.area.sum() / CM2, "cm2")),
                ("Volume", figure(surface.volume / CM3, "cm3")),
                ("Triangles", f"{len(surface.triangles):,}"),
            ],
        )
        for number, fault in enumerate(surface.faults):
            box = layout.box()
            say(box, finding_text.text(fault), icon="ERROR")
            if len(fault.faces):
                jump = box.operator("platewright.jump", text=f"Select {len(fault.faces)} Faces", icon="ZOOM_SELECTED")
                jump.kind, jump.number = "FAULT", number
        for sentence in kept.study.part.skipped:
            say(layout, sentence, icon="INFO")


class PLATEWRIGHT_PT_print(SidebarPanel, bpy.types.Panel):
    """How the part is printed. Its weight, layer steps and growth follow from this"""

    bl_label = "Print Settings"
    bl_parent_id = "PLATEWRIGHT_PT_part"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        chosen = settings.of(context.scene)
        inputs(self.layout, chosen.part, "material", "walls", "infill", "sheet_sides")
        inputs(self.layout, chosen.print, "layer", "up")
        inputs(self.layout, chosen.part, "mask", "show")


CLASSES = (PLATEWRIGHT_PT_head, PLATEWRIGHT_PT_part, PLATEWRIGHT_PT_print)
