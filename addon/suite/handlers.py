"""What Blender calls of ours: when the scene changes, on undo and loading, when viewports draw, from a timer.

Everything is put on Blender's lists and taken off them here. What is drawn is drawn only where there is a window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeAlias

import bpy

VIEW, PIXELS = "POST_VIEW", "POST_PIXEL"  # drawn in the scene's coordinates, and over them in the region's
Pairs: TypeAlias = Iterable[tuple[list[Any], Callable[..., Any]]]  # one of bpy.app.handlers' lists, what it calls


def subscribe(pairs: Pairs) -> None:
    """Put handlers on Blender's lists."""
    for listeners, handler in pairs:
        listeners.append(handler)


def unsubscribe(pairs: Pairs) -> None:
    """Take handlers off Blender's lists; one that is not there is none."""
    for listeners, handler in pairs:
        if handler in listeners:
            listeners.remove(handler)


def draw(function: Callable[..., None], when: str, *arguments: Any) -> Any:
    """Have every 3D viewport call a function when it draws. Returns what `undraw` takes; None without a window."""
    if bpy.app.background:
        return None
    return bpy.types.SpaceView3D.draw_handler_add(function, arguments, "WINDOW", when)


def undraw(handle: Any) -> None:
    """Take a drawing handler off the viewports; None: there is none."""
    if handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")


def start_timer(function: Callable[[], float | None]) -> None:
    """Call a function at once, and again after as many seconds as it returns. Nothing without a window."""
    if not bpy.app.background:
        bpy.app.timers.register(function, first_interval=0.0)


def stop_timer(function: Callable[[], float | None]) -> None:
    """Stop a timer, where it runs."""
    if bpy.app.timers.is_registered(function):
        bpy.app.timers.unregister(function)
