"""The plating thickness in the tank, and the quick preview of shielding."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from ...engine.reporting.finding_text import texts
from ...engine.units import A_PER_DM2, CM2, UM
from ..draw.rows import facts, say
from ..figures import duration, figure
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, answer, quality_row, show_button

# thinnest over mean: below it, plating on until the thinnest spot is done is no remedy. Common practice, no source
MIN_MENDABLE_UNIFORMITY = 0.2


class PLATEWRIGHT_PT_field(SidebarPanel, bpy.types.Panel):
    """Plating thickness everywhere on the part, in this tank and with these anodes"""

    bl_label = "Thickness"
    page = "thickness-and-shielded-areas"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        quality_row(layout, chosen.effort)
        field = answer(context, layout, "field", lambda results: results.field)
        if field is None:
            return
        record = session.find(context)
        if record is not None and record.quick(context.scene):
            say(layout, "Fast estimate: calculate the thickness for the full map", icon="INFO")
        spread = field.thickness_spread
        facts(
            layout,
            [
                ("Thinnest Spot", figure(spread.min / UM, "um")),
                ("", filled("{share} % of average", share=figure(100 * field.uniformity))),
                ("Numerical Accuracy", _accuracy(field.error)),
                ("Cell Voltage", figure(field.voltage, "V")),
                ("Peak Current Density", figure(field.density_spread.max / A_PER_DM2, "A/dm2")),
                ("Almost Bare", _area(field.bare_area)),
                ("Dull or Bare", _area(field.dull_area + field.bare_area)),
                ("Burning", _area(field.burnt_area)),
            ],
        )
        if field.uniformity < MIN_MENDABLE_UNIFORMITY:
            say(layout, "Longer plating will not fix the thinnest spot: improve the evenness, or change the model")
        else:
            facts(layout, [("Time to Fill Thinnest Spot", duration(field.time_thinnest))])
        if len(field.part_currents) > 1:
            mean = sum(field.part_currents) / len(field.part_currents)
            shares = ", ".join(f"{100 * current / mean:.0f}" for current in field.part_currents)
            say(layout, filled("The part and its copies take {shares} % of their average current", shares=shares))
        for sentence in texts(field.findings):
            say(layout, sentence, icon="ERROR")
        show_button(layout, "window", "Show Burning and Dull Areas")
        layout.operator("platewright.probe", icon="EYEDROPPER")


def _area(area: float) -> str:
    return figure(area / CM2, "cm2") if area > 0 else "None"


def _accuracy(error: float | None) -> str:
    if error is None:
        return "unknown: raise Panels"
    return filled("about {error}", error=figure(100 * error, "%"))


class PLATEWRIGHT_PT_shelter(SidebarPanel, bpy.types.Panel):
    """A quick preview of where the part shields itself from the current, so that the deposit will be thin"""

    bl_label = "Shielded Areas"
    page = "thickness-and-shielded-areas"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("platewright.study", text="Preview Shielded Areas", icon="LIGHT_HEMI").only = "openness"
        openness = answer(context, layout, "openness", lambda results: results.openness)
        if openness is None:
            return
        facts(
            layout,
            [
                ("Most Shielded Face", figure(100 * openness.minimum, "%")),
                ("Median Face", figure(100 * openness.median, "%")),
                ("Shielded Area", figure(openness.hidden_area / CM2, "cm2")),
                ("Numerical Accuracy", _accuracy(openness.error)),
            ],
        )
        say(layout, "Percent of open bath that a face sees. This is a preview: the thickness map decides", icon="INFO")
        show_button(layout, "openness")


CLASSES = (PLATEWRIGHT_PT_field, PLATEWRIGHT_PT_shelter)
