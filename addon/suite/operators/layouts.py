"""Operators for evenness: apply a trial layout to the scene."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.field.trials import Trial
from ...engine.reporting import layout_text
from ...engine.reporting.filled import capital, filled, joined
from ...engine.settings.tank import Anode
from ...engine.tank.body import Role, plate
from ...engine.units import A_PER_DM2
from ..language import localized
from ..scene import roles, settings, stage
from ..scene.capture import meters_per_unit
from ..scene.roles import Inside
from ..session import StudyRecord, session
from . import tank as operators_tank
from .view import has_result, measured, record_of

LAYOUT_MARK = "platewright_tried"  # marks anodes of an applied layout: the next layout replaces them


# Whether anodes were placed, whether some of the user's were hidden -> the message
APPLIED = {
    (False, False): "{layout}: applied; calculate the thickness to see it",
    (True, False): "{layout}: applied, {count} anodes placed; calculate the thickness to see it",
    (
        True,
        True,
    ): "{layout}: applied, {count} anodes placed, {hidden} of yours hidden; calculate the thickness to see it",
}


class PLATEWRIGHT_OT_take_layout(bpy.types.Operator):
    """Apply this layout: current density, rotation at half time and anodes. Your own anodes are hidden, not deleted"""

    bl_idname = "platewright.take_layout"
    bl_label = "Apply Layout"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(name="Number", description="Which row, from 0", min=0, options={"HIDDEN"})

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        record = session.find(context)
        layouts = record.study.results.layouts if record is not None else None
        if layouts is None or properties.number >= len(layouts.trials):
            return cls.__doc__ or ""
        trial = layouts.trials[properties.number]
        sentence = filled("{layout}: {why}.", layout=capital(layout_text.name(trial)), why=layout_text.why(trial))
        return localized(joined([sentence, cls.__doc__ or ""]))

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return measured(cls, context) and has_result(cls, context, "layouts", localized("Try layouts first"))

    def execute(self, context: bpy.types.Context) -> set[str]:
        record = record_of(context)
        trials = record.study.results.layouts.trials
        trial = trials[min(self.number, len(trials) - 1)]
        try:
            if record.moved:
                raise InputError(
                    filled(
                        "{name}: it has changed since it was checked; press Check Again first",
                        name=record.study.part.name,
                    )
                )
            placed, hidden = take(context, record, trial)
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        self.report(
            {"INFO"},
            localized(
                filled(
                    APPLIED[placed > 0, hidden > 0],
                    layout=capital(layout_text.name(trial)),
                    count=placed,
                    hidden=hidden,
                )
            ),
        )
        return {"FINISHED"}


def take(context: bpy.types.Context, record: StudyRecord, trial: Trial) -> tuple[int, int]:
    """Set the scene to a trial. Returns the anodes that were placed, and those of the user's that were hidden.

    Raises InputError, with nothing changed.
    """
    scene = context.scene
    if trial.layout.anodes is not None:
        frame = _frame(context, record)
        before = [o for o in roles.every(scene, roles.ANODE) if not o.get(LAYOUT_MARK)]
        for o in [o for o in scene.objects if o.get(LAYOUT_MARK)]:
            bpy.data.objects.remove(o)
        for o in before:
            o.hide_set(True)
        for number, anode in enumerate(trial.layout.anodes, 1):
            _stand(context, f"Plate {number}", anode, frame)
    for o in roles.every(scene, roles.SHIELD, roles.THIEF):
        if o.name in trial.layout.without:
            o.hide_set(True)
    chosen = settings.of(scene)
    chosen.target.density, chosen.place.half_turn = trial.density / A_PER_DM2, trial.layout.half_turn
    context.view_layer.update()
    if trial.layout.anodes is None:
        return 0, 0
    return len(trial.layout.anodes), len(before)


def _frame(context: bpy.types.Context, record: StudyRecord) -> Inside:
    """The axes of the trials' tank; if it has no object yet, one is made around the part."""
    scene, job = context.scene, record.study.job
    if roles.tank(scene) is None and job.tank.shape != "open":
        tank = operators_tank.set_up(context, job.tank)
        for o in [o for o in tank.children if roles.of(o) == roles.ANODE]:
            bpy.data.objects.remove(o)
        return roles.inside(tank, scene)
    frame = stage.axes(scene, job)
    if job.tank.shape != "open" or roles.every(scene, roles.ANODE):
        return frame
    held = stage.upright(job)  # no tank: the trials were centered on the part
    middle = held.T @ stage.middle(record.study.part, held) + session.shift(context) * record.meters
    return Inside(frame.turn, middle, frame.size)


def _stand(context: bpy.types.Context, name: str, anode: Anode, frame: Inside) -> None:
    """A plate of a trial as an object of the scene, the tank's child where there is one."""
    assert anode.plate is not None and anode.centre is not None and anode.normal is not None
    scene, units = context.scene, 1.0 / meters_per_unit(context.scene)
    centre = np.array(anode.centre)
    body = plate(name, Role.ANODE, centre, np.array(anode.normal), *anode.plate)
    tank = roles.tank(scene)
    room = tank.users_collection[0] if tank is not None and tank.users_collection else scene.collection
    made = operators_tank.standing(room, name, (body.points - centre) * units, body.triangles, roles.ANODE)
    made[LAYOUT_MARK] = True
    made.matrix_world = _matrix(frame, centre, units)
    if tank is not None:
        made.parent, made.matrix_parent_inverse = tank, tank.matrix_world.inverted()


def _matrix(frame: Inside, at: NDArray[np.float64], units: float) -> Matrix:
    """From a place in the tank to the scene."""
    turn = frame.turn.T
    return Matrix.LocRotScale(((turn @ at + frame.origin) * units).tolist(), Matrix(turn.tolist()), None)


CLASSES = (PLATEWRIGHT_OT_take_layout,)
