"""Bath and target, gas and drainage: what is wanted of the bath, and what the bath cannot reach."""

from __future__ import annotations

import bpy

from ...engine.reporting import words
from ...engine.reporting.finding_text import texts
from ...engine.trapping.bores import TRIFLE_VOLUME_M3
from ...engine.trapping.gas import Pool
from ...engine.trapping.pockets import Pocket
from ...engine.units import AMPERE_HOUR, CM2, GRAM, MM
from ..draw.rows import facts, inputs, say
from ..figures import duration, figure, milliliters
from ..scene import settings
from ..session import session
from .sidebar import SidebarPanel, answer, follow_button, show_button

MAX_LISTED_PLACES = 5


class PLATEWRIGHT_PT_bath(SidebarPanel, bpy.types.Panel):
    """The bath, and the deposit that you want. Current, time and metal follow"""

    bl_label = "Bath & Target"

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.bath, "entry")
        inputs(layout, chosen.target, "thickness", "density")
        found = answer(context, layout, "deposit", lambda results: results.deposit)
        if found is None:
            return
        facts(
            layout,
            [
                ("Current", figure(found.current, "A")),
                ("Plating Time", duration(found.time)),
                ("Charge", figure(found.charge / AMPERE_HOUR, "Ah")),
                (found.metal.capitalize(), figure(found.mass / GRAM, "g")),
            ],
        )
        for sentence in texts(found.findings):
            say(layout, sentence, icon="ERROR")


class PLATEWRIGHT_PT_supply(SidebarPanel, bpy.types.Panel):
    """Limits of the power supply, and what it controls"""

    bl_label = "Power Supply"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        supply = settings.of(context.scene).supply
        inputs(self.layout, supply, "current", "voltage", "hold")
        self.layout.label(text=f"Control: {'Voltage' if supply.hold else 'Current'}")


class PLATEWRIGHT_PT_solution(SidebarPanel, bpy.types.Panel):
    """Properties of the solution. Type what you measured in place of the preset's values"""

    bl_label = "Solution"
    bl_parent_id = "PLATEWRIGHT_PT_bath"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, settings.of(context.scene)
        inputs(layout, chosen.bath, "file", "metal", "temperature", "conductivity")
        layout.operator("platewright.conductivity", icon="DRIVER_DISTANCE")
        inputs(
            layout,
            chosen.bath,
            "density",
            "window",
            "limiting",
            "anode_limit",
            "efficiency",
            "surface_tension",
        )
        for name, title in (("kinetics", "Cathode"), ("anode_kinetics", "Anode")):
            group = getattr(chosen, name)
            layout.label(text=title)
            inputs(layout, group, "kind", *_LAW[group.kind])
        layout.operator("platewright.from_table", icon="FILE_REFRESH").section = "bath"
        layout.separator()
        layout.label(text="To Mix" if chosen.batch.volume else "To Mix: enough for the tank")
        inputs(layout, chosen.batch, "volume", "acid")


_LAW = {
    "none": (),
    "linear": ("resistance",),
    "tafel": ("exchange", "transfer"),
    "butler-volmer": ("exchange", "transfer", "anodic"),
}


class PLATEWRIGHT_PT_gas(SidebarPanel, bpy.types.Panel):
    """Gas that stays trapped under the part, and liquid that it carries out of the bath"""

    bl_label = "Gas & Drainage"

    def draw(self, context: bpy.types.Context) -> None:
        layout, up = self.layout, settings.of(context.scene).part.up
        layout.label(text="Hanging Direction")
        row = layout.row(align=True)
        row.prop(settings.of(context.scene).part, "up", text="")
        row.operator("platewright.up_from_view", text="", icon="VIEW_CAMERA_UNSELECTED")
        if any(up):
            say(layout, words.hanging_direction(up))
        layout.operator("platewright.turn_part", icon="OBJECT_ORIGIN")
        if session.find(context) is not None:
            follow_button(layout)
            layout.prop(settings.of(context.scene), "bodies", toggle=True, icon="MOD_FLUIDSIM")
            _gas(context, layout)
            _narrow(context, layout)
            _drainage(context, layout)
            layout.operator("platewright.mark_holes", icon="EMPTY_AXIS")


def _gas(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    found = answer(context, layout, "gas", lambda results: results.gas)
    if found is None:
        return
    facts(
        layout,
        [
            ("Trapped Gas", milliliters(found.trapped_volume)),
            ("Bare from Trapped Gas", figure(found.trapped_plated_area / CM2, "cm2")),
            ("Bubble-prone Undersides", figure(found.level_underside_area / CM2, "cm2")),
        ],
    )
    _places(layout, "POCKET", [_bore(p, "vent", p.vent_diameter) for p in found.pockets])
    show_button(layout, "gas")


def _narrow(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    layout.separator()
    layout.operator("platewright.study", text="Check Small Holes", icon="VIEWZOOM").only = "narrow"
    found = answer(context, layout, "narrow", lambda results: results.narrow)
    if found is None:
        return
    bore = figure(found.width / MM, "mm")
    if not found.openings:
        say(layout, f"No hole or slot is narrower than {bore}", icon="CHECKMARK")
        return
    say(layout, f"{len(found.openings)} may not fill with liquid: below {bore} they keep their gas", icon="ERROR")
    texts = [f"{o.kind}, {figure(o.width / MM, 'mm')} wide, {figure(o.depth / MM, 'mm')} deep" for o in found.openings]
    _places(layout, "OPENING", texts)


def _drainage(context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
    layout.separator()
    found = answer(context, layout, "drainage", lambda results: results.drainage)
    if found is None:
        return
    facts(layout, [("Drag-out", milliliters(found.held_volume))])
    _places(layout, "POOL", [_bore(p, "drain", p.drain_diameter) for p in found.pools])
    show_button(layout, "held")


def _bore(place: Pocket | Pool, what: str, diameter: float) -> str:
    """How much a place holds, and which hole leaves how much of it."""
    left = next((bore.left for bore in place.bores if bore.diameter == diameter), None)
    if left is None or place.volume < TRIFLE_VOLUME_M3:
        return f"{milliliters(place.volume)}: shake it off"
    rest = "" if left < TRIFLE_VOLUME_M3 else f" leaves {milliliters(left)}"
    return f"{milliliters(place.volume)}, {what} {figure(diameter / MM, 'mm')}{rest}"


def _places(layout: bpy.types.UILayout, kind: str, texts: list[str]) -> None:
    """The largest places, each with a button that goes there."""
    column = layout.column(align=True)
    for number, text in enumerate(texts[:MAX_LISTED_PLACES]):
        jump = column.operator("platewright.jump", text=text, icon="ZOOM_SELECTED")
        jump.kind, jump.number = kind, number
    if len(texts) > MAX_LISTED_PLACES:
        column.label(text=f"and {len(texts) - MAX_LISTED_PLACES} smaller")


CLASSES = (
    PLATEWRIGHT_PT_bath,
    PLATEWRIGHT_PT_supply,
    PLATEWRIGHT_PT_solution,
    PLATEWRIGHT_PT_gas,
)
