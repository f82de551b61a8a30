"""Our operators where Blender's users look for them: menus, which F3 searches as well, and the object's properties."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import bpy

from ..draw.rows import inputs
from ..scene import roles
from . import header

ADDED = (("platewright.tank", "MESH_CUBE"), ("platewright.anode", "MESH_PLANE"))  # things of the tank
OFFERED = (  # what the object menu holds, in the order of the job
    ("platewright.choose", "EYEDROPPER"),
    ("platewright.check", "PLAY"),
    ("platewright.measure", "DRIVER_DISTANCE"),
    ("platewright.up_from_view", "VIEW_CAMERA_UNSELECTED"),
    ("platewright.turn_part", "OBJECT_ORIGIN"),
    ("platewright.follow", "DRIVER_ROTATIONAL_DIFFERENCE"),
    ("platewright.mark_holes", "EMPTY_AXIS"),
    ("platewright.inset", "MOD_SOLIDIFY"),
    ("platewright.place_wire", "EMPTY_SINGLE_ARROW"),
    ("platewright.suggest_wires", "OUTLINER_OB_EMPTY"),
    ("platewright.tank", "MESH_CUBE"),
    ("platewright.rack", "MOD_ARRAY"),
    ("platewright.cut", "MOD_BOOLEAN"),
    ("platewright.probe", "EYEDROPPER"),
    ("platewright.normal", "LOOP_BACK"),
    ("platewright.plan", "TEXT"),
    ("platewright.workshop", "FILE_TEXT"),
    ("platewright.picture", "IMAGE_DATA"),
    ("platewright.store", "GROUP_VERTEX"),
    ("platewright.remove", "TRASH"),
)


class PLATEWRIGHT_MT_object(bpy.types.Menu):
    """Plan the electroplating of the selected part"""

    bl_idname = "PLATEWRIGHT_MT_object"
    bl_label = "Platewright"

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.operator_context = "INVOKE_DEFAULT"
        for name, icon in OFFERED:
            self.layout.operator(name, icon=icon)


class PLATEWRIGHT_PT_object(bpy.types.Panel):
    """What this object is in the tank"""

    bl_label = "Plating"
    bl_space_type = "PROPERTIES"
    bl_region_type = "WINDOW"
    bl_context = "object"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        own = context.object.platewright
        self.layout.prop(own, "role")
        if own.role == roles.WIRE:
            inputs(self.layout, own, "pad")


def _object(menu: Any, _context: bpy.types.Context) -> None:
    menu.layout.separator()
    menu.layout.menu("PLATEWRIGHT_MT_object", icon="MATFLUID")


def _context_menu(menu: Any, context: bpy.types.Context) -> None:
    menu.layout.separator()
    for name, icon in OFFERED[:2]:
        menu.layout.operator(name, icon=icon)
    if context.active_object is not None:
        menu.layout.prop_menu_enum(context.active_object.platewright, "role")


def _add(menu: Any, _context: bpy.types.Context) -> None:
    menu.layout.separator()
    for name, icon in ADDED:
        menu.layout.operator(name, icon=icon)


EXTENDED: tuple[tuple[str, Callable[[Any, bpy.types.Context], None]], ...] = (
    ("VIEW3D_MT_object", _object),
    ("VIEW3D_MT_object_context_menu", _context_menu),
    ("VIEW3D_MT_mesh_add", _add),
    ("VIEW3D_HT_header", header.popover),
)


def register() -> None:
    for name, draw in EXTENDED:
        getattr(bpy.types, name).append(draw)


def unregister() -> None:
    for name, draw in EXTENDED:
        getattr(bpy.types, name).remove(draw)


CLASSES = (PLATEWRIGHT_MT_object, PLATEWRIGHT_PT_object)
