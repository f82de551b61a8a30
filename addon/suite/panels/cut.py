"""The cut through the tank: its plane and its figures."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from ..draw import cuts
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..scene import settings, viewing
from .sidebar import SidebarPanel, answer


class PLATEWRIGHT_PT_cut(SidebarPanel, bpy.types.Panel):
    """A plane through the tank that shows the potential in the bath and the path of the current"""

    bl_label = "Cross-section of Tank"
    page = "cross-section"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.cut, "way", "offset")
        layout.operator("platewright.cut", icon="MOD_BOOLEAN")
        cut = answer(context, layout, "cut", lambda results: results.cut)
        if cut is None:
            return
        row = layout.column(align=True)
        shown = viewing.of(context)
        row.prop(shown, "cut_shown", toggle=True, icon="HIDE_OFF" if shown.cut_shown else "HIDE_ON")
        row.operator("platewright.picture", text="Save Picture").map_name = "cut"
        facts(
            layout,
            [
                ("Potential in Bath", filled("{low} to {high}", low=figure(cut.low), high=figure(cut.high, "V"))),
                ("Spacing of Thin Lines", figure(cut.step, "V")),
                ("Current across Plane", figure(100 * cut.oblique, "%")),
            ],
        )
        if cut.oblique > cuts.SIDEWAYS:
            say(layout, "Lines show only the current that flows within the plane", icon="INFO")


CLASSES = (PLATEWRIGHT_PT_cut,)
