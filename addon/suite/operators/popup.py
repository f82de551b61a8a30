"""A popup that turns readings into a setting: it says how to read, shows the outcome as you type, and writes it on
OK."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

import bpy

from ...engine.errors import InputError
from ...engine.reporting.filled import capital
from ..draw import legend
from ..draw.rows import TEXT
from ..language import localized

WIDTH, MARGIN = 360, 56  # points: of a popup, and of it beside a line with an icon


class Popup:
    """What an operator inherits beside bpy.types.Operator; it brings the callables below."""

    how: ClassVar[tuple[str, ...]]  # lines that say what to do
    waiting: ClassVar[str]  # what to say before anything is typed
    layout: Any
    report: Callable[[set[str], str], None]  # Blender's own

    fields: Callable[[Any], None]  # layout -> draws what is to be typed
    typed: Callable[[], bool]  # whether there is a reading
    evaluated: Callable[[], Any]  # what the readings give; raises InputError where they give nothing
    outcome: Callable[[Any], str]  # the outcome in a few words
    write: Callable[[bpy.types.Context, Any], None]  # sets the value

    def doubts(self, _value: Any) -> tuple[str, ...]:
        """Reasons for doubt, in sentences."""
        return ()

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return {*context.window_manager.invoke_props_dialog(self, width=WIDTH)}  # type: ignore[arg-type]  # beside an Operator

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        for line in self.how:
            layout.label(text=line)
        self.fields(layout)
        if not self.typed():
            layout.label(text=localized(self.waiting), icon="INFO")
            return
        try:
            value = self.evaluated()
        except InputError as fault:
            _wrapped(layout, fault.args[0], "INFO")
            return
        layout.label(text=localized(self.outcome(value)), icon="CHECKMARK")
        for sentence in self.doubts(value):
            _wrapped(layout, sentence, "ERROR")

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            value = self.evaluated()
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        self.write(context, value)
        self.report({"INFO"}, localized(self.outcome(value)))
        return {"FINISHED"}


def _wrapped(layout: Any, sentence: str, icon: str) -> None:
    """Wrapped to the popup's width; a popup is no region whose width could be queried."""
    size = bpy.context.preferences.system.ui_scale
    for number, line in enumerate(legend.wrapped(localized(capital(sentence)), TEXT * size, (WIDTH - MARGIN) * size)):
        layout.label(text=line, icon="BLANK1" if number else icon)
