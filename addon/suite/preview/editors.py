"""The window's editors: opening a text to read."""

from __future__ import annotations

import bpy

SHARE = 0.52  # of the viewport's width that the text takes
MIN_VIEWPORT = 330  # points of a viewport beside it, for the sidebar and some of the part
MIN_FONT, MAX_FONT = 8, 12
PLAN = 82 * 0.655  # width of the plan's columns, in units of the font's size
BESIDE = 30  # points that margin and scroll bar take


def open_text(context: bpy.types.Context, text: bpy.types.Text) -> bpy.types.Area | None:
    """Show a text in the Text editor that is open, or in one split off the largest viewport; where that has no room for
    both the text and the sidebar, in a window of its own. A viewport that fills the whole screen is left alone. Returns
    the viewport that is narrower now; None where none is."""
    areas = (place for window in context.window_manager.windows for place in window.screen.areas)
    area, narrowed = next((place for place in areas if place.type == "TEXT_EDITOR"), None), None
    if area is None:
        area, narrowed = _made(context)
    if area is None:
        return None
    space = area.spaces.active
    assert isinstance(space, bpy.types.SpaceTextEditor)
    space.text, space.top = text, 0
    space.font_size = max(
        MIN_FONT, min(MAX_FONT, int((area.width / context.preferences.system.ui_scale - BESIDE) / PLAN))
    )
    space.show_line_numbers = space.show_syntax_highlight = False
    space.show_word_wrap = True
    area.tag_redraw()
    return narrowed


def _made(context: bpy.types.Context) -> tuple[bpy.types.Area | None, bpy.types.Area | None]:
    """A new Text editor: beside the largest 3D viewport, or in a new window; and the viewport that it was split off."""
    screen = context.window.screen
    views = [area for area in screen.areas if area.type == "VIEW_3D"]
    if not views or screen.show_fullscreen:
        return None, None
    largest = max(views, key=lambda area: area.width * area.height)
    room = (1 - SHARE) * largest.width / context.preferences.system.ui_scale
    return _split(context, largest) if room >= MIN_VIEWPORT else (_window(context, largest), None)


def _window(context: bpy.types.Context, area: bpy.types.Area) -> bpy.types.Area | None:
    """A window with nothing but a Text editor."""
    before = set(context.window_manager.windows)
    with context.temp_override(area=area, region=area.regions[-1]):
        bpy.ops.wm.window_new()
    opened = next((window for window in context.window_manager.windows if window not in before), None)
    if opened is None:
        return None
    area = opened.screen.areas[0]
    area.type = "TEXT_EDITOR"
    return area


def _split(context: bpy.types.Context, largest: bpy.types.Area) -> tuple[bpy.types.Area | None, bpy.types.Area | None]:
    """A new Text editor at the left of a viewport, and what is left of the viewport."""
    screen = context.window.screen
    before = set(screen.areas)
    with context.temp_override(area=largest, region=largest.regions[-1]):
        try:
            bpy.ops.screen.area_split(direction="VERTICAL", factor=SHARE)
        except RuntimeError:  # raised by an operator that cannot run
            return None, None
    opened = next((area for area in screen.areas if area not in before), None)
    if opened is None:
        return None, None
    left, right = sorted((opened, largest), key=lambda area: area.x)
    left.type = "TEXT_EDITOR"
    return left, right
