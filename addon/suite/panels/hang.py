"""How the part hangs in the bath: way up, trapped gas, drag-out, better positions."""

from __future__ import annotations

import bpy

from ...engine.reporting import plan_helpers, plan_masks, plan_printed, reason_text, verdict_text, words
from ...engine.reporting.filled import filled, joined
from ...engine.reporting.finding_text import text
from ...engine.reporting.plan_text import sentence
from ...engine.study import Study
from ...engine.study.kinds import BY_ANALYSIS, TOGETHER
from ...engine.units import CM2
from ...engine.verdict.judge import Section, section
from ..draw.rows import UILayout, inputs, say
from ..figures import figure, milliliters
from ..language import localized
from ..preview import orientation, preview_copy
from ..scene import settings, viewing
from ..session import StudyRecord, session
from .sidebar import SidebarPanel, StepPanel, answer, follow_button

MAX_LISTED_POSITIONS, MAX_COMPARED_POSITIONS = 5, 2
COLUMNS = ("Gas", "Bubbles", "Drag-out")


class PLATEWRIGHT_PT_hang(StepPanel, bpy.types.Panel):
    """Which way up the part hangs, what gas it traps, and which positions are better"""

    bl_label = "Hang"
    page = "3-hang"
    section = Section.HANG

    def draw(self, context: bpy.types.Context) -> None:
        layout, record = self.layout, session.find(context)
        row = layout.row(align=True)
        row.operator("platewright.study", text="Find Hanging Positions", icon="ORIENTATION_GIMBAL").only = "hanging"
        row.operator("platewright.up_from_view", text="", icon="VIEW_CAMERA_UNSELECTED")
        if record is None:
            return
        _table(context, layout, record.study)
        follow_button(layout)
        layout.prop(viewing.of(context), "bodies", toggle=True, icon="MOD_FLUIDSIM")


def _table(context: bpy.types.Context, layout: UILayout, study: Study) -> None:
    """The position that is set, and the best ones beside it: what each traps, what it carries out, and a check mark to
    use it."""
    box = layout.box()
    _cells(box, *COLUMNS)
    gas, drainage, in_use = study.results.gas, study.results.drainage, ""
    if gas is not None and drainage is not None:
        up = settings.of(context.scene).part.up
        in_use = words.hanging_direction(up) if any(up) else ""
        name = filled("{direction} (in use)", direction=verdict_text.direction(up)) if any(up) else "Not set"
        box.label(text=localized(name))
        _cells(
            box,
            milliliters(gas.trapped_volume, narrow=True),
            _cm2(gas.level_underside_area),
            milliliters(drainage.held_volume, narrow=True),
        )
    hanging = study.results.hanging
    others = [
        (number, suggestion)
        for number, suggestion in enumerate(hanging.suggestions if hanging is not None else ())
        if words.hanging_direction(suggestion.up) != in_use
    ]
    for number, suggestion in others[:MAX_COMPARED_POSITIONS]:
        row = box.row()
        row.label(text=verdict_text.direction(suggestion.up))
        row.operator("platewright.take_way_up", text="", icon="CHECKMARK").number = number
        _cells(
            box,
            milliliters(suggestion.trapped, narrow=True),
            _cm2(suggestion.underside),
            milliliters(suggestion.held, narrow=True),
        )


def _cells(layout: UILayout, *cells: str) -> None:
    row = layout.row()
    for cell in cells:
        row.label(text=localized(cell))


def _cm2(area: float) -> str:
    return figure(area / CM2, "cm2")


class PLATEWRIGHT_PT_positions(SidebarPanel, bpy.types.Panel):
    """Every position that was found, what it costs and what holds it"""

    bl_label = "Positions"
    page = "3-hang"
    bl_parent_id = "PLATEWRIGHT_PT_hang"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        layout.label(text="Hanging Direction")
        layout.row(align=True).prop(chosen.part, "up", text="")
        inputs(layout, chosen.place, "turn")
        layout.operator("platewright.turn_part", icon="OBJECT_ORIGIN")
        hanging = answer(context, layout, "hanging", lambda results: results.hanging)
        if hanging is None:
            return
        for finding in hanging.findings:
            if section(finding.code) == Section.HANG:
                say(layout, text(finding), icon="ERROR")
        looked = preview_copy.shown(context.scene)
        row = layout.row(align=True)
        row.operator("platewright.scrub", icon="ARROW_LEFTRIGHT")
        row.operator("platewright.preview_end", text="", icon="X")
        if looked:
            _copy(context, layout)
        for number, place in enumerate(hanging.suggestions[:MAX_LISTED_POSITIONS]):
            box = layout.box()
            icon = "SOLO_ON" if place.best else "NONE"
            box.label(text=f"{number + 1}. {localized(words.hanging_direction(place.up))}", icon=icon)
            row = box.row(align=True)
            row.operator("platewright.preview", text="", icon="HIDE_OFF", depress=looked == number + 1).number = number
            row.operator("platewright.take_way_up", text="", icon="CHECKMARK").number = number
            say(box, sentence(joined(reason_text.texts(place.reasons), "; ")))
        if hanging.pair is not None and hanging.pair.pays:
            say(
                layout,
                filled(
                    "Change the position at half time: {up}, then {up_2}; {missed} stay spoiled",
                    up=words.hanging_direction(hanging.pair.first.up),
                    up_2=words.hanging_direction(hanging.pair.second.up),
                    missed=figure(hanging.pair.missed / CM2, "cm2"),
                ),
                icon="FILE_REFRESH",
            )


