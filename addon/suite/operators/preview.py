"""The ranked ways up, one after another, on a copy beside the part. The part itself stays as it is."""

from __future__ import annotations

import bpy

from ...engine.reporting import reason_text
from ...engine.reporting.filled import filled, joined
from ..language import localized
from ..preview import preview_copy
from ..session import session
from .measure import in_object_mode, ready


class PLATEWRIGHT_OT_preview(bpy.types.Operator):
    """Preview this position on a copy beside the part, with wires, liquid level and trapped gas"""

    bl_idname = "platewright.preview"
    bl_label = "Preview Position"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(
        name="Number", description="Which of the positions, from 0; -1: the next", min=-1, options={"HIDDEN"}
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not in_object_mode(cls, context) or not ready(cls, context):
            return False
        record = session.find(context)
        if record is None or record.study.results.hanging is None:
            cls.poll_message_set(localized("Find hanging positions first"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        record, scene = session.find(context), context.scene
        assert record is not None
        suggestions = record.study.results.hanging.suggestions
        number = preview_copy.shown(scene) if self.number < 0 else self.number
        number %= len(suggestions)
        preview_copy.stand(context, record, number)
        self.report(
            {"INFO"},
            localized(
                filled(
                    "{number} of {found}: {texts}",
                    number=number + 1,
                    found=len(suggestions),
                    texts=joined(reason_text.texts(suggestions[number].reasons), "; "),
                )
            ),
        )
        return {"FINISHED"}


class PLATEWRIGHT_OT_preview_end(bpy.types.Operator):
    """Remove the copy"""

    bl_idname = "platewright.preview_end"
    bl_label = "End Preview"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not preview_copy.shown(context.scene):
            cls.poll_message_set(localized("No position is previewed"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        preview_copy.clear(context.scene)
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_preview, PLATEWRIGHT_OT_preview_end)
