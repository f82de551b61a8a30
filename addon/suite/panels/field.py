"""Shelter at a glance, and the thickness that the tank and its anodes give."""

from __future__ import annotations

import bpy

from ...engine.units import A_PER_DM2, CM2, UM
from ..draw.rows import facts, inputs, say
from ..figures import duration, figure
from ..scene import roles, settings
from ..session import session
from .sidebar import SidebarPanel, answer, show_button


class PLATEWRIGHT_PT_shelter(SidebarPanel, bpy.types.Panel):
    """How much of the bath each face sees: a quick preview of where the deposit will be thin"""

    bl_label = "Shelter"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("platewright.study", text="Look for Shelter", icon="LIGHT_HEMI").only = "openness"
        found = answer(context, layout, "openness")
        if found is None:
            return
        facts(
            layout,
            [
                ("Most sheltered", figure(100 * found.minimum, "%")),
                ("Median", figure(100 * found.median, "%")),
                ("Sheltered", figure(found.hidden_area / CM2, "cm2")),
                ("Uncertain by", "±" + figure(100 * found.error, "%")),
            ],
        )
        say(layout, "A quick preview: the thickness map decides", icon="INFO")
        show_button(layout, "openness")


class PLATEWRIGHT_PT_field(SidebarPanel, bpy.types.Panel):
    """The thickness everywhere on the part, in this tank and with these anodes"""

    bl_label = "Thickness"

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        sizes = ("level",) if roles.tank(context.scene) is not None else ("size", "level")
        inputs(layout, chosen.tank, "shape", *(sizes if chosen.tank.shape != "open" else ()))
        inputs(layout, chosen.effort, "panels")
        row = layout.row(align=True)
        look = row.operator("platewright.study", text="Quick Look", icon="FORWARD")
        look.only, look.quick = "field", True
        row.operator("platewright.study", text="Solve", icon="PLAY").only = "field"
        found = answer(context, layout, "field")
        if found is None:
            return
        kept = session.find(context)
        if kept is not None and kept.quick(context.scene):
            say(layout, f"Quick look at {found.panels} panels: solve for the full map", icon="INFO")
        spread = found.thickness_spread
        facts(
            layout,
            [
                ("Thinnest", figure(spread.min / UM, "um")),
                ("Median", figure(spread.median / UM, "um")),
                ("Thickest", figure(spread.max / UM, "um")),
                ("Thinnest / mean", figure(found.throw)),
                ("Uncertain by", "±" + figure(100 * found.error, "%")),
                ("Cell voltage", figure(found.voltage, "V")),
                ("Highest density", figure(found.density_spread.max / A_PER_DM2, "A/dm2")),
                ("Next to bare", figure(found.bare_area / CM2, "cm2")),
                ("Dull", figure(found.dull_area / CM2, "cm2")),
                ("Burnt", figure(found.burnt_area / CM2, "cm2")),
                ("Time for thinnest", duration(found.time_thinnest)),
            ],
        )
        if len(found.part_currents) > 1:
            mean = sum(found.part_currents) / len(found.part_currents)
            shares = ", ".join(f"{100 * current / mean:.0f}" for current in found.part_currents)
            say(layout, f"The part and its copies take {shares} % of their mean current")
        for sentence in found.warnings:
            say(layout, sentence, icon="ERROR")
        show_button(layout, "thickness", "Show Thickness")
        show_button(layout, "window", "Show What Burns or Stays Dull")
        layout.operator("platewright.probe", icon="EYEDROPPER")


CLASSES = (PLATEWRIGHT_PT_shelter, PLATEWRIGHT_PT_field)
