"""What Blender sees. Each folder uses those before it: scene, session, draw, preview, operators, panels."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from functools import partial
from typing import Any

import bpy

from . import command, handlers, language, manual, operators, panels, workshop
from .draw import overlay, overlay_cut, overlay_setup, overlay_tank
from .handlers import PIXELS, VIEW
from .operators import keys
from .panels import menus
from .preview import handles, live, overlay_copy, overlay_gas, preview_copy
from .scene import roles, settings, viewing
from .session import changed, loading, session, undone

DRAWN = (  # solid things first: translucent ones are drawn over them
    (overlay.draw_colors, VIEW),
    (overlay_copy.draw, VIEW),
    (overlay_tank.draw, VIEW),
    (overlay_gas.draw, VIEW),
    (overlay_cut.draw, VIEW),
    (overlay_cut.draw_words, PIXELS),
    (overlay_setup.draw, VIEW),
    (overlay_setup.draw_words, PIXELS),
)


class _Registration:
    """What is registered now, and how to unregister it."""

    def __init__(self) -> None:
        self._undo: ExitStack | None = None

    def enter(self) -> None:
        """Register every step or none. Raises what a step raises, after undoing the steps before it."""
        if self._undo is not None:
            return
        with ExitStack() as undo:
            for forward, back in _steps():
                forward()
                undo.callback(back)
            for function, when in DRAWN:
                undo.callback(handlers.undraw, handlers.draw(function, when))
            self._undo = undo.pop_all()

    def leave(self) -> None:
        """Undo what `enter` did, last step first; a second call does nothing."""
        undo, self._undo = self._undo, None
        if undo is not None:
            undo.close()


_registration = _Registration()


def register() -> None:
    """Register everything; a second call does nothing.

    If a step fails, the steps before it are undone and the error is raised.
    """
    _registration.enter()


def unregister() -> None:
    """Unregister everything; a second call does nothing."""
    _registration.leave()


def _steps() -> Iterable[tuple[Callable[[], Any], Callable[[], Any]]]:
    """Pairs of functions: one registers, the other unregisters."""
    heard = _heard()
    yield command.register, command.unregister
    yield roles.register, roles.unregister
    yield settings.register, settings.unregister
    yield viewing.register, viewing.unregister
    yield lambda: None, session.forget
    yield lambda: handlers.subscribe(heard), lambda: handlers.unsubscribe(heard)
    yield from (_class(cls) for cls in operators.CLASSES)
    yield keys.register, keys.unregister
    yield from (_class(cls) for cls in panels.CLASSES)
    yield from (_class(cls) for cls in handles.CLASSES)
    yield menus.register, menus.unregister
    yield manual.register, manual.unregister
    yield language.register, language.unregister
    yield from (_class(cls) for cls in workshop.CLASSES)


def _class(cls: type) -> tuple[Callable[[], Any], Callable[[], Any]]:
    if issubclass(cls, bpy.types.Operator | bpy.types.Panel | bpy.types.Menu):
        cls.bl_translation_context = language.OWN
    return partial(bpy.utils.register_class, cls), partial(bpy.utils.unregister_class, cls)


def _heard() -> tuple[tuple[list[Any], Callable[..., Any]], ...]:
    """Which of Blender's handler lists calls which function, in this order: staleness marks first, then what shows
    them."""
    app = bpy.app.handlers
    after_undo = (undone, preview_copy.undone, live.undone)
    return (
        (app.depsgraph_update_post, changed),
        *((listeners, function) for listeners in (app.undo_post, app.redo_post) for function in after_undo),
        (app.load_pre, loading),
        (app.load_post, workshop.loaded),
    )
