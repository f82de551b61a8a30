"""While the user turns the part, or the copy beside it, by hand: gas and liquid recolor as it turns.

A timer compares how they are turned with what their colors stand for, and computes for the latest turn alone. It is a
look: no step of undo is written, the results that are kept stay as they are, and say that they are stale.
"""

from __future__ import annotations

import time
from typing import ClassVar

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.analyses import Study
from .. import session, settings
from ..draw import maps, overlay, paint
from ..operators.work import redraw
from ..session import Kept
from . import beside, looks

TICK, REST = 0.02, 0.05  # s between two comparisons while it turns, and while it rests
RIGID = 1e-4  # how far a turn may be from one


class Following:
    """What is followed now, for panels and the legend to draw."""

    on: ClassVar[bool] = False
    words: ClassVar[str] = ""  # what stays, as it is turned now
    study: ClassVar[Study | None] = None  # of the part, as it is turned now; None while it is as it was measured
    _told: ClassVar[str] = ""  # the words that the sidebar shows
    _over: ClassVar[bool] = False  # it is to end as soon as colors can be written
    _seen: ClassVar[tuple[object, ...]] = ()  # what the part's colors stand for
    _copy: ClassVar[tuple[object, ...]] = ()  # where the copy stood


def start() -> None:
    """Begin to follow; a map of gas or liquid is shown already."""
    Following.on, Following._over, Following._seen, Following._copy = True, False, (), ()
    if not bpy.app.background:
        bpy.app.timers.register(_tick, first_interval=0.0)


def stop(context: bpy.types.Context) -> None:
    """End, and show again what is kept."""
    forget()
    kept, shown = session.find(context), settings.of(context.scene).shown
    if kept is not None and kept.reshaped:
        overlay.tell("")  # its mesh cannot take the colors any more; the legend says that they are stale
    elif kept is not None and shown in looks.MAPS and maps.MAPS[shown].analysis in kept.study.results:
        overlay.show(paint.again(context, kept.capture, kept.study, shown))
    redraw(context, "WINDOW", "UI")


def forget() -> None:
    """End, and leave the scene as it is."""
    Following.on, Following.words, Following.study = False, "", None
    if bpy.app.timers.is_registered(_tick):
        bpy.app.timers.unregister(_tick)


def turn(moves: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """(3, 3) the turn that all objects of the part have made; None where they did more than turn and move.

    moves : (k, 4, 4) as `session.moves` has them
    """
    found = moves[0, :3, :3]
    whole = np.abs(moves - moves[0])[:, :3].max() < RIGID * max(1.0, np.abs(moves[:, :3, 3]).max())
    rigid = np.abs(found @ found.T - np.eye(3)).max() < RIGID and np.linalg.det(found) > 0
    return found if whole and rigid else None


def step(context: bpy.types.Context) -> bool:
    """Compare and color. Returns whether there was something to do; ends itself where it cannot go on."""
    kept, shown = session.find(context), settings.of(context.scene).shown
    if any(o.mode != "OBJECT" for o in session.objects(context)):
        Following._over = True  # colors cannot be written meanwhile
        return False
    turned = turn(session.moves(context)) if kept is not None and not kept.reshaped else None
    if Following._over or kept is None or turned is None or shown not in looks.MAPS:
        stop(context)
        return False
    part, copy = _part(context, kept, turned, shown), _beside(context, kept)
    return part or copy


def _part(context: bpy.types.Context, kept: Kept, turned: NDArray[np.float64], shown: str) -> bool:
    up = settings.as_stored(np.array(settings.of(context.scene).part.up) @ turned)
    seen = shown, up, id(kept.study)
    if seen == Following._seen or not any(up):
        return False
    study = looks.held(kept, up)
    if maps.MAPS[shown].analysis not in study.results:
        stop(context)
        return False
    Following._seen, Following.study, Following.words = seen, study, looks.sentence(study)
    overlay.show(paint.again(context, kept.capture, study, shown), f"Now: {Following.words}")
    return True


def _beside(context: bpy.types.Context, kept: Kept) -> bool:
    found = beside.current(context)
    if found is None:
        return False
    o, look = found
    stands = tuple(value for row in o.matrix_world for value in row), settings.of(context.scene).shown
    if stands == Following._copy:
        return False
    if beside.turned(context, kept, o, look):
        overlay.tell(f"The copy: {looks.sentence(look.study)}")
    Following._copy = stands
    return True


def _tick() -> float | None:
    """What the timer calls; how long until the next time, or None for the end."""
    window = next(iter(bpy.context.window_manager.windows), None)
    if window is None or bpy.app.is_job_running("RENDER"):
        return REST
    begun = time.perf_counter()
    try:
        with bpy.context.temp_override(window=window):
            busy = step(bpy.context)
            if busy:
                redraw(bpy.context, "WINDOW")
            if (
                Following._told != Following.words and not busy
            ):  # the sidebar, once the hand rests: it takes long to draw
                Following._told = Following.words
                redraw(bpy.context, "UI")
    except BaseException:
        forget()
        raise
    if not Following.on:
        return None
    return max(TICK, time.perf_counter() - begun) if busy else REST  # the other half of the time is the window's


@bpy.app.handlers.persistent
def _undone(*_rest: object) -> None:
    """Undo brings back older colors, and it may take back that gas or liquid is shown."""
    Following._seen, Following._copy = (), ()


@bpy.app.handlers.persistent
def _loaded(*_rest: object) -> None:
    forget()


def register() -> None:
    app = bpy.app.handlers
    app.undo_post.append(_undone)
    app.redo_post.append(_undone)
    app.load_pre.append(_loaded)


def unregister() -> None:
    app = bpy.app.handlers
    app.undo_post.remove(_undone)
    app.redo_post.remove(_undone)
    app.load_pre.remove(_loaded)
    forget()
