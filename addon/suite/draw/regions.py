"""Which parts of the window are drawn again."""

from __future__ import annotations

import bpy


def redraw(context: bpy.types.Context, *kinds: str) -> None:
    """Have these regions of every 3D viewport drawn again."""
    for window in context.window_manager.windows:
        for area in window.screen.areas:
            for region in area.regions if area.type == "VIEW_3D" else ():
                if region.type in kinds:
                    region.tag_redraw()
