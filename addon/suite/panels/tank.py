"""The tank: created in one click, and the role of each object."""

from __future__ import annotations

import bpy

from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ..draw.rows import inputs, say
from ..language import localized
from ..scene import roles, settings, stage
from .sidebar import SidebarPanel

ICONS = {name: icon for name, _, _, icon, _ in roles.ITEMS}


class PLATEWRIGHT_PT_tank(SidebarPanel, bpy.types.Panel):
    """Tank, anodes, shields and thieves are objects of your scene. Move them, and calculate again"""

    bl_label = "Tank & Anodes"
    page = "tank-and-anodes"
    presets = "tank"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        chosen = settings.of(scene).tank
        sizes = ("level",) if roles.tank(scene) is not None else ("size", "level")
        inputs(layout, chosen, "shape", *(sizes if chosen.shape != "open" else ()))
        layout.operator("platewright.rack", icon="MOD_ARRAY")
        active = context.active_object
        if active is not None:
            layout.label(text=localized(filled("Role in Tank of {name}", name=active.name)), icon="OBJECT_DATA")
            layout.prop(active.platewright, "role", text="")
        standing = roles.every(scene, *(kind for kind in roles.KINDS if kind != roles.WIRE))
        column = layout.column(align=True)
        for o in standing:
            column.label(text=o.name, translate=False, icon=ICONS[o.platewright.role])
        layout.prop(settings.of(scene).place, "half_turn")
        tank = roles.tank(scene)
        if tank is None:
            return
        inside = roles.inside(tank, scene)
        size = " × ".join(f"{length:.4g}" for length in inside.size_mm())
        layout.label(text=localized(filled("{size} mm inside", size=size)))
        try:
            as_it_stands = stage.stands_upright(settings.job_of(scene), inside)
        except InputError:
            return  # the head of the tab reports it
        if not as_it_stands:
            say(layout, "In the tank the part hangs in its hanging direction, not as it stands here", icon="INFO")


CLASSES = (PLATEWRIGHT_PT_tank,)
