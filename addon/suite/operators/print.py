"""Operators before printing: a copy that coat and deposit bring to size, and the print direction."""

from __future__ import annotations

import bpy
import numpy as np

from ...engine.errors import InputError
from ...engine.printing import prepare
from ...engine.reporting import report_fits, words
from ...engine.reporting.filled import filled
from .. import writers
from ..language import localized
from ..scene import capture, meshes, settings
from ..session import StudyRecord, session
from .view import as_measured, measured, record_of

GAP = 0.25  # of the part's size, between the part and the copy


class PLATEWRIGHT_OT_inset(bpy.types.Operator):
    """Make a copy to print, smaller by coat and deposit, so that it has the part's size when plated"""

    bl_idname = "platewright.inset"
    bl_label = "Make Print-size Copy"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return as_measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        study, stale = record.study, record.stale(context.scene)
        try:
            if "preparation" in stale:
                raise InputError(filled("{name}: settings have changed; press Check Again first", name=study.part.name))
            sized = prepare.to_size(study.surface, study.layer(local="field" not in stale))
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        copy = beside(context, record, writers.inset(study, sized), "print size")
        self.report({"INFO"}, localized(filled("{name}: {told}", name=copy.name, told=report_fits.summary(sized))))
        return {"FINISHED"}


class PLATEWRIGHT_OT_use_print_direction(bpy.types.Operator):
    """Set the print direction that leaves the least to sand: layer steps and support marks that show"""

    bl_idname = "platewright.use_print_direction"
    bl_label = "Use This Print Direction"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not measured(cls, context):
            return False
        record = record_of(context)
        orientation = record.study.results.orientation
        if orientation is None or record.moved or "orientation" in record.stale(context.scene):
            cls.poll_message_set(
                localized("Print directions are not those of the part as it is: press Check Again first")
            )
            return False
        if orientation.better is None:
            cls.poll_message_set(localized("The print direction that is set leaves as little to sand as any"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        best = record_of(context).study.results.orientation.better
        settings.of(context.scene).print.up = best.up.tolist()
        up = words.way_up(best.up)
        self.report({"INFO"}, localized(filled("Print direction set: {up}; press Check Again to see its steps", up=up)))
        return {"FINISHED"}


def beside(
    context: bpy.types.Context, record: StudyRecord, corners: np.ndarray, suffix: str, *, aside: bool = True
) -> bpy.types.Object:
    """A new object of these triangles on the part's left, or where they are, selected alone. suffix : its name's end"""
    surface, scale = record.study.surface, 1.0 / capture.meters_per_unit(context.scene)
    points, place = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    middle = surface.bounds.mean(axis=0)
    name = f"{record.study.part.name}, {suffix}"
    mesh = meshes.new(name, (points - middle) * scale, place.reshape(-1, 3).astype(np.int32))
    o = bpy.data.objects.new(name, mesh)
    away = surface.bounds[1, 0] - surface.bounds[0, 0] + GAP * surface.size if aside else 0.0
    o.location = (middle - [away, 0.0, 0.0]) * scale + session.shift(context)
    context.scene.collection.objects.link(o)
    bpy.ops.object.select_all(action="DESELECT")
    o.select_set(True)
    context.view_layer.objects.active = o
    return o


CLASSES = (PLATEWRIGHT_OT_inset, PLATEWRIGHT_OT_use_print_direction)
