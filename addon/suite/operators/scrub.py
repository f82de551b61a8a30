"""Step through the ranked hanging positions on the copy: wheel or arrow keys; Enter keeps one, Esc goes back."""

from __future__ import annotations

from collections.abc import Callable

import bpy

from ...engine.reporting.filled import filled
from ..figures import milliliters
from ..language import localized
from ..preview import preview_copy, views
from ..session import StudyRecord, session
from .preview import PLATEWRIGHT_OT_preview
from .view import record_of

FORWARD, BACK = ("RIGHT_ARROW", "DOWN_ARROW", "WHEELDOWNMOUSE"), ("LEFT_ARROW", "UP_ARROW", "WHEELUPMOUSE")
KEEP, LEAVE = ("RET", "NUMPAD_ENTER", "LEFTMOUSE"), ("ESC", "RIGHTMOUSE")


class PLATEWRIGHT_OT_scrub(bpy.types.Operator):
    """Step through the hanging positions on a copy, with the wheel or the arrow keys. Enter keeps one, Esc cancels"""

    bl_idname = "platewright.scrub"
    bl_label = "Browse Positions"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(
        name="Number", description="Which of the positions, from 0", min=0, options={"HIDDEN"}
    )
    _before = 0  # from 1; 0: there was no copy
    _look_back: Callable[[], None] | None = None  # restores the viewport's view

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return PLATEWRIGHT_OT_preview.poll(context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        self._stand(context, record_of(context))
        return {"FINISHED"}

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self._before = preview_copy.shown(context.scene)
        self.number = max(self._before - 1, 0)
        self._stand(context, record_of(context))
        if isinstance(context.space_data, bpy.types.SpaceView3D):
            self._look_back = views.stance(context.space_data)
            copies = [o for o in context.scene.objects if o.get(preview_copy.MARK)]
            views.look_at_objects(context.space_data, [*session.objects(context), *copies])
        context.window.cursor_modal_set("SCROLL_X")
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        record = session.find(context)
        if record is None or record.study.results.hanging is None or (event.type in LEAVE and event.value == "PRESS"):
            self.cancel(context)
            return {"CANCELLED"}
        if event.type in KEEP and event.value == "PRESS":
            self._end(context)
            return {"FINISHED"}
        if event.type in (*FORWARD, *BACK):
            if event.value == "PRESS":
                self.number += 1 if event.type in FORWARD else -1
                self._stand(context, record)
            return {"RUNNING_MODAL"}
        return {"PASS_THROUGH"} if event.type in ("MIDDLEMOUSE", "MOUSEMOVE") else {"RUNNING_MODAL"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Restore the copy and the view; Blender also calls this when it loads another file."""
        record = session.find(context)
        preview_copy.clear(context.scene)
        if self._before and record is not None and record.study.results.hanging is not None:
            preview_copy.stand(context, record, self._before - 1)
        if self._look_back is not None and context.area is not None:
            self._look_back()
        self._end(context)

    def _stand(self, context: bpy.types.Context, record: StudyRecord) -> None:
        suggestions = record.study.results.hanging.suggestions
        self.number = self.number % len(suggestions)
        preview_copy.stand(context, record, self.number)
        if context.workspace is not None:
            suggestion = suggestions[self.number]
            stays = filled(
                "{gas} gas, {held} drag-out", gas=milliliters(suggestion.trapped), held=milliliters(suggestion.held)
            )
            context.workspace.status_text_set(
                localized(
                    filled(
                        "Position {number} of {count}: {stays}.  Wheel, arrows: next.  Enter: keep.  Esc: back",
                        number=self.number + 1,
                        count=len(suggestions),
                        stays=stays,
                    )
                )
            )

    def _end(self, context: bpy.types.Context) -> None:
        if context.window is not None:
            context.window.cursor_modal_restore()
        if context.workspace is not None:
            context.workspace.status_text_set(None)


CLASSES = (PLATEWRIGHT_OT_scrub,)
