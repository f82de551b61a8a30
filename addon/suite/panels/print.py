"""Before the part is printed: how much it will grow, which faces want sanding, and a copy that allows for it."""

from __future__ import annotations

import bpy

from ...engine.units import CM2, UM
from ..draw.rows import facts, say
from ..figures import figure
from .sidebar import SidebarPanel, answer, show_button


class PLATEWRIGHT_PT_before(SidebarPanel, bpy.types.Panel):
    """How much coat and deposit add to the size, and where layer lines will show through"""

    bl_label = "Before Printing"
    bl_parent_id = "PLATEWRIGHT_PT_part"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        found = answer(context, layout, "preparation", lambda results: results.preparation)
        if found is None:
            say(layout, "Check the part to see how much it will grow", icon="INFO")
            return
        facts(
            layout,
            [
                ("Growth of Each Face", figure(found.growth / UM, "um")),
                ("Loss of Hole Diameter", figure(found.bore_loss / UM, "um")),
                ("Layer Steps, Median", figure(found.median / UM, "um")),
                ("Layer Steps, Highest", figure(found.greatest / UM, "um")),
                ("Area to Sand", figure(found.sanding_area / CM2, "cm2")),
            ],
        )
        show_button(layout, "staircase", "Show Layer Steps")
        layout.operator("platewright.inset", icon="MOD_SOLIDIFY")


CLASSES = (PLATEWRIGHT_PT_before,)
