"""While the user turns the part, or the copy beside it, by hand: gas and liquid recolor as it turns.

A timer compares how they are turned with what their colors stand for, and computes for the latest turn alone. It is a
preview: no undo step is written; stored results stay unchanged and are marked as stale.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.reporting.filled import filled
from ...engine.study import Study
from .. import handlers
from ..draw import maps, overlay
from ..draw.regions import redraw
from ..scene import settings, viewing
from ..session import State, StudyRecord, session
from . import orientation, preview_copy

TICK, REST = 0.02, 0.05  # s between two comparisons while it turns, and while it rests
RIGID = 1e-4  # how far a turn may be from one


@dataclass(eq=False)
class LivePreview(State):
    """The state of the live preview, for panels and the legend.

    words : what stays, as the part is turned now
    study : of the part, as it is turned now; None while it is as it was measured
    """

    on: bool = False
    words: str = ""
    study: Study | None = None
    sidebar_words: str = ""  # the words that the sidebar shows
    over: bool = False  # ends as soon as colors can be written
    seen: tuple[object, ...] = ()  # what the part's colors stand for
    copy: tuple[object, ...] = ()  # where the copy stood

    def close(self) -> None:
        """Stop following."""
        handlers.stop_timer(_tick)


def start() -> None:
    """Begin to follow; a map of gas or liquid is shown already."""
    live = session.state(LivePreview)
    live.on, live.over, live.seen, live.copy = True, False, (), ()
    handlers.start_timer(_tick)


def stop(context: bpy.types.Context) -> None:
    """End, and show the stored results again."""
    forget()
    record, shown = session.find(context), viewing.of(context).shown
    if record is not None and record.reshaped:
        overlay.tell("")  # the colors are of another shape; the legend says that they are stale
    elif record is not None and shown in orientation.MAPS and maps.MAPS[shown].analysis in record.study.results.names:
        overlay.show(maps.draw(shown, record.study), record.capture.pieces)
    redraw(context, "WINDOW", "UI")


def forget() -> None:
    """End, and leave the scene as it is."""
    live = session.state(LivePreview)
    live.on, live.words, live.study = False, "", None
    handlers.stop_timer(_tick)


def turn(moves: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """(3, 3) the turn that all objects of the part have made; None where they did more than turn and move.

    moves : (k, 4, 4) as `session.moves` has them
    """
    turned = moves[0, :3, :3]
    whole = np.abs(moves - moves[0])[:, :3].max() < RIGID * max(1.0, np.abs(moves[:, :3, 3]).max())
    rigid = np.abs(turned @ turned.T - np.eye(3)).max() < RIGID and np.linalg.det(turned) > 0
    return turned if whole and rigid else None


def step(context: bpy.types.Context) -> bool:
    """Compare and color. Returns whether there was something to do; ends itself where it cannot go on."""
    live = session.state(LivePreview)
    record, shown = session.find(context), viewing.of(context).shown
    if any(o.mode != "OBJECT" for o in session.objects(context)):
        live.over = True  # colors cannot be written meanwhile
        return False
    turned = turn(session.moves(context)) if record is not None and not record.reshaped else None
    if live.over or record is None or turned is None or shown not in orientation.MAPS:
        stop(context)
        return False
    part, copy = _part(context, record, turned, shown), _beside(context, record)
    return part or copy


def _part(context: bpy.types.Context, record: StudyRecord, turned: NDArray[np.float64], shown: str) -> bool:
    live = session.state(LivePreview)
    up = settings.as_stored(np.array(settings.of(context.scene).part.up) @ turned)
    seen = shown, up, id(record.study)
    if seen == live.seen or not any(up):
        return False
    study = orientation.studied(record, up)
    if maps.MAPS[shown].analysis not in study.results.names:
        stop(context)
        return False
    live.seen, live.study, live.words = seen, study, orientation.sentence(study)
    overlay.show(maps.draw(shown, study), record.capture.pieces, filled("Now: {words}", words=live.words))
    return True


def _beside(context: bpy.types.Context, record: StudyRecord) -> bool:
    live = session.state(LivePreview)
    copy = preview_copy.current(context)
    if copy is None:
        return False
    o, look = copy
    stands = tuple(value for row in o.matrix_world for value in row), viewing.of(context).shown
    if stands == live.copy:
        return False
    if preview_copy.turned(context, record, o, look):
        overlay.tell(filled("The copy: {words}", words=orientation.sentence(look.study)))
    live.copy = stands
    return True


def _tick() -> float | None:
    live = session.state(LivePreview)
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
            if live.sidebar_words != live.words and not busy:  # the sidebar, once the hand rests: it takes long to draw
                live.sidebar_words = live.words
                redraw(bpy.context, "UI")
    except BaseException:
        forget()
        raise
    if not live.on:
        return None
    return max(TICK, time.perf_counter() - begun) if busy else REST  # the window gets the other half of the time


@bpy.app.handlers.persistent
def undone(*_args: object) -> None:
    """After undo, which restores older colors and may hide gas or liquid again."""
    live = session.state(LivePreview)
    live.seen, live.copy = (), ()
