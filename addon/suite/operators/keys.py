"""Keyboard shortcuts."""

from __future__ import annotations

from typing import Any

import bpy

from .live import PLATEWRIGHT_OT_follow_end


class Keymap:
    """Our entries in Blender's keymap."""

    def __init__(self) -> None:
        self._items: list[tuple[Any, Any]] = []

    def register(self) -> None:
        keys = bpy.context.window_manager.keyconfigs.addon
        if keys is not None:  # there are none without a window
            keymap = keys.keymaps.new("3D View Generic", space_type="VIEW_3D")
            self._items.append((keymap, keymap.keymap_items.new(PLATEWRIGHT_OT_follow_end.bl_idname, "ESC", "PRESS")))

    def unregister(self) -> None:
        while self._items:
            keymap, item = self._items.pop()
            keymap.keymap_items.remove(item)


keymap = Keymap()
register, unregister = keymap.register, keymap.unregister
