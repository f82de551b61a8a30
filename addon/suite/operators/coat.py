"""The coat's sheet resistance from the user's own reading, between two strips of tape."""

from __future__ import annotations

import bpy

from ...engine.coat.drop import sheet_resistance_from_strips
from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ...engine.settings.part import Coat
from ...engine.settings.schema import specs
from ...engine.units import MM
from ..draw.rows import inputs
from ..figures import figure
from ..scene import scene_units, settings
from .popup import Popup

MAX_SHEET_RESISTANCE = specs(Coat)["sheet_resistance"].high


class PLATEWRIGHT_OT_sheet_resistance(Popup, bpy.types.Operator):
    """Enter the resistance between two strips of metal tape on a coated scrap, to get the sheet resistance"""

    bl_idname = "platewright.sheet_resistance"
    bl_label = "Enter Coat Reading..."
    bl_options = {"REGISTER", "UNDO"}
    how = (
        "Coat a scrap as you coat the part, and let it dry.",
        "Press two parallel strips of metal tape across it.",
        "Read the resistance from one strip to the other.",
    )
    waiting = "Type what the meter shows"

    width: bpy.props.FloatProperty(
        name="Band Width (mm)",
        description="Width of the coated band, along the strips",
        default=10.0,
        min=0.1,
        max=1e4,
        precision=1,
    )
    gap: bpy.props.FloatProperty(
        name="Gap (mm)",
        description="Distance between the strips, along the band",
        default=100.0,
        min=0.1,
        max=1e4,
        precision=1,
    )
    width_in_scene_units: scene_units.twin("width", "mm", 0, "Band Width", "Width of the coated band, along the strips")
    gap_in_scene_units: scene_units.twin("gap", "mm", 0, "Gap", "Distance between the strips, along the band")
    reading: bpy.props.FloatProperty(
        name="Reading (ohm)",
        description="What the meter shows from strip to strip",
        default=0.0,
        min=0.0,
        max=1e9,
        precision=3,
    )
    leads: bpy.props.FloatProperty(
        name="Leads (ohm)",
        description="What the meter shows with its leads held together",
        default=0.0,
        min=0.0,
        max=1e3,
        precision=3,
    )

    def fields(self, layout: bpy.types.UILayout) -> None:
        """Draw width, distance, reading and leads."""
        inputs(layout, self.properties, "width", "gap", "reading", "leads")

    def typed(self) -> bool:
        """Whether the meter's reading is there."""
        return self.reading > 0

    def evaluated(self) -> float:
        """Ohm per square of the strip. Raises InputError where no coat has so much."""
        ohms = sheet_resistance_from_strips(self.reading, self.width * MM, self.gap * MM, leads=self.leads)
        if ohms > MAX_SHEET_RESISTANCE:
            raise InputError(
                filled(
                    "reading: {found} is no coat that can be plated; check strips, and that it is dry",
                    found=figure(ohms, "ohm/sq"),
                )
            )
        return ohms

    def outcome(self, ohms: float) -> str:
        """The sheet resistance in a line."""
        return filled("Sheet resistance {resistance}", resistance=figure(ohms, "ohm/sq", digits=3))

    def write(self, context: bpy.types.Context, ohms: float) -> None:
        """Set the coat's sheet resistance."""
        settings.of(context.scene).coat.sheet_resistance = ohms


CLASSES = (PLATEWRIGHT_OT_sheet_resistance,)
