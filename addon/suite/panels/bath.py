"""Tank and bath: the target, the resulting figures, and the properties of supply and solution."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from ...engine.reporting.finding_text import texts
from ...engine.units import AMPERE_HOUR, GRAM, UM
from ...engine.verdict.judge import Section
from ..draw.rows import facts, inputs, say
from ..figures import duration, figure
from ..language import localized
from ..scene import settings
from .sidebar import SidebarPanel, StepPanel, answer, show_button

KINDS = {"kinetics": "Cathode", "anode_kinetics": "Anode"}  # of kinetics


class PLATEWRIGHT_PT_bath(StepPanel, bpy.types.Panel):
    """The tank, the bath, and the deposit that you want. Current, time and thickness follow"""

    bl_label = "Tank & Bath"
    page = "5-tank-and-bath"
    presets = "bath"
    section = Section.TANK

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.bath, "entry")
        inputs(layout, chosen.target, "thickness", "density")
        deposit = answer(context, layout, "deposit", lambda results: results.deposit)
        if deposit is not None:
            facts(layout, [("Current", figure(deposit.current, "A")), ("Plating Time", duration(deposit.time))])
            for sentence in texts(deposit.findings):
                say(layout, sentence, icon="ERROR")
        layout.operator("platewright.tank", icon="MESH_CUBE")
        buttons = layout.column(align=True)
        look = buttons.operator("platewright.study", text="Fast Estimate", icon="FORWARD")
        look.only, look.quick = "field", True
        buttons.operator("platewright.study", text="Calculate Thickness", icon="PLAY").only = "field"
        field = answer(context, layout, "field", lambda results: results.field)
        if field is not None:
            spread = field.thickness_spread
            rows = [("Thinnest Spot", spread.min), ("Median", spread.median), ("Thickest Spot", spread.max)]
            facts(layout, [(name, figure(value / UM, "um")) for name, value in rows])
            show_button(layout, "thickness", "Show Thickness")


class PLATEWRIGHT_PT_supply(SidebarPanel, bpy.types.Panel):
    """Limits of the power supply, and what it controls"""

    bl_label = "Power Supply"
    page = "5-tank-and-bath"
    presets = "supply"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        supply = settings.of(context.scene).supply
        inputs(self.layout, supply, "current", "voltage", "hold")
        self.layout.label(text=localized(filled("Control: {current}", current="Voltage" if supply.hold else "Current")))
        deposit = answer(context, self.layout, "deposit", lambda results: results.deposit)
        if deposit is not None:
            charge, metal = figure(deposit.charge / AMPERE_HOUR, "Ah"), figure(deposit.mass / GRAM, "g")
            facts(self.layout, [("Charge", charge), (deposit.metal.capitalize(), metal)])


class PLATEWRIGHT_PT_solution(SidebarPanel, bpy.types.Panel):
    """Properties of the solution. Type what you measured in place of the preset's values"""

    bl_label = "Solution"
    page = "5-tank-and-bath"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.bath, "file", "metal", "temperature", "conductivity")
        layout.operator("platewright.conductivity", icon="DRIVER_DISTANCE")
        inputs(
            layout,
            chosen.bath,
            "density",
            "window",
            "limiting",
            "anode_limit",
            "efficiency",
            "surface_tension",
        )
        for name, title in KINDS.items():
            group = getattr(chosen, name)
            layout.label(text=title)
            inputs(layout, group, "kind", *_LAW[group.kind])
        layout.operator("platewright.from_table", icon="FILE_REFRESH").section = "bath"
        layout.separator()
        layout.label(text="To Mix" if chosen.batch.volume else "To Mix: enough for the tank")
        inputs(layout, chosen.batch, "volume", "acid")


_LAW = {
    "none": (),
    "linear": ("resistance",),
    "tafel": ("exchange", "transfer"),
    "butler-volmer": ("exchange", "transfer", "anodic"),
}


CLASSES = (PLATEWRIGHT_PT_bath,)
LATER = (PLATEWRIGHT_PT_supply, PLATEWRIGHT_PT_solution)  # further down in the same step