def _copy(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    """The state of the copy, and what to do after turning it by hand."""
    follow_button(layout)
    shown = preview_copy.current(context)
    if shown is None:
        return
    copy, look = shown
    if not preview_copy.as_it_stands(copy, look):
        say(layout, "The copy was turned: start Live Gas Preview to see its gas", icon="INFO")
    else:
        say(layout, filled("Copy as turned now: {study}", study=orientation.sentence(look.study)), icon="INFO")
    layout.operator("platewright.take_way_up", text="Use Position of Copy", icon="CHECKMARK").number = -1


def _costs(layout: bpy.types.UILayout, record: StudyRecord, name: str, context: bpy.types.Context) -> None:
    """The cost of a helper for the part, marked if out of date."""
    for line in plan_helpers.costs(name, record.study.results):
        say(layout, line)
    if BY_ANALYSIS[name].effect in record.study.results.names and BY_ANALYSIS[name].effect in record.stale(
        context.scene
    ):
        say(layout, "The thickness with it is out of date: calculate it again", icon="ERROR")


def _together(layout: bpy.types.UILayout, record: StudyRecord | None, context: bpy.types.Context) -> None:
    """The button that solves with all helpers in place, and its result."""
    layout.operator("platewright.check_helpers", icon="FORCE_CHARGE")
    if record is None:
        return
    for line in plan_helpers.together(record.study.results):
        say(layout, line)
    if TOGETHER in record.study.results.names and TOGETHER in record.stale(context.scene):
        say(layout, "The thickness with it is out of date: calculate it again", icon="ERROR")


class PLATEWRIGHT_PT_hanger(SidebarPanel, bpy.types.Panel):
    """What can be printed to help: a hanger for the part, plugs for holes, masks for what stays bare"""

    bl_label = "Printed Helpers"
    page = "print-a-hanger"
    bl_parent_id = "PLATEWRIGHT_PT_hang"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, record = self.layout, session.find(context)
        inputs(layout, settings.of(context.scene).hanger, "rod", "clearance", "cap_clearance", "on_rods")
        layout.operator("platewright.make_hanger", icon="OUTLINER_OB_MESH")
        if record is not None and (hanger := record.study.results.hanger) is not None:
            if "hanger" in record.stale(context.scene):
                say(layout, "The hanger is out of date: make it again", icon="ERROR")
            for line in plan_helpers.hanger_lines(hanger):
                say(layout, line)
            _costs(layout, record, "hanger", context)
        layout.operator("platewright.make_plugs", icon="MESH_CYLINDER")
        if record is not None and (plugs := record.study.results.plugs) is not None:
            for line in plan_helpers.plugged(plugs):
                say(layout, line)
            _costs(layout, record, "plugs", context)
        layout.operator("platewright.make_masks", icon="MOD_MASK")
        if record is not None and (masks := record.study.results.masks) is not None:
            if "masks" in record.stale(context.scene):
                say(layout, "The masks are out of date: make them again", icon="ERROR")
            for line in plan_masks.summary(masks):
                say(layout, line)
            _costs(layout, record, "masks", context)
        _together(layout, record, context)


class PLATEWRIGHT_PT_tank_helpers(SidebarPanel, bpy.types.Panel):
    """What can be printed to stand in the tank: a rack, holders of anodes, shields, a thief's former"""

    bl_label = "Printed for the Tank"
    page = "print-what-stands-in-the-tank"
    bl_parent_id = "PLATEWRIGHT_PT_hang"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, record = self.layout, session.find(context)
        inputs(layout, settings.of(context.scene).hanger, "rim", "anode")
        stale = record.stale(context.scene) if record is not None else set()
        for operator, analysis, icon in (
            ("make_rack_holder", "rack_holder", "MOD_ARRAY"),
            ("make_anode_holders", "anode_holder", "MOD_LENGTH"),
            ("make_shields", "shield", "MATPLANE"),
            ("make_thief", "thief", "MESH_PLANE"),
        ):
            layout.operator(f"platewright.{operator}", icon=icon)
            helper = getattr(record.study.results, analysis) if record is not None else None
            if record is None or helper is None:
                continue
            if analysis in stale:
                say(layout, "It is out of date: make it again", icon="ERROR")
            for line in plan_printed.summary(helper):
                say(layout, line)
            _costs(layout, record, analysis, context)
        _together(layout, record, context)


class PLATEWRIGHT_PT_weights(SidebarPanel, bpy.types.Panel):
    """What holds the part, and how much each fault of a hanging position counts"""

    bl_label = "Ranking Weights"
    page = "3-hang"
    bl_parent_id = "PLATEWRIGHT_PT_hang"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        chosen = settings.of(context.scene).hang
        inputs(self.layout, chosen, "hook", "gas", "underside", "held", "visible", "thin", "show", "mark", "hold")


CLASSES = (
    PLATEWRIGHT_PT_hang,
    PLATEWRIGHT_PT_positions,
    PLATEWRIGHT_PT_hanger,
    PLATEWRIGHT_PT_tank_helpers,
    PLATEWRIGHT_PT_weights,
)
