"""The ranked ways up, one after another, on a copy beside the part. The part itself stays as it is."""

from __future__ import annotations

import bpy

from .. import session
from ..scene import beside
from .measure import ready


class PLATEWRIGHT_OT_preview(bpy.types.Operator):
    """Look at this way up on a copy beside the part, with its wires, the liquid's level and the gas. The part stays"""

    bl_idname = "platewright.preview"
    bl_label = "Look at This Way Up"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(name="Number", description="Which of the suggestions, from 0; -1: the next", min=-1)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set("Leave Edit mode first")
            return False
        if not ready(cls, context):
            return False
        kept = session.find(context)
        if kept is None or "hanging" not in kept.study.results:
            cls.poll_message_set("Look for ways up first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        kept, scene = session.find(context), context.scene
        assert kept is not None
        found = kept.study.results["hanging"].suggestions
        number = beside.shown(scene) if self.number < 0 else self.number
        number %= len(found)
        beside.stand(context, kept, number)
        self.report({"INFO"}, f"{number + 1} of {len(found)}: {'; '.join(found[number].reasons)}")
        return {"FINISHED"}


class PLATEWRIGHT_OT_preview_end(bpy.types.Operator):
    """Take the copy away"""

    bl_idname = "platewright.preview_end"
    bl_label = "End the Look"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not beside.shown(context.scene):
            cls.poll_message_set("No way up is looked at")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        beside.clear(context.scene)
        return {"FINISHED"}


classes = (PLATEWRIGHT_OT_preview, PLATEWRIGHT_OT_preview_end)
register, unregister = bpy.utils.register_classes_factory(classes)
