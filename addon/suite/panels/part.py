"""What every panel of the sidebar shares, the head of the tab, and the part itself.

Panels read what is kept and never compute. Their order is that of the job.
"""

from __future__ import annotations

from typing import Any

import bpy

from ...engine.reporting import plan_text
from ...engine.units import CM3, DM2, MM
from .. import session, settings
from ..draw import legend, maps
from ..draw.figures import figure
from ..operators.work import RunningWork
from ..scene.follow import Following
from ..session import Kept

UILayout = bpy.types.UILayout
TEXT, MARGIN, ICON = 11, 64, 20  # points: of the sidebar's text, beside it in a box, of an icon before it


class Room:
    """Where all panels are."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Platewright"


def inputs(layout: UILayout, group: Any, *names: str) -> None:
    """Settings, one a line: what it is, the field, its unit. The tooltip says what it does."""
    column = layout.column()
    for name in names:
        prop = group.bl_rna.properties[name]
        label, _, unit = prop.name.partition(" (")
        if getattr(prop, "is_array", False):
            column.label(text=prop.name)
            column.row(align=True).prop(group, name, text="")
            continue
        row = column.split(factor=0.28 if prop.type == "STRING" else 0.5)
        row.label(text=label)
        field = row.split(factor=0.6) if unit else row
        field.row(align=True).prop(group, name, text="")
        if unit:
            field.label(text=unit[:-1])


def facts(layout: UILayout, rows: list[tuple[str, str]]) -> None:
    """Names on the left, numbers with their units on the right."""
    column = layout.column(align=True)
    for name, value in rows:
        row = column.split(factor=0.55)
        row.label(text=name)
        side = row.row()
        side.alignment = "RIGHT"
        side.label(text=value)


def say(layout: UILayout, sentence: str, icon: Any = "NONE") -> None:
    """A sentence over as many lines as the sidebar's width asks for."""
    context = bpy.context
    size = context.preferences.system.ui_scale
    room = context.region.width - (MARGIN + (ICON if icon != "NONE" else 0)) * size
    column = layout.column(align=True)
    column.scale_y = 0.8
    line = ""
    for word in plan_text.typeset(sentence).split():
        if line and legend.width(f"{line} {word}", TEXT * size) > room:
            column.label(text=line, icon=icon)
            line, icon = word, "BLANK1" if icon != "NONE" else "NONE"
        else:
            line = f"{line} {word}".strip()
    column.label(text=line, icon=icon)


def answer(context: bpy.types.Context, layout: UILayout, analysis: str) -> Any:
    """The kept result of an analysis, or None after saying why there is none; stale ones are marked."""
    kept = session.find(context)
    if kept is None:
        return None  # the Part panel has the button
    if analysis in kept.study.results:
        if analysis in kept.stale(context.scene):
            say(layout, "Stale: " + why_stale(kept), icon="ERROR")
        return kept.study.results[analysis]
    reason = kept.study.reasons.get(analysis, "left out")
    if reason == "left out":
        say(layout, "Not computed yet", icon="INFO")
    else:
        say(layout, reason, icon="CANCEL")
    return None


def why_stale(kept: Kept) -> str:
    return "the part has changed" if kept.moved else "settings or things in the tank have changed"


def show_button(layout: UILayout, what: str, text: str = "Show on Part") -> None:
    """A button that colors the part by a map, or takes the colors off while they are shown."""
    shown = settings.of(bpy.context.scene).shown == what
    if shown:
        layout.operator("platewright.normal", text="Back to Normal", icon="LOOP_BACK", depress=True)
    else:
        layout.operator("platewright.show", text=text, icon="SHADING_SOLID").what = what


def follow_button(layout: UILayout) -> None:
    """The button that has the colors follow the turning, and what stays meanwhile."""
    text = "End and Measure" if Following.on else "Follow Turning"
    layout.operator("platewright.follow", text=text, icon="DRIVER_ROTATIONAL_DIFFERENCE", depress=Following.on)
    if Following.on:
        say(layout, f"The part now: {Following.words}", icon="INFO")


class PLATEWRIGHT_PT_head(Room, bpy.types.Panel):
    """Which part the tab is about, what is at work, and what is shown"""

    bl_label = "Platewright"
    bl_options = {"HIDE_HEADER"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout.box()  # on its own it has no ground behind it
        found = session.objects(context)
        row = layout.row(align=True)
        if found:
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            row.label(text=found[0].name + more, icon="MESH_DATA")
        else:
            row.label(text="No part selected", icon="INFO")
        row.operator("platewright.choose")
        if RunningWork.busy():
            layout.progress(factor=RunningWork.step.fraction, text=f"{RunningWork.step.sentence} (Esc cancels)")
        chosen = settings.of(context.scene)
        shown = chosen.shown
        if shown or chosen.cut_shown:
            row = layout.row(align=True)
            row.label(text=f"In color: {maps.MAPS[shown].title if shown else 'cut'}", icon="HIDE_OFF")
            row.operator("platewright.normal", text="", icon="LOOP_BACK")
        kept = session.find(context)
        if kept is not None and kept.fault(context.scene):
            say(layout, kept.fault(context.scene), icon="CANCEL")


class PLATEWRIGHT_PT_part(Room, bpy.types.Panel):
    """The part as it is read from the scene"""

    bl_label = "Part"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        kept = session.find(context)
        text = "Measure Again" if kept is not None else "Measure"
        layout.operator("platewright.measure", text=text, icon="DRIVER_DISTANCE")
        if kept is None or kept.study.surface is None:
            return
        if kept.moved:
            say(layout, "Stale: the part has changed", icon="ERROR")
        surface = kept.study.surface
        size = (surface.bounds[1] - surface.bounds[0]) / MM
        layout.label(text=" × ".join(figure(length) for length in size) + " mm", icon="CUBE")
        facts(
            layout,
            [
                ("Plated area", figure(surface.plated_area.sum() / DM2, "dm2")),
                ("Whole surface", figure(surface.area.sum() / DM2, "dm2")),
                ("Volume", figure(surface.volume / CM3, "cm3")),
                ("Triangles", f"{len(surface.triangles):,}".replace(",", " ")),
            ],
        )
        for number, fault in enumerate(surface.faults):
            box = layout.box()
            say(box, fault.sentence, icon="ERROR")
            if len(fault.faces):
                jump = box.operator("platewright.jump", text=f"Select {len(fault.faces)} Faces", icon="ZOOM_SELECTED")
                jump.kind, jump.number = "FAULT", number
        for sentence in kept.study.part.skipped:
            say(layout, sentence, icon="INFO")


class PLATEWRIGHT_PT_print(Room, bpy.types.Panel):
    """How the part is printed: for its weight, its layer steps and its growth"""

    bl_label = "Print"
    bl_parent_id = "PLATEWRIGHT_PT_part"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        chosen = settings.of(context.scene)
        inputs(self.layout, chosen.part, "material", "walls", "infill", "sheet_sides")
        inputs(self.layout, chosen.print, "layer", "up")
        inputs(self.layout, chosen.part, "mask", "show")


classes = (PLATEWRIGHT_PT_head, PLATEWRIGHT_PT_part, PLATEWRIGHT_PT_print)
register, unregister = bpy.utils.register_classes_factory(classes)
