"""One click for a cut through the tank."""

from __future__ import annotations

from typing import Any

import bpy

from ...engine.reporting.filled import filled
from ...engine.study import Study
from ..draw import cuts
from ..figures import figure
from ..scene import viewing
from .measure import Studying


class PLATEWRIGHT_OT_cut(Studying, bpy.types.Operator):
    """Show the potential in the bath and the path of the current on a plane through the tank. Press Esc to cancel"""

    bl_idname = "platewright.cut"
    bl_label = "Show Cross-section"
    bl_options = {"REGISTER", "UNDO"}

    def analyses(self) -> tuple[str, ...]:
        return ("cut",)

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        super().finished(context, result)
        if "cut" not in result[1].reasons:
            viewing.of(context).cut_shown = True

    def outcome(self, study: Study) -> str:
        cut = study.results.cut
        return filled(
            "Cross-section {where}: {voltage} from the wire to the anodes",
            where=cuts.where(cut),
            voltage=figure(cut.voltage, "V"),
        )


CLASSES = (PLATEWRIGHT_OT_cut,)
