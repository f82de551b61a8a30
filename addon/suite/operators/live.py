"""The live preview of gas and liquid while the part is turned, and the Esc key that ends it."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from .. import refusal
from ..draw import maps
from ..language import localized
from ..preview import orientation, views
from ..preview.live import LivePreview, start, step, stop
from ..scene import viewing
from ..session import session
from .view import measured, record_of


class PLATEWRIGHT_OT_follow(bpy.types.Operator):
    """See where gas and liquid would stay while you turn the part. Press Esc in the viewport to end"""

    bl_idname = "platewright.follow"
    bl_label = "Live Gas Preview"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not measured(cls, context):
            return False
        if record_of(context).reshaped:
            cls.poll_message_set(localized("The part has changed: press Check Again first"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        if session.state(LivePreview).on:
            stop(context)
            try:
                return bpy.ops.platewright.measure() if record.moved else {"FINISHED"}
            except RuntimeError as refused:  # an operator's refusal reaches its caller as this error
                self.report({"ERROR"}, localized(refusal.reason(refused)))
                return {"CANCELLED"}
        shown = viewing.of(context).shown
        map_name = shown if shown in orientation.MAPS else orientation.MAPS[0]
        if maps.MAPS[map_name].analysis not in record.study.results.names:
            self.report(
                {"ERROR"},
                localized(filled("{title}: not calculated yet; press Check Part", title=maps.MAPS[map_name].title)),
            )
            return {"CANCELLED"}
        views.show(context, record, map_name)
        start()
        step(context)
        return {"FINISHED"}


class PLATEWRIGHT_OT_follow_end(bpy.types.Operator):
    """End the live preview. The colors show the latest results again"""

    bl_idname = "platewright.follow_end"
    bl_label = "End Live Preview"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return session.state(LivePreview).on and context.mode == "OBJECT"

    def execute(self, context: bpy.types.Context) -> set[str]:
        stop(context)
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_follow, PLATEWRIGHT_OT_follow_end)
