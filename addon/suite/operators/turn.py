"""The operator that rotates the user's own object to the chosen way up."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Matrix

from ...engine.errors import InputError
from ...engine.geometry import attitude
from ...engine.reporting.filled import filled
from ..language import localized
from ..preview import preview_copy
from ..scene import capture, settings, stage
from ..session import session
from .view import as_measured, record_of

CHANNELS = ("location", "rotation_euler", "rotation_quaternion", "rotation_axis_angle", "scale")
MATRIX_TOLERANCE = 1e-4  # largest relative deviation of a matrix from what was set


class PLATEWRIGHT_OT_turn_part(bpy.types.Operator):
    """Rotate your object about its middle, so that it stands in the scene as it will hang, and check it again"""

    bl_idname = "platewright.turn_part"
    bl_label = "Apply Hanging Rotation"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not as_measured(cls, context):
            return False
        chosen = settings.of(context.scene)
        if chosen.part.up[2] > 0 and not any(chosen.part.up[:2]) and not chosen.place.turn:
            cls.poll_message_set(localized("The part stands as it will hang already"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        record, scene = record_of(context), context.scene
        try:
            job = settings.job_of(scene)
            stage.staged(
                context, job, record.study.part, session.shift(context) * record.meters
            )  # cases that measuring would refuse
            held = stage.upright(job)
            middle = held.T @ stage.middle(record.study.part, held) / capture.meters_per_unit(scene) + session.shift(
                context
            )
            _turn(context, attitude.about(job.place.turn) @ held, middle)
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        preview_copy.clear(scene)
        chosen, name = settings.of(scene), record.study.part.name
        chosen.part.up, chosen.place.turn = (0.0, 0.0, 1.0), 0.0
        bpy.ops.platewright.measure()
        self.report({"INFO"}, localized(filled("{name}: hanging rotation applied", name=name)))
        return {"FINISHED"}


def _turn(context: bpy.types.Context, turn: np.ndarray, middle: np.ndarray) -> None:
    """Turn the part's objects about a point. Raises InputError, and leaves them, where one is held fast."""
    to_middle, back = Matrix.Translation(middle.tolist()), Matrix.Translation((-middle).tolist())
    move(context, to_middle @ Matrix(turn.tolist()).to_4x4() @ back)


def move(context: bpy.types.Context, whole: Matrix) -> None:
    """Move the part's objects by a matrix of the scene. Raises InputError, and leaves them, where one is held fast."""
    objects = session.objects(context)
    before = {o: o.matrix_world.copy() for o in objects}
    loose = [o for o in objects if not any(parent in before for parent in _parents(o))]
    own = {o: {name: getattr(o, name)[:] for name in CHANNELS} for o in loose}
    for o in loose:
        o.matrix_world = whole @ before[o]
    context.scene.frame_set(context.scene.frame_current)  # animated objects snap back at once
    fast = [o.name for o in objects if not _alike(o.matrix_world, whole @ before[o])]
    if fast:
        for o in loose:
            for name, value in own[o].items():
                setattr(o, name, value)
        context.view_layer.update()
        raise InputError(
            filled(
                "{fast}: a constraint, driver, animation or uneven scale of a parent holds it; move it by hand",
                fast=fast[0],
            )
        )


def _alike(matrix: Matrix, other: Matrix) -> bool:
    """Equality in single precision, relative to magnitude."""
    a, b = np.array(matrix), np.array(other)
    return bool(np.abs(a - b).max() <= MATRIX_TOLERANCE * max(1.0, float(np.abs(b).max())))


def _parents(o: bpy.types.Object) -> list[bpy.types.Object]:
    parents = []
    while o.parent is not None:
        o = o.parent
        parents.append(o)
    return parents


CLASSES = (PLATEWRIGHT_OT_turn_part,)
