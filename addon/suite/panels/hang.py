"""Hanging, and what goes to the bench and to the client."""

from __future__ import annotations

import bpy

from ...engine import study as studies
from ...engine.reporting import reason_text, words
from ...engine.reporting.finding_text import texts
from ...engine.reporting.plan_text import sentence
from ...engine.units import CM2, GRAM, UM
from ..draw.rows import facts, inputs, say
from ..figures import TITLES, figure
from ..preview import orientation, preview_copy
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, answer, follow_button, quality_row

MAX_LISTED_POSITIONS = 5


class PLATEWRIGHT_PT_hanging(SidebarPanel, bpy.types.Panel):
    """How the part hangs on its wire, whether it floats, and which hanging position is best"""

    bl_label = "Hanging"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("platewright.study", text="Find Hanging Positions", icon="ORIENTATION_GIMBAL").only = "hanging"
        inputs(layout, settings.of(context.scene).place, "turn")
        found = answer(context, layout, "hanging", lambda results: results.hanging)
        if found is None:
            return
        if found.body is not None:
            mass = figure(found.body.mass / GRAM, "g", digits=3)
            rows = [("Print Weight", mass), ("Deposit Weight", figure(found.deposit / GRAM, "g", digits=3))]
            if found.start is not None:
                net = found.start.net / GRAM
                rows.append(("Weight in Bath" if net > 0 else "Lift in Bath", figure(abs(net), "g")))
            if found.end is not None and found.end.net > 0:
                rows.append(("Weight in Bath When Plated", figure(found.end.net / GRAM, "g")))
            if found.sinks:
                rows.append(("Sinks from Thickness", figure(found.sinks_thickness / UM, "um")))
            facts(layout, rows)
            if found.end is not None and found.end.net < 0:
                say(layout, f"Still floats by {figure(-found.end.net / GRAM, 'g')} at the end", icon="ERROR")
        for warning in texts(found.findings):
            say(layout, warning, icon="ERROR")
        looked = preview_copy.shown(context.scene)
        row = layout.row(align=True)
        row.operator("platewright.preview", text="Next Position", icon="PLAY").number = -1
        row.operator("platewright.preview_end", text="", icon="X")
        if looked:
            _copy(context, layout)
        for number, one in enumerate(found.suggestions[:MAX_LISTED_POSITIONS]):
            box = layout.box()
            row = box.row()
            row.label(text=f"{number + 1}. {words.hanging_direction(one.up)}", icon="SOLO_ON" if one.best else "NONE")
            row.operator("platewright.preview", text="", icon="HIDE_OFF", depress=looked == number + 1).number = number
            row.operator("platewright.take_way_up", text="", icon="CHECKMARK").number = number
            say(box, sentence("; ".join(reason_text.texts(one.reasons))))
        if found.pair is not None:
            say(
                layout,
                f"Change the position at half time: {words.hanging_direction(found.pair.first.up)}, then"
                f" {words.hanging_direction(found.pair.second.up)};"
                f" {figure(found.pair.missed / CM2, 'cm2')} stay spoilt",
                icon="FILE_REFRESH",
            )


def _copy(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    """What the copy shows, and what can be done with it once it was turned by hand."""
    follow_button(layout)
    found = preview_copy.current(context)
    if found is None:
        return
    copy, look = found
    if not preview_copy.as_it_stands(copy, look):
        say(layout, "The copy was turned: start Live Gas Preview to see its gas", icon="INFO")
    else:
        say(layout, f"Copy as turned now: {orientation.sentence(look.study)}", icon="INFO")
    layout.operator("platewright.take_way_up", text="Use Position of Copy", icon="CHECKMARK").number = -1


class PLATEWRIGHT_PT_weights(SidebarPanel, bpy.types.Panel):
    """What holds the part, and how much each fault of a hanging position counts"""

    bl_label = "Ranking Weights"
    bl_parent_id = "PLATEWRIGHT_PT_hanging"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        chosen = settings.of(context.scene).hang
        inputs(self.layout, chosen, "hook", "gas", "underside", "held", "visible", "thin", "show", "mark", "hold")


class PLATEWRIGHT_PT_output(SidebarPanel, bpy.types.Panel):
    """The plan for the bench, and the picture for the client"""

    bl_label = "Plan & Picture"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        kept = session.find(context)
        everything = layout.operator("platewright.study", text="Check Everything", icon="PLAY")
        everything.only = ""
        if kept is not None and kept.stale(context.scene):
            names = ", ".join(TITLES[name] for name in studies.NAMES if name in kept.stale(context.scene))
            say(layout, f"Out of date: {names}", icon="ERROR")
        layout.operator("platewright.plan", icon="TEXT")
        layout.operator("platewright.picture", icon="IMAGE_DATA")
        layout.separator()
        layout.operator("platewright.remove", icon="TRASH")
        say(layout, "Acid, copper salts and mains can hurt: read the cautions in the plan", icon="INFO")


class PLATEWRIGHT_PT_effort(SidebarPanel, bpy.types.Panel):
    """How fine the calculations are. Finer is slower"""

    bl_label = "Quality"
    bl_parent_id = "PLATEWRIGHT_PT_output"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        effort = settings.of(context.scene).effort
        quality_row(self.layout, effort)
        inputs(self.layout, effort, "panels", "rays", "directions")


CLASSES = (PLATEWRIGHT_PT_hanging, PLATEWRIGHT_PT_weights, PLATEWRIGHT_PT_output, PLATEWRIGHT_PT_effort)
