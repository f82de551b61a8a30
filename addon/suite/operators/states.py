"""Named states: the figures of a check, kept in the file under a name, to set others beside it."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from .. import judged
from ..language import localized
from ..scene import settings
from ..session import session

MAX_STATES = 4  # as many as a panel has room for side by side


class PLATEWRIGHT_OT_keep_state(bpy.types.Operator):
    """Keep the figures of this check under a name, to compare later checks with them"""

    bl_idname = "platewright.keep_state"
    bl_label = "Keep for Comparison"
    bl_options = {"REGISTER", "UNDO"}

    name: bpy.props.StringProperty(name="Name", description="What to call this state", maxlen=60)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if session.state(judged.Checks).last is None:
            cls.poll_message_set(localized("Check the part first"))
            return False
        if len(settings.of(context.scene).states) >= MAX_STATES:
            cls.poll_message_set(
                localized(filled("{max_states} checks are kept already; delete one", max_states=MAX_STATES))
            )
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        last, states = session.state(judged.Checks).last, settings.of(context.scene).states
        assert last is not None
        state = states.add()
        state.name, state.figures = self.name or f"State {len(states)}", judged.condensed(last)
        return {"FINISHED"}


class PLATEWRIGHT_OT_drop_state(bpy.types.Operator):
    """Delete this kept check"""

    bl_idname = "platewright.drop_state"
    bl_label = "Delete Kept Check"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(name="Number", description="Which state, from 0", min=0, options={"HIDDEN"})

    def execute(self, context: bpy.types.Context) -> set[str]:
        states = settings.of(context.scene).states
        if self.number >= len(states):
            return {"CANCELLED"}
        states.remove(self.number)
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_keep_state, PLATEWRIGHT_OT_drop_state)
