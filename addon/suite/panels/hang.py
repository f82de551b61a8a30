"""Hanging, and what goes to the bench and to the client."""

from __future__ import annotations

import bpy
from numpy.typing import ArrayLike

from ...engine.reporting import plan_text, words
from ...engine.reporting.plan_before import sentence
from ...engine.units import CM2, GRAM, UM
from ..draw.rows import facts, inputs, say
from ..figures import figure
from ..preview import orientation, preview_copy
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, answer, follow_button

MOST = 5  # suggestions that are listed


class PLATEWRIGHT_PT_hanging(SidebarPanel, bpy.types.Panel):
    """How the part hangs on its wire, whether it floats, and which way up is best"""

    bl_label = "Hanging"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("platewright.study", text="Look for Ways Up", icon="ORIENTATION_GIMBAL").only = "hanging"
        inputs(layout, settings.of(context.scene).place, "turn")
        found = answer(context, layout, "hanging")
        if found is None:
            return
        if found.body is not None:
            mass = figure(found.body.mass / GRAM, "g")
            rows = [("Print weighs", mass), ("Deposit weighs", figure(found.deposit / GRAM, "g"))]
            if found.start is not None:
                net = found.start.net / GRAM
                rows.append(("Pulls down in the bath" if net > 0 else "Pushes up in the bath", figure(abs(net), "g")))
            if found.end is not None:
                rows.append(("Net when plated", figure(found.end.net / GRAM, "g")))
            if found.sinks:
                rows.append(("Sinks once plated", figure(found.sinks_thickness / UM, "um")))
            facts(layout, rows)
        for warning in found.warnings:
            say(layout, warning, icon="ERROR")
        looked = preview_copy.shown(context.scene)
        row = layout.row(align=True)
        row.operator("platewright.preview", text="Next Way Up", icon="PLAY").number = -1
        row.operator("platewright.preview_end", text="", icon="X")
        if looked:
            _copy(context, layout)
        for number, one in enumerate(found.suggestions[:MOST]):
            box = layout.box()
            row = box.row()
            row.label(
                text=f"{number + 1}. {_way_up(one.up).removeprefix('tipped ')}", icon="SOLO_ON" if one.best else "NONE"
            )
            row.operator("platewright.preview", text="", icon="HIDE_OFF", depress=looked == number + 1).number = number
            row.operator("platewright.take_way_up", text="", icon="CHECKMARK").number = number
            say(box, sentence("; ".join(one.reasons)))
        if found.pair is not None:
            say(
                layout,
                f"Turned at half time from 1 to another way up, {figure(found.pair.missed / CM2, 'cm2')}"
                f" stay spoilt: {_way_up(found.pair.first.up)}, then"
                f" {_way_up(found.pair.second.up)}",
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
        say(layout, "The copy was turned: follow the turning to see its gas", icon="INFO")
    else:
        say(layout, f"The copy now: {orientation.sentence(look.study)}", icon="INFO")
    layout.operator("platewright.take_way_up", text="Take as the Copy Stands", icon="CHECKMARK").number = -1


def _way_up(up: ArrayLike) -> str:
    return plan_text.typeset(words.way_up(up))


class PLATEWRIGHT_PT_weights(SidebarPanel, bpy.types.Panel):
    """What holds the part, and how much each fault of a way up counts"""

    bl_label = "What Counts"
    bl_parent_id = "PLATEWRIGHT_PT_hanging"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        chosen = settings.of(context.scene).hang
        inputs(self.layout, chosen, "hook", "gas", "underside", "held", "visible", "thin", "show", "mark", "hold")


class PLATEWRIGHT_PT_output(SidebarPanel, bpy.types.Panel):
    """What goes to the bench and to the client"""

    bl_label = "Plan & Picture"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        kept = session.find(context)
        everything = layout.operator("platewright.study", text="Compute Everything", icon="PLAY")
        everything.only = ""
        if kept is not None and kept.stale(context.scene):
            names = ", ".join(sorted(kept.stale(context.scene)))
            say(layout, f"Stale: {names}", icon="ERROR")
        layout.operator("platewright.plan", icon="TEXT")
        layout.operator("platewright.picture", icon="IMAGE_DATA")
        layout.separator()
        layout.operator("platewright.remove", icon="TRASH")
        say(layout, "Acid, copper salts and mains can hurt: read the cautions in the plan", icon="INFO")


class PLATEWRIGHT_PT_effort(SidebarPanel, bpy.types.Panel):
    """How much work the study may do: more is slower and finer"""

    bl_label = "Effort"
    bl_parent_id = "PLATEWRIGHT_PT_output"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        inputs(self.layout, settings.of(context.scene).effort, "rays", "directions", "panels")


CLASSES = (PLATEWRIGHT_PT_hanging, PLATEWRIGHT_PT_weights, PLATEWRIGHT_PT_output, PLATEWRIGHT_PT_effort)
