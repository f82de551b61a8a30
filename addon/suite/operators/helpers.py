"""A printed hanger, and plugs, as objects on the part, which stays as it is."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.reporting import plan_helpers
from ...engine.reporting.filled import filled
from ...engine.study import Study
from ..language import said
from ..session import session
from .measure import Studying
from .print import beside

HANGER, PLUGS = "platewright_hanger", "platewright_plugs"  # on an object of ours: the next of its kind replaces it


class _Making(Studying):
    """Adds one helper, as an object where it belongs."""

    analysis = ""
    mark = ""

    def analyses(self) -> tuple[str, ...]:
        return (self.analysis,)

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        if self.analysis not in result[1].results.names:
            raise InputError(result[1].reasons[self.analysis])
        super().finished(context, result)
        kept = session.find(context)
        if kept is None:
            return
        for o in [o for o in context.scene.objects if o.get(self.mark)]:
            bpy.data.objects.remove(o)
        corners, name, told = self.made(kept.study)
        o = beside(context, kept, corners, name, aside=False)
        o[self.mark] = True
        o.data.shade_flat()
        self.report({"INFO"}, said(filled("{name}: {told}", name=o.name, told="; ".join(told))))

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        """Corners (n, 3, 3) in meters, how the object's name ends, what to say."""
        raise NotImplementedError


class PLATEWRIGHT_OT_make_hanger(_Making, bpy.types.Operator):
    """Make a hanger to print, which holds the part on a rod across the tank and leads the wire to it"""

    bl_idname = "platewright.make_hanger"
    bl_label = "Make Hanger"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark = "hanger", HANGER

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        found = study.results.hanger
        return found.points[found.triangles], "hanger", plan_helpers.said(found)


class PLATEWRIGHT_OT_make_plugs(_Making, bpy.types.Operator):
    """Make plugs to print for round holes that only take current away, in their places"""

    bl_idname = "platewright.make_plugs"
    bl_label = "Make Plugs"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark = "plugs", PLUGS

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        found = study.results.plugs
        return found.corners, "plugs", plan_helpers.plugged(found)


CLASSES = (PLATEWRIGHT_OT_make_hanger, PLATEWRIGHT_OT_make_plugs)
