"""Blender's lists of handlers: who listens to undo, loading and changes of the scene."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeAlias

Pairs: TypeAlias = Iterable[tuple[list[Any], Any]]  # one of bpy.app.handlers' lists, and who is to be called


def listen(pairs: Pairs) -> None:
    for listeners, handler in pairs:
        listeners.append(handler)


def leave(pairs: Pairs) -> None:
    for listeners, handler in pairs:
        listeners.remove(handler)
