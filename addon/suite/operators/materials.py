"""Materials for the user's own scene, which follow what was calculated."""

from __future__ import annotations

import bpy

from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ...engine.sheet import finish
from ...engine.units import UM
from ..draw import materials
from ..language import localized
from ..scene import settings
from ..session import session


class PLATEWRIGHT_OT_materials(bpy.types.Operator):
    """Add materials and node groups that follow the calculation, as assets: metal in three finishes, and the map"""

    bl_idname = "platewright.materials"
    bl_label = "Add Materials"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = session.find(context)
        try:
            job = settings.job_of(context.scene) if record is None else record.study.job_used
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        shown = (0.0, 2 * job.target.thickness)
        if record is not None and record.study.results.field is not None:
            shown = finish.map_limits(record.study)
        added = materials.add(job.bath.metal, job.coat.name, *(end / UM for end in shown))
        self.report(
            {"INFO"}, localized(filled("{count} assets are in this file: see the Asset Browser", count=len(added)))
        )
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_materials,)
