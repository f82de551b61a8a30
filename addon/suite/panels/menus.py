"""Menus of our operators where Blender's users look for them: menus, which F3 searches as well, and the object's
properties."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import bpy

from ..draw import maps
from ..draw.rows import inputs
from ..scene import roles
from ..session import session
from . import header

ADDED = (("platewright.tank", "MESH_CUBE"), ("platewright.anode", "MESH_PLANE"))  # things of the tank
OFFERED = (  # the object menu, in the order of the job
    ("platewright.choose", "EYEDROPPER"),
    ("platewright.check", "PLAY"),
    ("platewright.measure", "DRIVER_DISTANCE"),
    ("platewright.up_from_view", "VIEW_CAMERA_UNSELECTED"),
    ("platewright.turn_part", "OBJECT_ORIGIN"),
    ("platewright.follow", "DRIVER_ROTATIONAL_DIFFERENCE"),
    ("platewright.mark_holes", "EMPTY_AXIS"),
    ("platewright.inset", "MOD_SOLIDIFY"),
    ("platewright.use_print_direction", "ORIENTATION_GLOBAL"),
    ("platewright.scrub", "ARROW_LEFTRIGHT"),
    ("platewright.preview_end", "X"),
    ("platewright.place_wire", "EMPTY_SINGLE_ARROW"),
    ("platewright.suggest_wires", "OUTLINER_OB_EMPTY"),
    ("platewright.sheet_resistance", "DRIVER_DISTANCE"),
    ("platewright.conductivity", "DRIVER_DISTANCE"),
    ("platewright.tank", "MESH_CUBE"),
    ("platewright.rack", "MOD_ARRAY"),
    ("platewright.cut", "MOD_BOOLEAN"),
    ("platewright.probe", "EYEDROPPER"),
    ("platewright.normal", "LOOP_BACK"),
    ("platewright.keep_state", "ADD"),
)
CALCULATED: tuple[tuple[str, str, bool], ...] = (  # label, results, whether with draft panels
    ("Find Hanging Positions", "hanging", False),
    ("Check Small Holes", "narrow", False),
    ("Find Wire Positions", "contacts, coat", False),
    ("Fast Estimate", "field", True),
    ("Calculate Thickness", "field", False),
    ("Preview Shielded Areas", "openness", False),
    ("Find the Thickness", "purpose", False),
    ("Try Layouts", "layouts", False),
    ("Find Spacing", "rack", False),
)
PRINTED = (
    ("platewright.make_hanger", "OUTLINER_OB_MESH"),
    ("platewright.make_plugs", "MESH_CYLINDER"),
    ("platewright.make_masks", "MOD_MASK"),
    ("platewright.make_rack_holder", "MOD_ARRAY"),
    ("platewright.make_anode_holders", "MESH_PLANE"),
    ("platewright.make_shields", "MESH_GRID"),
    ("platewright.make_thief", "MESH_PLANE"),
    ("platewright.cut_holes", "MOD_BOOLEAN"),
    ("platewright.check_helpers", "FORCE_CHARGE"),
)
WRITTEN = (
    ("platewright.plan", "TEXT"),
    ("platewright.workshop", "FILE_TEXT"),
    ("platewright.sheet", "FILE_IMAGE"),
    ("platewright.picture", "IMAGE_DATA"),
    ("platewright.still", "CAMERA_DATA"),
    ("platewright.store", "GROUP_VERTEX"),
    ("platewright.remove", "TRASH"),
    ("platewright.materials", "MATERIAL"),
    ("platewright.use_workshop", "IMPORT"),
)


class PLATEWRIGHT_MT_object(bpy.types.Menu):
    """Plan the electroplating of the selected part"""

    bl_idname = "PLATEWRIGHT_MT_object"
    bl_label = "Platewright"

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.operator_context = "INVOKE_DEFAULT"
        for name, icon in OFFERED:
            self.layout.operator(name, icon=icon)
        self.layout.separator()
        for menu in (PLATEWRIGHT_MT_calculate, PLATEWRIGHT_MT_show, PLATEWRIGHT_MT_printed, PLATEWRIGHT_MT_written):
            self.layout.menu(menu.bl_idname)


class PLATEWRIGHT_MT_calculate(bpy.types.Menu):
    """Calculate one result of the part, and what it needs"""

    bl_idname = "PLATEWRIGHT_MT_calculate"
    bl_label = "Calculate"

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.operator_context = "INVOKE_DEFAULT"
        for title, only, quick in CALCULATED:
            button = self.layout.operator("platewright.study", text=title)
            button.only, button.quick = only, quick


class PLATEWRIGHT_MT_show(bpy.types.Menu):
    """Color the part by a result"""

    bl_idname = "PLATEWRIGHT_MT_show"
    bl_label = "Show on Part"

    def draw(self, context: bpy.types.Context) -> None:
        record = session.find(context)
        for name in maps.available(record.study) if record is not None else ():
            self.layout.operator("platewright.show", text=maps.MAPS[name].title).map_name = name


class _Listed:
    """A menu of operators, a row each."""

    layout: bpy.types.UILayout
    rows: tuple[tuple[str, str], ...] = ()

    def draw(self, _context: bpy.types.Context) -> None:
        """Draw the rows; each asks before it acts."""
        self.layout.operator_context = "INVOKE_DEFAULT"
        for name, icon in self.rows:
            self.layout.operator(name, icon=icon)


class PLATEWRIGHT_MT_printed(_Listed, bpy.types.Menu):
    """Make what is printed to help"""

    bl_idname = "PLATEWRIGHT_MT_printed"
    bl_label = "Printed Helpers"
    rows = PRINTED


class PLATEWRIGHT_MT_written(_Listed, bpy.types.Menu):
    """Write the plan, sheets, pictures and result data"""

    bl_idname = "PLATEWRIGHT_MT_written"
    bl_label = "Plan & Pictures"
    rows = WRITTEN


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


CLASSES = (
    PLATEWRIGHT_MT_object,
    PLATEWRIGHT_MT_calculate,
    PLATEWRIGHT_MT_show,
    PLATEWRIGHT_MT_printed,
    PLATEWRIGHT_MT_written,
    PLATEWRIGHT_PT_object,
)
