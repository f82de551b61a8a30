"""From the objects around the part to the job: tank, anodes, shields, thieves, place and wires.

Tank coordinates are the tank's own axes, from the middle of its floor. Where its height is the part's way up,
the part hangs in it as it stands in the scene; else it is turned to its way up about its middle.
"""

from __future__ import annotations

from dataclasses import replace

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.geometry.attitude import turn_up
from ...engine.geometry.frames import unit
from ...engine.mesh.part import Part
from ...engine.reporting.filled import filled
from ...engine.settings.job import Job
from ...engine.settings.part import Wire
from ...engine.settings.tank import Anode, Body, Place
from ...engine.units import MM
from . import capture, racks, roles
from .racks import DIGITS, UPRIGHT
from .roles import Inside


def staged(
    context: bpy.types.Context, job: Job, part: Part, carried: NDArray[np.float64]
) -> tuple[Job, dict[str, Part]]:
    """The job with what stands round the part, and the bodies that it names.

    carried : (3,) meters by which the part has moved since it was captured.
    Raises InputError naming the object that cannot serve.
    """
    scene = context.scene
    wires = roles.every(scene, roles.WIRE)
    if wires:
        job = replace(job, wires=tuple(_wire(o, scene, carried) for o in wires))
    tanks = roles.every(scene, roles.TANK)
    others = roles.every(scene, roles.ANODE, roles.SHIELD, roles.THIEF)
    standing = [*others, *roles.every(scene, roles.RACKED)]
    if len(tanks) > 1:
        raise InputError(
            filled(
                "{name} and {name_2} both are the tank; set the Role in Tank of one of them to None",
                name=tanks[0].name,
                name_2=tanks[1].name,
            )
        )
    if not tanks and not standing:
        return job, {}
    if not tanks and job.tank.shape != "open":
        raise InputError(
            filled(
                "{name}: there is no tank for it to stand in; press Add Tank, or set the tank to Open",
                name=standing[0].name,
            )
        )
    stands = axes(scene, job)
    hung = place(job, part, carried, stands)
    depsgraph, meters = context.evaluated_depsgraph_get(), capture.meters_per_unit(scene)
    solid = [*others, *(tanks if job.tank.shape == "mesh" else ())]
    bodies = {o.name: in_tank(capture.body(o, depsgraph, meters), stands) for o in solid}
    named = {kind: [o.name for o in others if roles.of(o) == kind] for kind in (roles.ANODE, roles.SHIELD, roles.THIEF)}
    return replace(
        job,
        tank=replace(job.tank, file=tanks[0].name if tanks and job.tank.shape == "mesh" else ""),
        anodes=tuple(Anode(file=name, name=name, centre=_centre(bodies[name])) for name in named[roles.ANODE]),
        shields=tuple(Body(name, name) for name in named[roles.SHIELD]),
        thieves=tuple(Body(name, name) for name in named[roles.THIEF]),
        place=hung,
        rack=racks.rack(scene, job.rack, hung, _middle(job, part, carried), upright(job), stands),
    ), bodies


def axes(scene: bpy.types.Scene, job: Job) -> Inside:
    """The axes of the tank in the scene; without a tank, in unbounded liquid, the scene's axes with the way up as
    height."""
    tank = roles.tank(scene)
    return roles.inside(tank, scene) if tank is not None else Inside(upright(job), np.zeros(3), np.zeros(3))


def place(job: Job, part: Part, carried: NDArray[np.float64], frame: Inside) -> Place:
    """Where the part hangs, in tank coordinates; turned as the job says, or else as it stands in the scene."""
    held = upright(job)
    x, y, z = np.round(frame.of(_middle(job, part, carried)), DIGITS).tolist()
    turned = frame.turn @ held.T
    angle = float(np.round(np.arctan2(turned[1, 0], turned[0, 0]), DIGITS)) if turned[2, 2] > UPRIGHT else 0.0
    return replace(job.place, centre=(x, y, z), turn=job.place.turn or angle)


def _middle(job: Job, part: Part, carried: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3,) meters, where the middle of the part is in the scene now."""
    held = upright(job)
    return held.T @ middle(part, held) + carried


def stands_upright(job: Job, frame: Inside) -> bool:
    """Whether the part hangs in the tank as it stands in the scene."""
    return bool((frame.turn @ upright(job).T)[2, 2] > UPRIGHT)


def middle(part: Part, turn: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3,) of the part's bounding box after a turn."""
    turned = part.points[np.unique(part.triangles)] @ turn.T
    return 0.5 * (turned.min(axis=0) + turned.max(axis=0))


def upright(job: Job) -> NDArray[np.float64]:
    """(3, 3) the turn that brings the part's way up to the tank's height."""
    return turn_up(unit(job.part.up))


def in_tank(body: Part, frame: Inside) -> Part:
    """A body in the tank's coordinates, rounded."""
    return replace(body, points=np.round(frame.of(body.points), DIGITS))


def _centre(body: Part) -> tuple[float, float, float]:
    x, y, z = (0.5 * (body.points.min(axis=0) + body.points.max(axis=0))).tolist()
    return x, y, z


def _wire(o: bpy.types.Object, scene: bpy.types.Scene, carried: NDArray[np.float64]) -> Wire:
    stands = np.array(o.matrix_world.translation) * capture.meters_per_unit(scene) - carried
    x, y, z = np.round(stands, DIGITS).tolist()
    return Wire((x, y, z), float(f"{o.platewright.pad:.7g}") * MM, o.name)
