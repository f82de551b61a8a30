"""Several parts in the tank: how far apart they must hang so that each gets its share."""

from __future__ import annotations

import bpy

from ...engine.reporting import plan_rack
from ...engine.units import MM
from ..draw.rows import inputs, say
from ..scene import roles, settings
from ..session import session
from .sidebar import SidebarPanel, answer


class PLATEWRIGHT_PT_rack(SidebarPanel, bpy.types.Panel):
    """Hang several parts in one tank. Find how far apart they must hang to plate alike"""

    bl_label = "Rack"
    page = "tank-and-anodes"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.rack, "suggest", "tolerance")
        if chosen.rack.suggest < 2:
            say(layout, "Set the number of parts: two or more", icon="INFO")
            return
        layout.operator("platewright.study", text="Find Spacing", icon="MOD_ARRAY").only = "rack"
        rack = answer(context, layout, "rack", lambda results: results.rack)
        record = session.find(context)
        if rack is None or record is None:
            return
        for sentence in plan_rack.spacing_lines(rack, record.study.job.supply.current):
            say(layout, sentence)
        if rack.pitch is not None and roles.tank(context.scene) is not None:
            hang = layout.operator("platewright.rack", text="Add Rack with This Spacing", icon="CHECKMARK")
            hang.count, hang.spacing = rack.wanted, rack.pitch / MM


CLASSES = (PLATEWRIGHT_PT_rack,)
