"""The window's editors: where a text is opened to be read."""

from __future__ import annotations

import bpy

SHARE = 0.52  # of the viewport's width that the text takes
MIN_FONT, MAX_FONT = 8, 12
PLAN = 82 * 0.655  # width of the plan's columns, in units of the font's size
BESIDE = 30  # points that margin and scroll bar take


def open_text(context: bpy.types.Context, text: bpy.types.Text) -> bool:
    """Show a text in the Text editor that is open, or in one split off the largest viewport. Returns whether there is
    one: a viewport that fills the whole screen is not split."""
    screen = context.window.screen
    area = next((one for one in screen.areas if one.type == "TEXT_EDITOR"), None) or _split(context)
    if area is None:
        return False
    space = area.spaces.active
    assert isinstance(space, bpy.types.SpaceTextEditor)
    space.text, space.top = text, 0
    space.font_size = max(
        MIN_FONT, min(MAX_FONT, int((area.width / context.preferences.system.ui_scale - BESIDE) / PLAN))
    )
    space.show_line_numbers = space.show_syntax_highlight = False
    space.show_word_wrap = True
    area.tag_redraw()
    return True


def _split(context: bpy.types.Context) -> bpy.types.Area | None:
    """A new Text editor at the left of the largest 3D viewport."""
    screen = context.window.screen
    views = [one for one in screen.areas if one.type == "VIEW_3D"]
    if not views or screen.show_fullscreen:
        return None
    largest = max(views, key=lambda one: one.width * one.height)
    before = set(screen.areas)
    with context.temp_override(area=largest, region=largest.regions[-1]):
        try:
            bpy.ops.screen.area_split(direction="VERTICAL", factor=SHARE)
        except RuntimeError:  # how an operator that cannot run says so
            return None
    made = next((one for one in screen.areas if one not in before), None)
    if made is None:
        return None
    left = min((made, largest), key=lambda one: one.x)
    left.type = "TEXT_EDITOR"
    return left
