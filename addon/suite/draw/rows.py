"""Rows of panels and popups: settings to type, facts to read, sentences over as many lines as there is room for."""

from __future__ import annotations

from typing import Any

import bpy

from ..language import localized
from ..scene import scene_units
from . import legend

UILayout = bpy.types.UILayout
USUAL_WIDTH = 280  # points of a sidebar, where none is drawn
TEXT, BOX_MARGIN, ICON = 11, 64, 20  # points: of the sidebar's text, beside it in a box, of an icon before it
MIN_FIELD = 52  # points: of a field for a number of four digits, with its margins
LABEL_MARGIN, BUTTON_MARGIN = 10, 4  # points: beside a label; beside a button's text, over what its box leaves free


def inputs(layout: UILayout, group: Any, *names: str) -> None:
    """Settings, one per line: label, field and unit. The tooltip explains it."""
    column = layout.column()
    for name in names:
        prop = group.bl_rna.properties[scene_units.name_of(group, name, bpy.context.scene)]
        name = prop.identifier
        label, _, unit = prop.name.partition(" (")
        label = localized(label)
        if getattr(prop, "is_array", False):
            column.label(text=f"{label} ({unit}" if unit else label)
            column.row(align=True).prop(group, name, text="")
            continue
        share = _share(prop, label)
        if unit and (1.0 - share) * _room() < _needed(unit) + MIN_FIELD * bpy.context.preferences.system.ui_scale:
            column.label(text=label)  # over its field: beside it a number or its unit would be cut off
            share = 0.5
            row = column.split(factor=share)
            row.label(text="")
        else:
            row = column.split(factor=share)
            row.label(text=label)
        field = row.split(factor=0.6) if unit else row
        field.row(align=True).prop(group, name, text="")
        if unit:
            field.label(text=unit[:-1])


def _share(prop: Any, label: str) -> float:
    """The label's share of the row: as much as its text needs, within what the field can spare."""
    least, most = (0.28, 0.5) if prop.type == "STRING" else (0.5, 0.66)
    return min(max(_needed(label) / _room(), least), most)


def _needed(text: str) -> float:
    """Pixels that a label takes."""
    size = bpy.context.preferences.system.ui_scale
    return legend.width(text, TEXT * size) + LABEL_MARGIN * size


def _room() -> float:
    """Width of a sidebar line in pixels, at least 1: a region not drawn yet has no width."""
    context = bpy.context
    size = context.preferences.system.ui_scale
    width = context.region.width if context.region is not None else USUAL_WIDTH * size
    return max(width - BOX_MARGIN * size, 1.0)


def button_fits(text: str, share: float) -> bool:
    """Whether a button that takes a share of the line has room for its text."""
    size = bpy.context.preferences.system.ui_scale
    return legend.width(text, TEXT * size) + BUTTON_MARGIN * size <= share * _room()


def facts(layout: UILayout, rows: list[tuple[str, str]]) -> None:
    """Names on the left, numbers with their units on the right."""
    column = layout.column(align=True)
    for name, value in rows:
        name, value = localized(name), localized(value)
        row = column.split(factor=min(max(len(name) / max(len(name) + len(value), 1), 0.4), 0.75))
        row.label(text=name)
        side = row.row()
        side.alignment = "RIGHT"
        side.label(text=value)


def say(layout: UILayout, sentence: str, icon: Any = "NONE") -> None:
    """A sentence, wrapped to the sidebar's width."""
    context = bpy.context
    size = context.preferences.system.ui_scale
    room = _room() - (LABEL_MARGIN + (ICON if icon != "NONE" else 0)) * size
    column = layout.column(align=True)
    column.scale_y = 0.8
    for line in legend.wrapped(localized(sentence), TEXT * size, room) or [""]:
        column.label(text=line, icon=icon)
        icon = "BLANK1" if icon != "NONE" else "NONE"
