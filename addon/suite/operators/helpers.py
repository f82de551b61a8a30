"""A printed hanger as an object on the part, which stays as it is."""

from __future__ import annotations

from typing import Any

import bpy

from ...engine.errors import InputError
from ...engine.reporting import plan_helpers
from ...engine.reporting.filled import filled
from ..language import said
from ..session import session
from .measure import Studying
from .print import beside

HANGER = "platewright_hanger"  # on an object of ours: the next hanger replaces it


class PLATEWRIGHT_OT_make_hanger(Studying, bpy.types.Operator):
    """Make a hanger to print, which holds the part on a rod across the tank and leads the wire to it"""

    bl_idname = "platewright.make_hanger"
    bl_label = "Make Hanger"
    bl_options = {"REGISTER", "UNDO"}

    def analyses(self) -> tuple[str, ...]:
        return ("hanger",)

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        made = result[1].results.hanger
        if made is None:
            raise InputError(result[1].reasons["hanger"])
        super().finished(context, result)
        kept = session.find(context)
        if kept is None:
            return
        for o in [o for o in context.scene.objects if o.get(HANGER)]:
            bpy.data.objects.remove(o)
        o = beside(context, kept, made.points[made.triangles], "hanger", aside=False)
        o[HANGER] = True
        self.report({"INFO"}, said(filled("{name}: {told}", name=o.name, told="; ".join(plan_helpers.said(made)))))


CLASSES = (PLATEWRIGHT_OT_make_hanger,)
