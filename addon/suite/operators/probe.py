"""The probe: point at a face and read what the deposit will be there."""

from __future__ import annotations

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.field.result import Field, Flag
from ...engine.reporting.filled import filled, joined
from ...engine.units import A_PER_DM2, UM
from ..draw.maps import KINDS
from ..figures import figure
from ..language import localized
from ..session import StudyRecord
from .pick import Pointing
from .view import has_result, measured


def reading(field: Field, face: int) -> str:
    """Thickness, current density and quality of the deposit on one face: "31.2 um, 2.08 A/dm2, good"."""
    flag = Flag(int(field.flag[face]))
    if flag == Flag.UNPLATED:
        return "not plated"
    thickness, density = field.thickness[face] / UM, field.density[face] / A_PER_DM2
    return joined([figure(float(thickness), "um"), figure(float(density), "A/dm2"), KINDS[flag][0]], ", ")


class PLATEWRIGHT_OT_probe(Pointing, bpy.types.Operator):
    """Point at the part to read thickness and current density. Click to note them in the log. Press Esc to end"""

    bl_idname = "platewright.probe"
    bl_label = "Probe Thickness"
    bl_options = {"REGISTER"}
    help = "Click: note the reading.  Esc: end"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context, any_mode=True) and has_result(
            cls, context, "field", localized("Calculate the thickness first")
        )

    def words(self, record: StudyRecord, face: int) -> str:
        context = bpy.context
        old = "field" in record.stale(context.scene) and not record.quick(context.scene)
        sentence = reading(record.study.results.field, face)
        return filled("Out of date: {why}", why=sentence) if old else sentence

    def clicked(
        self, context: bpy.types.Context, record: StudyRecord, face: int, point: NDArray[np.float64]
    ) -> set[str]:
        self.report(
            {"INFO"}, localized(filled("{name}: {kept}", name=record.study.part.name, kept=self.words(record, face)))
        )
        return {"RUNNING_MODAL"}


CLASSES = (PLATEWRIGHT_OT_probe,)
