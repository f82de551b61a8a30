"""Vents and drains as markers on the part, where holes of their size would empty its pockets and pools."""

from __future__ import annotations

from collections.abc import Iterator

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.study import Results
from ...engine.trapping.bores import TRIFLE_VOLUME_M3
from ...engine.units import MM
from ..figures import figure
from ..session import session
from .view import kept_of, measured

HOLE = "platewright_hole"  # on a marker of ours: the next ones replace it


class PLATEWRIGHT_OT_mark_holes(bpy.types.Operator):
    """Add a round marker, as wide as the hole has to be, wherever a vent or a drain empties the part"""

    bl_idname = "platewright.mark_holes"
    bl_label = "Add Vent and Drain Markers"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not measured(cls, context):
            return False
        kept = kept_of(context)
        if kept.study.results.gas is None or kept.study.results.drainage is None:
            cls.poll_message_set("Trapped gas and drag-out are not calculated yet: press Check Part")
            return False
        if kept.moved or {"gas", "drainage"} & kept.stale(context.scene):
            cls.poll_message_set("Trapped gas and drag-out are out of date: press Check Again first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        kept, found = kept_of(context), session.objects(context)
        for o in [o for o in context.scene.objects if o.get(HOLE) and o.parent in found]:
            bpy.data.objects.remove(o)
        holder, made = found[0], 0
        surface = kept.study.surface
        plated = 0.0 if surface is None else float(surface.plated_area.sum())
        for name, place, diameter in _holes(kept.study.results, plated):
            o = bpy.data.objects.new(f"{name}, {figure(diameter / MM, 'mm')}", None)
            o[HOLE] = True
            o.empty_display_type, o.empty_display_size = "SPHERE", 0.5 * diameter / kept.meters
            o.location = (place / kept.meters + session.shift(context)).tolist()
            o.parent, o.matrix_parent_inverse = holder, holder.matrix_world.inverted()
            context.scene.collection.objects.link(o)
            made += 1
        if not made:
            self.report({"INFO"}, f"{kept.study.part.name}: no holes needed")
        else:
            self.report({"INFO"}, f"{made} {'hole' if made == 1 else 'holes'} marked")
        return {"FINISHED"}


def _holes(results: Results, plated: float) -> Iterator[tuple[str, NDArray[np.float64], float]]:
    """Name, place in meters and diameter of each that pays. plated : m2"""
    for pocket in results.gas.pockets:
        if not pocket.bores or not pocket.worth_a_hole(plated):
            continue
        for place in (pocket.vent, *pocket.more_vents):
            yield "Vent", place, pocket.vent_diameter
    for pool in results.drainage.pools:
        if not pool.bores or pool.volume < TRIFLE_VOLUME_M3:
            continue
        for place in (pool.drain, *pool.more_drains):
            yield "Drain", place, pool.drain_diameter


CLASSES = (PLATEWRIGHT_OT_mark_holes,)
