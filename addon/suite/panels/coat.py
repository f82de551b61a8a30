"""The coat and the wire: voltage drop, wire positions, and the start."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy

from ...engine.coat.wires import MAX_WIRES_PER_PIECE
from ...engine.reporting import reason_text, words
from ...engine.reporting.filled import filled
from ...engine.reporting.finding_text import texts
from ...engine.reporting.plan_text import sentence
from ...engine.units import MM, ZERO_CELSIUS
from ...engine.verdict.judge import Section
from ..draw.rows import facts, inputs, say
from ..figures import duration, figure
from ..language import localized
from ..scene import roles, settings
from ..session import session
from .sidebar import SidebarPanel, StepPanel, answer, show_button

if TYPE_CHECKING:
    from ...engine.hanging.result import Hanging

COLUMNS = ("Current", "Duration", "Coverage")  # of the steps of the start
OPTIONS = "ABC"  # suggestions that are listed
MIN_STOLEN = 0.05  # of the current: smaller shares are not shown


class PLATEWRIGHT_PT_coat(StepPanel, bpy.types.Panel):
    """The conductive coat on the print, and where the wires are attached"""

    bl_label = "Coat & Wires"
    page = "4-coat-and-wires"
    presets = "coat"
    section = Section.COAT

    def draw(self, context: bpy.types.Context) -> None:
        layout, coat = self.layout, settings.of(context.scene).coat
        inputs(layout, coat, "entry", "sheet_resistance")
        layout.operator("platewright.sheet_resistance", icon="DRIVER_DISTANCE")
        row = layout.column(align=True)
        row.operator("platewright.study", text="Find Wire Positions", icon="PINNED").only = "contacts, coat"
        row.operator("platewright.suggest_wires", icon="OUTLINER_OB_EMPTY")
        row.operator("platewright.place_wire", icon="EMPTY_SINGLE_ARROW")
        result = answer(context, layout, "coat", lambda results: results.coat)
        if result is not None:
            _loss(layout, result)


class PLATEWRIGHT_PT_wires(SidebarPanel, bpy.types.Panel):
    """The wires on the part, and the best places to attach one"""

    bl_label = "Wires"
    page = "4-coat-and-wires"
    bl_parent_id = "PLATEWRIGHT_PT_coat"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        _placed(context, layout)
        contacts = answer(context, layout, "contacts", lambda results: results.contacts)
        for number, contact in enumerate(contacts.ranked[: len(OPTIONS)] if contacts is not None else ()):
            box = layout.box()
            row = box.row()
            row.label(
                text=localized(
                    filled(
                        "Option {options}: {drop} drop", options=OPTIONS[number], drop=figure(1000 * contact.drop, "mV")
                    )
                )
            )
            jump = row.operator("platewright.jump", text="", icon="ZOOM_SELECTED")
            jump.kind, jump.number = "CONTACT", number
            say(box, words.place_name(contact.place))


class PLATEWRIGHT_PT_coat_details(SidebarPanel, bpy.types.Panel):
    """How to start the current, how warm wire and coat become, and the coat's other properties"""

    bl_label = "Details"
    page = "4-coat-and-wires"
    bl_parent_id = "PLATEWRIGHT_PT_coat"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        inputs(layout, settings.of(context.scene).coat, "thickness", "density")
        layout.operator("platewright.from_table", icon="FILE_REFRESH").section = "coat"
        result = answer(context, layout, "coat", lambda results: results.coat)
        if result is None:
            return
        _start(layout, result)
        record = session.find(context)
        _wire(layout, result, None if record is None else record.study.results.hanging)
        for warning in texts(result.findings):
            say(layout, warning, icon="ERROR")


def _placed(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    """The wires that stand in the scene, each with its pad and the current that it was found to carry."""
    record = session.find(context)
    fresh = record is not None and "coat" in record.study.results.names and "coat" not in record.stale(context.scene)
    carried = record.study.results.coat.wires if record is not None and fresh else ()
    column = layout.column(align=True)
    for number, o in enumerate(roles.every(context.scene, roles.WIRE)):
        row = column.split(factor=0.38)
        row.label(text=o.name, translate=False, icon="PINNED")
        row = row.split(factor=0.3)
        row.prop(o.platewright, "pad", text="")
        row = row.split(factor=0.36)
        row.label(text="mm")
        row.label(text=localized(figure(carried[number].current, "A")) if number < len(carried) else "")


def _loss(layout: bpy.types.UILayout, result: Any) -> None:
    """The coat's voltage drop, and the number of wires it needs."""
    needed = (
        str(result.wires_needed)
        if result.wires_needed is not None
        else filled("More than {most}: use a better coat", most=MAX_WIRES_PER_PIECE)
    )
    facts(
        layout,
        [
            ("Largest Voltage Drop in Coat", figure(1000 * result.worst_drop, "mV")),
            ("Wires in This Calculation", str(len(result.wires))),
            ("Wires Needed", needed),
            ("Strike Current (start low)", figure(result.safe_start, "A")),
        ],
    )
    show_button(layout, "drop")


def _start(layout: bpy.types.UILayout, result: Any) -> None:
    """The currents to start with."""
    say(layout, sentence(reason_text.text(result.safe_reason)))
    if not result.steps:
        return
    box = layout.box()
    head = box.row()
    for title in COLUMNS:
        head.label(text=localized(title))
    for stage in result.steps:
        row = box.row()
        row.label(text=localized(figure(stage.current, "A")))
        row.label(text=localized(duration(stage.seconds)))
        row.label(text=localized(figure(100 * stage.covered, "%")))
    covered = duration(result.covered_after) if result.covered_after is not None else "never"
    facts(box, [("Fully Covered After", covered)])


def _wire(layout: bpy.types.UILayout, result: Any, hung: Hanging | None) -> None:
    """The wire: diameter, heating of the thinnest, current taken if bare, the coat's heating under it, its mark."""
    wire, heating = result.wire, result.heating
    rows = [
        ("Copper Wire for Current", figure(wire.diameter / MM, "mm")),
        ("Wire Gauge (AWG)", str(wire.gauge)),
        ("Temperature Rise in Air", figure(wire.rise, "K")),
    ]
    if hung is not None and hung.bearing_wire is not None and hung.bearing_wire > wire.diameter:
        rows.append(("Copper Wire for Weight", figure(hung.bearing_wire / MM, "mm")))
    if hung is not None and hung.rigid_wire is not None:
        rows.append(("Rigid Wire to Hold Down", figure(hung.rigid_wire / MM, "mm")))
    if wire.takes > MIN_STOLEN * sum(place.current for place in result.wires):
        rows.append(("Stolen by Bare Wire", figure(wire.takes, "A")))
    if heating is not None:
        rows.append(("Coat at Wire", figure(heating.temperature - ZERO_CELSIUS, "C")))
        rows.append(("Plastic Softens At", figure(heating.softens - ZERO_CELSIUS, "C")))
    facts(layout, rows)
    for place in result.wires:
        if place.second is not None:
            say(
                layout,
                filled(
                    "Move the wire at half time, so that the contact spot gets plated too. At first: {place}. Then:"
                    " {second_place}.",
                    place=words.place_name(place.place),
                    second_place=words.place_name(place.second_place),
                ),
            )
        else:
            say(
                layout,
                filled(
                    "The contact spot {place} stays bare: touch it up afterwards.", place=words.place_name(place.place)
                ),
            )


CLASSES = (PLATEWRIGHT_PT_coat, PLATEWRIGHT_PT_wires, PLATEWRIGHT_PT_coat_details)
