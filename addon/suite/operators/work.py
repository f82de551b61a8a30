"""Long work in a responsive window: one runner for all long operators.

The work is a generator of steps (engine.steps). `execute` walks it to its end, for scripts and tests;
`invoke` walks it from a timer, a slice at a time, while the window draws the progress and Esc ends it.
The scene is written to in `finished` only, so that canceled work leaves it unchanged.
"""

from __future__ import annotations

import time
from abc import abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import bpy

from ...engine.errors import InputError
from ...engine.progress import Progress, Step, run_to_end
from ...engine.reporting.filled import filled
from ..draw.regions import redraw
from ..figures import work_text
from ..language import localized
from ..session import State, session

SLICE, LONGEST = 0.05, 0.6  # s of work between two returns to the window: least and most
WORK_PER_WINDOW = 3.0  # s of work per second that the window takes to draw
MIN_PROGRESS_INTERVAL, MAX_PROGRESS_SHARE = 0.25, 0.1  # s between two drawings of the progress; of the time
TICK = 0.01  # s


@dataclass(eq=False)
class RunningWork(State):
    """What is running now, for the panels to draw. Only one work runs at a time."""

    label: str = ""  # "" while nothing runs
    step: Step = Step(0.0, "")

    def busy(self) -> bool:
        """Whether any work is running."""
        return bool(self.label)


def step_text() -> str:
    """The current step in words."""
    sentence = localized(work_text(running().step.sentence))
    return f"{sentence[:1].upper()}{sentence[1:]}"


def share_text() -> str:
    """The progress in percent."""
    return f"{100 * running().step.fraction:.0f} %"


def running() -> RunningWork:
    """What is running in this session."""
    return session.state(RunningWork)


class Work:
    """What an operator inherits beside bpy.types.Operator; it brings `start` and `finished`."""

    bl_label: str
    canceled = "canceled, nothing changed"  # what to say on Esc
    report: Callable[[set[str], str], None]  # Blender's own
    _steps: Progress[Any] | None = None
    _timer: bpy.types.Timer | None = None
    _rested: float = 0.0  # when the work last stopped for the window
    _drew_progress: bool = False  # whether the window has redrawn since
    _next_progress: float = 0.0  # when it is drawn again

    @abstractmethod
    def start(self, context: bpy.types.Context) -> Progress[Any]:
        """Gather what the work needs from the scene, and return its steps. Raises InputError on bad input."""

    @abstractmethod
    def finished(self, context: bpy.types.Context, result: Any) -> None:
        """Take the result: keep it, write it to the scene, report."""

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            self.finished(context, run_to_end(self.start(context)))
        except InputError as fault:
            return self._refuse(fault)
        return {"FINISHED"}

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        try:
            self._steps = self.start(context)
        except InputError as fault:
            return self._refuse(fault)
        work = running()
        work.label, work.step = self.bl_label, Step(0.0, "starting")
        window_manager = context.window_manager
        self._rested = time.perf_counter() - LONGEST  # the first slice is longer: the user waits for a response
        self._timer = window_manager.event_timer_add(TICK, window=context.window)
        window_manager.modal_handler_add(self)  # type: ignore[arg-type]  # beside an Operator
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type == "ESC" and event.value == "PRESS":
            self.cancel(context)
            self.report(
                {"INFO"}, localized(filled("{bl_label}: {canceled}", bl_label=self.bl_label, canceled=self.canceled))
            )
            return self.refused()
        if event.type == "Z" and (event.ctrl or event.oskey):
            return {"RUNNING_MODAL"}  # undo would invalidate the scene during the work
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        try:
            self._advance()
        except StopIteration as end:
            return self._end(context, end.value)
        except InputError as fault:
            self.cancel(context)
            return self._refuse(fault)
        except BaseException:
            self.cancel(context)
            raise
        if time.perf_counter() >= self._next_progress:
            self._show_progress(context)
        return {"RUNNING_MODAL"}

    def _show_progress(self, context: bpy.types.Context) -> None:
        """Show the progress in the status bar and the sidebar."""
        context.workspace.status_text_set(
            localized(
                filled("{what}: {how_far}.  Esc: cancel", what=self.bl_label, how_far=f"{step_text()}, {share_text()}")
            )
        )
        redraw(context, "UI")
        self._drew_progress = True

    def cancel(self, context: bpy.types.Context) -> None:
        """Close the steps and remove the timer; Blender also calls this when it loads another file."""
        if self._steps is not None:
            self._steps.close()
            self._steps = None
        if self._timer is not None:
            context.window_manager.event_timer_remove(self._timer)
            self._timer = None
        running().label = ""
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        redraw(context, "UI", "WINDOW")

    def _advance(self) -> None:
        assert self._steps is not None
        start = time.perf_counter()
        # most of the time goes to the work, however slow the screen
        window = start - self._rested
        end = start + min(max(WORK_PER_WINDOW * window, SLICE), LONGEST)
        if self._drew_progress:
            self._drew_progress = False
            self._next_progress = start + max(MIN_PROGRESS_INTERVAL, window / MAX_PROGRESS_SHARE)
        work = running()
        while time.perf_counter() < end:
            work.step = next(self._steps)
        self._rested = time.perf_counter()

    def _end(self, context: bpy.types.Context, result: Any) -> set[str]:
        self.cancel(context)
        try:
            self.finished(context, result)
        except InputError as fault:
            return self._refuse(fault)
        return {"FINISHED"}

    def refused(self) -> set[str]:
        """The operator's result for unfinished work."""
        return {"CANCELLED"}

    def _refuse(self, fault: InputError) -> set[str]:
        self.report({"ERROR"}, localized(fault.args[0]))
        return self.refused()
