"""Callbacks: scene changes, undo and loading, viewport drawing, timers.

All of them are added to Blender's lists and removed here. Drawing handlers exist only with a window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeAlias

import bpy

VIEW, PIXELS = "POST_VIEW", "POST_PIXEL"  # drawn in the scene's coordinates, and over them in the region's
Pairs: TypeAlias = Iterable[tuple[list[Any], Callable[..., Any]]]  # one of bpy.app.handlers' lists, what it calls


def subscribe(pairs: Pairs) -> None:
    """Add handlers to Blender's lists."""
    for listeners, handler in pairs:
        listeners.append(handler)


def unsubscribe(pairs: Pairs) -> None:
    """Remove handlers from Blender's lists; a missing one is ignored."""
    for listeners, handler in pairs:
        if handler in listeners:
            listeners.remove(handler)


def draw(function: Callable[..., None], when: str, *arguments: Any) -> Any:
    """Call a function whenever a 3D viewport draws. Returns the handle for `undraw`; None without a window."""
    if bpy.app.background:
        return None
    return bpy.types.SpaceView3D.draw_handler_add(function, arguments, "WINDOW", when)


def undraw(handle: Any) -> None:
    """Remove a drawing handler; None is ignored."""
    if handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")


def start_timer(function: Callable[[], float | None]) -> None:
    """Call a function at once, and again after the number of seconds it returns. Does nothing without a window."""
    if not bpy.app.background:
        bpy.app.timers.register(function, first_interval=0.0)


def stop_timer(function: Callable[[], float | None]) -> None:
    """Stop a timer, where it runs."""
    if bpy.app.timers.is_registered(function):
        bpy.app.timers.unregister(function)
