"""Vents and drains as markers on the part, where holes of their size would empty its pockets and pools."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.reporting import report_vents
from ...engine.reporting.filled import filled, joined
from ...engine.study import Results
from ...engine.trapping.bores import NEGLIGIBLE_VOLUME_M3
from ...engine.trapping.hole import cutters
from ...engine.units import MM
from ..figures import figure
from ..language import localized
from ..scene import meshes, roles, vented, wires
from ..session import StudyRecord, session
from .print import beside
from .view import measured, record_of


def _gas_is_known(cls: Any, context: bpy.types.Context) -> bool:
    """Whether trapped gas and drag-out are those of the part as it is; else why not."""
    if not measured(cls, context):
        return False
    record = record_of(context)
    if record.study.results.gas is None or record.study.results.drainage is None:
        cls.poll_message_set(localized("Trapped gas and drag-out are not calculated yet: press Check Part"))
        return False
    if record.moved or {"gas", "drainage"} & record.stale(context.scene):
        cls.poll_message_set(localized("Trapped gas and drag-out are out of date: press Check Again first"))
        return False
    return True


class PLATEWRIGHT_OT_mark_holes(bpy.types.Operator):
    """Add a marker, as wide as the hole has to be, where a vent or a drain empties the part, and draw its bore"""

    bl_idname = "platewright.mark_holes"
    bl_label = "Add Vent and Drain Markers"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _gas_is_known(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record, objects = record_of(context), session.objects(context)
        for o in [o for o in context.scene.objects if o.get(roles.HOLE) and o.parent in objects]:
            bpy.data.objects.remove(o)
        for o in [o for o in context.scene.objects if o.get(roles.BORE) and o.parent in objects]:
            bpy.data.meshes.remove(o.data)
        holder, count = objects[0], 0
        surface = record.study.surface
        plated = 0.0 if surface is None else float(surface.plated_area.sum())
        for name, place, diameter in _holes(record.study.results, plated):
            o = bpy.data.objects.new(f"{name}, {figure(diameter / MM, 'mm')}", None)
            o[roles.HOLE] = True
            o.empty_display_type, o.empty_display_size = "SPHERE", 0.5 * diameter / record.meters
            o.location = (place / record.meters + session.shift(context)).tolist()
            o.parent, o.matrix_parent_inverse = holder, holder.matrix_world.inverted()
            context.scene.collection.objects.link(o)
            wires.hold(o, holder, along=False)
            count += 1
        _draw_bores(context, record, holder)
        if not count:
            self.report({"INFO"}, localized(filled("{name}: no holes needed", name=record.study.part.name)))
        else:
            self.report(
                {"INFO"},
                localized(filled("{made} {holes} marked", made=count, holes="hole" if count == 1 else "holes")),
            )
        return {"FINISHED"}


def _draw_bores(context: bpy.types.Context, record: StudyRecord, holder: bpy.types.Object) -> None:
    """Each hole that Make Copy with Vents and Drains would cut, as a wireframe that is neither rendered nor plated."""
    for hole in vented.planned(record.study).holes:
        points, triangles = cutters((hole,))
        name = f"{hole.kind.value.title()} bore, {figure(hole.diameter / MM, 'mm')}"
        o = bpy.data.objects.new(name, meshes.new(name, points / record.meters, triangles))
        o[roles.BORE] = True
        o.display_type, o.hide_render, o.hide_select, o.show_in_front = "WIRE", True, True, True
        o.location = session.shift(context).tolist()
        o.parent, o.matrix_parent_inverse = holder, holder.matrix_world.inverted()
        context.scene.collection.objects.link(o)


def _holes(results: Results, plated: float) -> Iterator[tuple[str, NDArray[np.float64], float]]:
    """Name, place in meters and diameter of each that pays. plated : m2"""
    for pocket in results.gas.pockets:
        if pocket.hole is None or not pocket.worth_a_hole(plated):
            continue
        for place in (pocket.vent, *pocket.more_vents):
            yield "Vent", place, pocket.vent_diameter
    for pool in results.drainage.pools:
        if pool.hole is None or pool.volume < NEGLIGIBLE_VOLUME_M3:
            continue
        for place in (pool.drain, *pool.more_drains):
            yield "Drain", place, pool.drain_diameter


class PLATEWRIGHT_OT_cut_holes(bpy.types.Operator):
    """Make a copy with vents and drains cut, for the hanging position in use, and say what it gains"""

    bl_idname = "platewright.cut_holes"
    bl_label = "Make Copy with Vents and Drains"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _gas_is_known(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        try:
            cut = vented.made(record.study)
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        if cut is None:
            self.report(
                {"INFO"},
                localized(
                    filled("{name}: no holes needed, or none that a straight bore can be", name=record.study.part.name)
                ),
            )
            return {"CANCELLED"}
        copy = beside(context, record, cut.points[cut.triangles], "vented")
        sentence = joined(report_vents.summary_lines(record.study, cut), "; ")
        self.report({"INFO"}, localized(filled("{name}: {told}", name=copy.name, told=sentence)))
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_mark_holes, PLATEWRIGHT_OT_cut_holes)
