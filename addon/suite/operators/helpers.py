"""Printed helpers as objects on or around the part; the part stays unchanged."""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.progress import Progress
from ...engine.reporting import plan_helpers, plan_masks, plan_printed
from ...engine.reporting.filled import filled, joined
from ...engine.study import Study, together
from ...engine.study import printed as standing
from ...engine.study.kinds import BY_ANALYSIS, TOGETHER, made
from ..language import localized
from ..scene import settings
from ..session import session
from .measure import Studying, in_object_mode
from .print import beside

# marks our objects: the next of its kind replaces it
HANGER, PLUGS, MASKS, RACK, ANODES, SHIELDS, THIEF = (
    f"platewright_{name}"
    for name in ("hanger", "plugs", "masks", "rack_holder", "anode_holders", "shields", "thief_former")
)


class _Making(Studying):
    """Adds one helper, as an object where it belongs."""

    analysis = ""
    mark = ""
    option = ""  # option of the command line, checked before anything is computed

    def analyses(self) -> tuple[str, ...]:
        return (self.analysis,)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return in_object_mode(cls, context) and super().poll(context)  # type: ignore[arg-type]  # beside an Operator

    def start(self, context: bpy.types.Context) -> Progress[Any]:
        standing.check(self.job(context), self.option)
        return super().start(context)

    def finished(self, context: bpy.types.Context, result: Any) -> None:
        if self.analysis not in result[1].results.names:
            raise InputError(result[1].reasons[self.analysis])
        super().finished(context, result)
        record = session.find(context)
        if record is None:
            return
        together.check_apart(record.study)
        if context.mode != "OBJECT":  # Object Mode was left during the calculation; its result is kept
            raise InputError("Go to Object Mode first")
        for o in [o for o in context.scene.objects if o.get(self.mark)]:
            bpy.data.objects.remove(o)
        corners, name, lines = self.made(record.study)
        o = beside(context, record, corners, name, aside=False)
        o[self.mark] = True
        o.data.shade_flat()
        self.report({"INFO"}, localized(filled("{name}: {told}", name=o.name, told=joined(lines, "; "))))

    @abstractmethod
    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        """Corners (n, 3, 3) in meters, how the object's name ends, what to say."""


class PLATEWRIGHT_OT_make_hanger(_Making, bpy.types.Operator):
    """Make a hanger to print, which holds the part on a rod across the tank and leads the wire to it"""

    bl_idname = "platewright.make_hanger"
    bl_label = "Make Hanger"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option = "hanger", HANGER, "hanger"

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        hanger = study.results.hanger
        return hanger.points[hanger.triangles], "hanger", plan_helpers.hanger_lines(hanger)


class PLATEWRIGHT_OT_make_plugs(_Making, bpy.types.Operator):
    """Make plugs to print for round holes that only waste current, in their places"""

    bl_idname = "platewright.make_plugs"
    bl_label = "Make Plugs"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option = "plugs", PLUGS, "plugs"

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        plugs = study.results.plugs
        return plugs.corners, "plugs", plan_helpers.plugged(plugs)


class PLATEWRIGHT_OT_make_masks(_Making, bpy.types.Operator):
    """Make caps and plugs to print for the masked ends of shafts and bores, in their places"""

    bl_idname = "platewright.make_masks"
    bl_label = "Make Masks"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option = "masks", MASKS, "masks"

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        masks = study.results.masks
        return masks.corners, "masks", plan_masks.summary(masks)


class _Standing(_Making):
    """Adds a helper that stands in the tank, at its place beside the part."""

    noun = ""  # how the object's name ends

    def made(self, study: Study) -> tuple[NDArray[np.float64], str, list[str]]:
        helper = getattr(study.results, self.analysis)
        return helper.printed.on_part, self.noun, plan_printed.summary(helper)


class PLATEWRIGHT_OT_make_rack_holder(_Standing, bpy.types.Operator):
    """Make a rack to print, which carries the wires of all parts at their spacing on two rods across the tank"""

    bl_idname = "platewright.make_rack_holder"
    bl_label = "Make Printed Rack"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option, noun = "rack_holder", RACK, "rack", "rack"

    def analyses(self) -> tuple[str, ...]:
        return ("rack", "rack_holder") if settings.job_of(bpy.context.scene).rack.suggest > 1 else ("rack_holder",)


class PLATEWRIGHT_OT_make_anode_holders(_Standing, bpy.types.Operator):
    """Make holders to print for the anodes, which sit on the tank's rim"""

    bl_idname = "platewright.make_anode_holders"
    bl_label = "Make Anode Holders"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option, noun = "anode_holder", ANODES, "anode-holder", "anode holders"


class PLATEWRIGHT_OT_make_shields(_Standing, bpy.types.Operator):
    """Make frames to print that stand between part and anodes and even out the deposit"""

    bl_idname = "platewright.make_shields"
    bl_label = "Make Shields"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option, noun = "shield", SHIELDS, "shield", "shields"


class PLATEWRIGHT_OT_make_thief(_Standing, bpy.types.Operator):
    """Make a former to print for a wire around the part that takes current from its edges"""

    bl_idname = "platewright.make_thief"
    bl_label = "Make Thief Former"
    bl_options = {"REGISTER", "UNDO"}

    analysis, mark, option, noun = "thief", THIEF, "thief", "thief former"


class PLATEWRIGHT_OT_check_helpers(Studying, bpy.types.Operator):
    """Calculate the plating thickness again with each printed helper in the bath as an insulator, then with all"""

    bl_idname = "platewright.check_helpers"
    bl_label = "Calculate Thickness with Helpers"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not _made(context):
            cls.poll_message_set(localized("Make a helper first"))
            return False
        return super().poll(context)

    def analyses(self) -> tuple[str, ...]:
        names = _made(bpy.context)
        return (*(BY_ANALYSIS[name].effect for name in names), *((TOGETHER,) if len(names) > 1 else ()))


def _made(context: bpy.types.Context) -> list[str]:
    """The analyses of the existing helpers."""
    record = session.find(context)
    return [] if record is None else [kind.analysis for kind in made(record.study.results)]


CLASSES = (
    PLATEWRIGHT_OT_make_hanger,
    PLATEWRIGHT_OT_make_plugs,
    PLATEWRIGHT_OT_make_masks,
    PLATEWRIGHT_OT_make_rack_holder,
    PLATEWRIGHT_OT_make_anode_holders,
    PLATEWRIGHT_OT_make_shields,
    PLATEWRIGHT_OT_make_thief,
    PLATEWRIGHT_OT_check_helpers,
)
