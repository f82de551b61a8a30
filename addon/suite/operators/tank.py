"""One click for a tank: a box of lines round the part, and two anodes in it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.reporting.filled import filled
from ...engine.settings.tank import Tank
from ...engine.tank.arrange import arrange
from ...engine.tank.body import Role
from ...engine.tank.vessel import fitted, roomy
from ...engine.units import MM
from ..language import localized
from ..scene import meshes, roles, settings, stage
from ..session import session
from .view import measured, record_of

COPPER = (0.72, 0.36, 0.2, 1.0)
LARGEST = 10.0  # m: no tank of a job is larger


class PLATEWRIGHT_OT_tank(bpy.types.Operator):
    """Add a tank around the part, with two anodes: objects that you can move, scale and replace"""

    bl_idname = "platewright.tank"
    bl_label = "Add Tank"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        tank = roles.tank(context.scene)
        if tank is not None:
            cls.poll_message_set(
                localized(filled("'{name}' is the tank already; delete it to add another", name=tank.name))
            )
            return False
        return measured(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            tank = set_up(context)
        except InputError as fault:
            self.report({"ERROR"}, localized(fault.args[0]))
            return {"CANCELLED"}
        size = " x ".join(f"{length:g}" for length in roles.inside(tank, context.scene).size_mm())
        self.report({"INFO"}, localized(filled("{name}: {size} mm inside, with two anodes", name=tank.name, size=size)))
        return {"FINISHED"}


def set_up(context: bpy.types.Context, exactly: Tank | None = None) -> bpy.types.Object:
    """The tank of the settings, or one as much larger as the part asks for, with its part in the middle of the liquid.

    exactly : the tank to set up in its place, a box or a cylinder
    Returns the tank; its anodes are its children. Raises InputError, with nothing made.
    """
    record, scene = record_of(context), context.scene
    surface = record.study.surface
    if record.moved:
        raise InputError(
            filled("{name}: it has changed since it was checked; press Check Again first", name=surface.name)
        )
    job = settings.job_of(scene)
    upright = stage.upright(job)
    turned = surface.points[np.unique(surface.triangles)] @ upright.T
    alone = fitted(replace(job, place=type(job.place)(turn=job.place.turn)), surface).tank
    tank = exactly or (replace(alone, assumed=False) if alone.assumed else roomy(np.ptp(turned, axis=0), job.tank))
    if max(tank.size) > LARGEST:
        raise InputError(
            filled(
                "{name}: a tank for it would be {size} m long; check the scene's unit and the part's scale",
                name=surface.name,
                size=f"{max(tank.size):.4g}",
            )
        )
    bare = replace(job, tank=tank, anodes=None, shields=(), thieves=(), place=type(job.place)(), rack=type(job.rack)())
    plates = [body for body in arrange(surface, bare).bodies if body.role == Role.ANODE]
    units = 1.0 / record.meters
    centre = upright.T @ stage.middle(record.study.part, upright) * units + session.shift(context)
    origin = centre - upright.T @ np.array([0.0, 0.0, 0.5 * tank.level * units])
    session.choose(context, session.objects(context))  # fixes the part, because the selection changes from here on
    chosen = settings.of(scene).tank
    chosen.shape, chosen.size, chosen.level = tank.shape, [length / MM for length in tank.size], tank.level / MM
    room = bpy.data.collections.new("Tank")
    scene.collection.children.link(room)
    vessel = standing(room, "Tank", *_vessel(np.array(tank.size) * units), roles.TANK)
    vessel.display_type = "WIRE"
    vessel.matrix_world = Matrix.LocRotScale(origin.tolist(), Matrix(upright.T.tolist()), None)
    for i, plate in enumerate(plates):
        middle = plate.points.mean(axis=0)
        anode = standing(room, f"Anode {i + 1}", (plate.points - middle) * units, plate.triangles, roles.ANODE)
        anode.parent, anode.location = vessel, (middle * units).tolist()
        anode.display_type = "WIRE"  # the viewport fills it as translucent copper
    context.view_layer.update()
    return vessel


def standing(
    room: bpy.types.Collection, name: str, points: NDArray[Any], triangles: NDArray[np.int32], role: str
) -> bpy.types.Object:
    """A new object with a role, in scene units."""
    o = bpy.data.objects.new(name, meshes.new(name, points, triangles))
    o.platewright.role, o.color, o.hide_render = role, COPPER, True  # type: ignore[assignment]  # a tuple for a color
    room.objects.link(o)
    return o


def _vessel(size: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Floor and walls of a box, from the middle of its floor, open at the top."""
    x, y = 0.5 * size[:2]
    rim = np.array([[-x, -y, 0.0], [x, -y, 0.0], [x, y, 0.0], [-x, y, 0.0]])
    points = np.vstack([rim, rim + (0.0, 0.0, size[2])])
    sides = [[(i, 4 + i, 4 + (i + 1) % 4), (i, 4 + (i + 1) % 4, (i + 1) % 4)] for i in range(4)]
    return points, np.array([(0, 1, 2), (0, 2, 3), *(triangle for side in sides for triangle in side)], dtype=np.int32)


CLASSES = (PLATEWRIGHT_OT_tank,)
