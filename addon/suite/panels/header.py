"""The pop-over in the header of the 3D viewport: the map, its legend and its limits, and what else is drawn."""

from __future__ import annotations

from typing import Any

import bpy

from ...engine.reporting.filled import filled
from ..draw import maps
from ..draw.rows import UILayout, say
from ..figures import unit_text
from ..language import localized
from ..scene import viewing
from ..session import session


class PLATEWRIGHT_PT_view(bpy.types.Panel):
    """Which result colors the part, and what else is drawn of the plating"""

    bl_label = "Plating Results"
    bl_space_type = "VIEW_3D"
    bl_region_type = "HEADER"
    bl_ui_units_x = 12

    def draw(self, context: bpy.types.Context) -> None:
        layout, shown, record = self.layout, viewing.of(context), session.find(context)
        if record is None:
            say(layout, "Check the part first", icon="INFO")
            return
        column = layout.column(align=True)
        for name in maps.available(record.study):
            pressed = shown.shown == name
            column.operator("platewright.show", text=maps.MAPS[name].title, depress=pressed).map_name = name
        layout.operator("platewright.normal", icon="LOOP_BACK")
        _limits(layout, shown)
        column = layout.column()
        for name in ("legend", "guides", "bodies", "cut_shown"):
            column.prop(shown, name)


def _limits(layout: UILayout, shown: Any) -> None:
    """The ends of the legend, where the map has none of its own."""
    if not shown.shown or maps.MAPS[shown.shown].fixed:
        return
    unit = unit_text(maps.MAPS[shown.shown].unit)
    layout.prop(shown, "own_limits", text=localized(filled("Set Limits ({unit})", unit=unit)))
    row = layout.row(align=True)
    row.active = shown.own_limits
    row.prop(shown, "low", text="")
    row.prop(shown, "high", text="")


def popover(header: Any, context: bpy.types.Context) -> None:
    """The button in the header."""
    if session.find(context) is not None:
        header.layout.popover("PLATEWRIGHT_PT_view", text="", icon="COLOR")


CLASSES = (PLATEWRIGHT_PT_view,)
