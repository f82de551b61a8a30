"""The button that has gas and liquid follow the turning of the part, and the Esc that ends it."""

from __future__ import annotations

from typing import Any

import bpy

from .. import settings
from ..draw import maps, paint, view
from ..scene import looks
from ..scene.follow import Following, start, step, stop
from .view import kept_of, measured

_keys: list[tuple[Any, Any]] = []


class PLATEWRIGHT_OT_follow(bpy.types.Operator):
    """Turn the part, or the copy beside it, and see at once where gas and liquid would stay; Esc in the viewport ends.
    Press again to end and measure the part as it is then"""

    bl_idname = "platewright.follow"
    bl_label = "Follow Turning"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not measured(cls, context):
            return False
        if kept_of(context).reshaped:
            cls.poll_message_set("The part has changed: measure it again first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        kept = kept_of(context)
        if Following.on:
            stop(context)
            try:
                return bpy.ops.platewright.measure() if kept.moved else {"FINISHED"}
            except RuntimeError as refused:  # how a refusal of one operator reaches another
                self.report({"ERROR"}, str(refused).removeprefix("Error: ").strip())
                return {"CANCELLED"}
        shown = settings.of(context.scene).shown
        what = shown if shown in looks.MAPS else looks.MAPS[0]
        if maps.MAPS[what].analysis not in kept.study.results:
            self.report({"ERROR"}, f"{maps.MAPS[what].title}: not computed yet; press Measure")
            return {"CANCELLED"}
        view.enter(context, paint.show(context, kept.capture, kept.study, what))
        start()
        step(context)
        return {"FINISHED"}


class PLATEWRIGHT_OT_follow_end(bpy.types.Operator):
    """Follow the turning no more; the colors are those of the latest measurement again"""

    bl_idname = "platewright.follow_end"
    bl_label = "End Following"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return Following.on and context.mode == "OBJECT"

    def execute(self, context: bpy.types.Context) -> set[str]:
        stop(context)
        return {"FINISHED"}


classes = (PLATEWRIGHT_OT_follow, PLATEWRIGHT_OT_follow_end)


def register() -> None:
    for cls in classes:
        bpy.utils.register_class(cls)
    keys = bpy.context.window_manager.keyconfigs.addon
    if keys is not None:  # there are none without a window
        found = keys.keymaps.new("3D View Generic", space_type="VIEW_3D")
        _keys.append((found, found.keymap_items.new(PLATEWRIGHT_OT_follow_end.bl_idname, "ESC", "PRESS")))


def unregister() -> None:
    while _keys:
        found, item = _keys.pop()
        found.keymap_items.remove(item)
    for cls in reversed(classes):
        bpy.utils.unregister_class(cls)
