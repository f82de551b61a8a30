"""The coat's sheet resistance from the user's own reading, between two strips of tape."""

from __future__ import annotations

from typing import Any

import bpy

from ..engine.coat.drop import sheet_resistance_from_strips
from ..engine.errors import Fault
from ..engine.units import MM
from . import settings
from .figures import figure
from .panels import inputs

WIDTH = 360  # of the popup, pixels
HOW = (
    "Coat a scrap as you coat the part, and let it dry.",
    "Press two straight strips of metal tape across it, parallel,",
    "and read the resistance from one to the other.",
)


class PLATEWRIGHT_OT_sheet_resistance(bpy.types.Operator):
    """Find the coat's sheet resistance from your own reading: two strips of metal tape across a coated band, and a meter"""

    bl_idname = "platewright.sheet_resistance"
    bl_label = "Measure Coat"
    bl_options = {"REGISTER", "UNDO"}

    width: bpy.props.FloatProperty(
        name="Band width (mm)", description="Of the coated band, along the strips", default=10.0, min=0.1, max=1e4, precision=1
    )
    gap: bpy.props.FloatProperty(
        name="Gap (mm)", description="Between the strips, along the band", default=100.0, min=0.1, max=1e4, precision=1
    )
    reading: bpy.props.FloatProperty(
        name="Reading (ohm)", description="What the meter shows from strip to strip", default=0.0, min=0.0, max=1e9, precision=3
    )
    leads: bpy.props.FloatProperty(
        name="Leads (ohm)", description="What it shows with its leads held together", default=0.0, min=0.0, max=1e3, precision=3
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return {*context.window_manager.invoke_props_dialog(self, width=WIDTH)}

    def draw(self, _context: bpy.types.Context) -> None:
        layout: Any = self.layout
        for line in HOW:
            layout.label(text=line)
        inputs(layout, self.properties, "width", "gap", "reading", "leads")
        try:
            layout.label(text=told(self._found()), icon="CHECKMARK")
        except Fault as fault:
            layout.label(text=str(fault), icon="INFO")

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            found = self._found()
        except Fault as fault:
            self.report({"ERROR"}, str(fault))
            return {"CANCELLED"}
        settings.of(context.scene).coat.sheet_resistance = found
        self.report({"INFO"}, told(found))
        return {"FINISHED"}

    def _found(self) -> float:
        return sheet_resistance_from_strips(self.reading, self.width * MM, self.gap * MM, leads=self.leads)


def told(found: float) -> str:
    return f"Sheet resistance {figure(found, 'ohm/sq')}"


classes = (PLATEWRIGHT_OT_sheet_resistance,)
register, unregister = bpy.utils.register_classes_factory(classes)
