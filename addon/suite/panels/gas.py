"""Gas that stays trapped, liquid that is carried out, and holes that may not fill: place by place."""

from __future__ import annotations

import bpy

from ...engine.reporting.filled import filled
from ...engine.trapping.bores import NEGLIGIBLE_VOLUME_M3
from ...engine.trapping.gas import Pool
from ...engine.trapping.pockets import Pocket
from ...engine.units import CM2, MM
from ..draw.rows import facts, say
from ..figures import figure, milliliters
from ..language import localized
from ..session import session
from .sidebar import SidebarPanel, answer, show_button

MAX_LISTED_PLACES = 5


class PLATEWRIGHT_PT_gas(SidebarPanel, bpy.types.Panel):
    """Gas that stays trapped under the part, and liquid that it carries out of the bath"""

    bl_label = "Gas & Drag-out"
    page = "gas-and-drag-out"
    bl_parent_id = "PLATEWRIGHT_PT_hang"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if session.find(context) is None:
            return
        _gas(context, layout)
        _drainage(context, layout)
        layout.operator("platewright.mark_holes", icon="EMPTY_AXIS")
        layout.operator("platewright.cut_holes", icon="MOD_BOOLEAN")


class PLATEWRIGHT_PT_narrow(SidebarPanel, bpy.types.Panel):
    """Holes and slots that may not fill with liquid at all"""

    bl_label = "Small Holes"
    page = "gas-and-drag-out"
    bl_parent_id = "PLATEWRIGHT_PT_hang"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("platewright.study", text="Check Small Holes", icon="VIEWZOOM").only = "narrow"
        narrow = answer(context, layout, "narrow", lambda results: results.narrow)
        if narrow is None:
            return
        bore = figure(narrow.width / MM, "mm")
        if not narrow.openings:
            say(layout, filled("No hole or slot is narrower than {bore}", bore=bore), icon="CHECKMARK")
            return
        say(
            layout,
            filled(
                "{openings} holes or slots may not fill with liquid: those narrower than {bore} keep their gas",
                openings=len(narrow.openings),
                bore=bore,
            ),
            icon="ERROR",
        )
        texts = [
            filled(
                "{kind}, {width} wide, {depth} deep",
                kind=o.kind,
                width=figure(o.width / MM, "mm"),
                depth=figure(o.depth / MM, "mm"),
            )
            for o in narrow.openings
        ]
        _places(layout, "OPENING", texts)


def _gas(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    gas = answer(context, layout, "gas", lambda results: results.gas)
    if gas is None:
        return
    facts(
        layout,
        [
            ("Trapped Gas", milliliters(gas.trapped_volume)),
            ("Bare from Trapped Gas", figure(gas.trapped_plated_area / CM2, "cm2")),
            ("Bubble-prone Undersides", figure(gas.level_underside_area / CM2, "cm2")),
        ],
    )
    _places(layout, "POCKET", [_bore(p, "vent") for p in gas.pockets])
    show_button(layout, "gas")


def _drainage(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    layout.separator()
    drainage = answer(context, layout, "drainage", lambda results: results.drainage)
    if drainage is None:
        return
    facts(layout, [("Drag-out", milliliters(drainage.held_volume))])
    _places(layout, "POOL", [_bore(p, "drain") for p in drainage.pools])
    show_button(layout, "held")


def _bore(place: Pocket | Pool, noun: str) -> str:
    """The volume of a place, and how much the best hole leaves."""
    best = place.hole
    if best is None or place.volume < NEGLIGIBLE_VOLUME_M3:
        return filled("{volume}: shake or tip it out", volume=milliliters(place.volume))
    values = {"volume": milliliters(place.volume), "what": noun, "diameter": figure(best.diameter / MM, "mm")}
    if best.remaining < NEGLIGIBLE_VOLUME_M3:
        return filled("{volume}, {what} {diameter}", **values)
    return filled("{volume}, {what} {diameter} leaves {left}", **values, left=milliliters(best.remaining))


def _places(layout: bpy.types.UILayout, kind: str, texts: list[str]) -> None:
    """The largest places, each with a button that goes there."""
    column = layout.column(align=True)
    for number, text in enumerate(texts[:MAX_LISTED_PLACES]):
        jump = column.operator("platewright.jump", text=localized(text), icon="ZOOM_SELECTED")
        jump.kind, jump.number = kind, number
    if len(texts) > MAX_LISTED_PLACES:
        column.label(
            text=localized(filled("and {max_listed_places} smaller", max_listed_places=len(texts) - MAX_LISTED_PLACES))
        )


CLASSES = (PLATEWRIGHT_PT_gas, PLATEWRIGHT_PT_narrow)
