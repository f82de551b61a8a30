"""The part: size, area and mesh faults."""

from __future__ import annotations

import bpy

from ...engine.reporting import finding_text, skip_text
from ...engine.study import findings as study_findings
from ...engine.units import CM2, CM3, MM
from ...engine.verdict.judge import Section
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..language import localized
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, StepPanel

MAX_LISTED_FAULTS = 4


class PLATEWRIGHT_PT_part(StepPanel, bpy.types.Panel):
    """Size, area and mesh of the part, as the viewport shows it"""

    bl_label = "Part"
    page = "1-part"
    section = Section.PART

    def draw(self, context: bpy.types.Context) -> None:
        layout, record = self.layout, session.find(context)
        layout.operator("platewright.choose", icon="EYEDROPPER")
        layout.operator("platewright.measure", icon="DRIVER_DISTANCE")
        if record is None:
            return
        surface = record.study.surface
        size = (surface.bounds[1] - surface.bounds[0]) / MM
        layout.label(text=" × ".join(localized(figure(length, digits=3)) for length in size) + " mm", icon="CUBE")
        facts(layout, [("Plated Area", figure(surface.plated_area.sum() / CM2, "cm2"))])
        for number, fault in enumerate(study_findings.faults(record.study)[:MAX_LISTED_FAULTS]):
            box = layout.box()
            say(box, finding_text.text(fault), icon="ERROR")
            if len(fault.faces):
                jump = box.operator("platewright.jump", text="Select Faces", icon="ZOOM_SELECTED")
                jump.kind, jump.number = "FAULT", number
        for skip in record.study.part.skipped:
            say(layout, skip_text.text(skip), icon="INFO")


class PLATEWRIGHT_PT_part_details(SidebarPanel, bpy.types.Panel):
    """More figures of the mesh, and the names of the face attributes that mask and show faces"""

    bl_label = "Details"
    page = "1-part"
    bl_parent_id = "PLATEWRIGHT_PT_part"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, record = self.layout, session.find(context)
        inputs(layout, settings.of(context.scene).part, "mask", "show", "sheet_sides")
        if record is None:
            return
        surface = record.study.surface
        facts(
            layout,
            [
                ("Total Surface", figure(surface.area.sum() / CM2, "cm2")),
                ("Volume", figure(surface.volume / CM3, "cm3")),
                ("Triangles", f"{len(surface.triangles):,}"),
            ],
        )


CLASSES = (PLATEWRIGHT_PT_part, PLATEWRIGHT_PT_part_details)
