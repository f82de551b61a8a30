"""What stands in the tank: the part and its copies, anodes, thieves, shields and walls, in tank coordinates.

Tank coordinates: x and y from the middle of the tank, z up from its floor. A box's walls, its floor and the
free surface of the liquid need no surface here: the field solver mirrors them. A cylinder and a mesh bring
their walls as a body and have the free surface mirrored.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..geometry.attitude import turn_up
from ..geometry.frames import unit
from ..geometry.solid_angle import winding
from ..mesh import inspection
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import run_to_end
from ..settings.job import Job
from ..settings.tank import Anode, Rack, Tank
from ..units import in_mm
from .anodes import plates, thief_area
from .body import Array, Body, Pose, Role, clipped, plate
from .walls import model_of, walls_of

ASSUMED_PLATES = (
    "no anode is given: two plates are assumed, one on each of two sides of the tank, as tall as the part and as wide"
    " as the bath's ratio of anode to cathode asks"
)
HALF_TURN = np.diag([-1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False)
class Arrangement:
    """The bodies in the tank.

    poses : the part's copies, the first being the one whose faces are colored
    bodies : everything else, walls last
    box : (2, 3) corners of the liquid in a box, whose six sides insulate; None otherwise
    surface : height of a free surface over a cylinder or mesh; None otherwise
    inside : (2, 3) box round the liquid; None where it has no end
    notes : sentences: what was assumed
    """

    poses: tuple[Pose, ...]
    bodies: tuple[Body, ...]
    box: Array | None
    surface: float | None
    inside: Array | None
    notes: tuple[str, ...] = ()


def arrange(
    surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None, rack: Rack | None = None
) -> Arrangement:
    """Place all bodies as the job specifies; `clearance.check` tests whether they fit.

    meshes : the models that the job names by file (tank, anodes, shields, thieves), in meters and tank
    coordinates; rack : copies in place of the job's own. Raises InputError where a model is missing or a tank has no
    sense.
    """
    loaded = {name: run_to_end(inspection.inspect(part, sheet_sides=2)) for name, part in (meshes or {}).items()}
    if not job.bath.conductivity > 0:
        raise InputError(
            filled("{bath.conductivity_S_m}: the bath must conduct; measure it, or take the table's value")
        )
    if job.tank.shape == "box" and job.tank.level > job.tank.size[2] * (1 + 1e-9):
        raise InputError(
            filled(
                "{tank.level_mm}: {level} of liquid is more than the tank's depth of {depth}",
                level=in_mm(job.tank.level),
                depth=in_mm(job.tank.size[2]),
            )
        )
    walls = walls_of(job.tank, loaded)
    level = None if job.tank.shape == "open" else job.tank.level
    inside = _inside(job.tank, walls)
    poses = _poses(surface, job, rack or job.rack, inside)
    notes: list[str] = []
    bodies = _standing(surface, job, poses, inside, loaded, level)
    if job.anodes is None:
        notes.append(ASSUMED_PLATES)
    _check_wet(bodies, job.tank)
    if walls is not None:
        bodies.append(walls)
    box = inside if job.tank.shape == "box" else None
    return Arrangement(
        tuple(poses),
        tuple(bodies),
        box,
        None if walls is None else level,
        None if level is None else inside,
        tuple(notes),
    )


def _standing(
    surface: Surface, job: Job, poses: list[Pose], inside: Array, loaded: Mapping[str, Surface], level: float | None
) -> list[Body]:
    """Anodes, thieves and shields, in that order, cut at the level (m); None: no level. Raises InputError without an
    anode."""
    if job.anodes == ():
        raise InputError(
            "there is no anode in the tank, so no current flows: add one, or let a body in it serve as anode"
        )
    probe = poses[0].of(surface.points[surface.triangles[:1, 0]])

    def cut(body: Body) -> Body:
        return body if level is None else clipped(body, level)

    kinds = ((Role.THIEF, job.thieves, "thief {number}"), (Role.INSULATOR, job.shields, "shield {number}"))
    others = [
        cut(_solid(body.name or filled(name, number=i + 1), role, body.file, loaded, probe))
        for role, bodies, name in kinds
        for i, body in enumerate(bodies)
    ]
    anodes = plates(surface, poses, job, inside, thief_area(others)) if job.anodes is None else job.anodes
    names = [anode.name or filled("anode {number}", number=i + 1) for i, anode in enumerate(anodes)]
    stand = [cut(_anode(anode, name, loaded, probe)) for anode, name in zip(anodes, names, strict=True)]
    return [*stand, *others]


def _check_wet(bodies: Sequence[Body], tank: Tank) -> None:
    """Raises InputError where a body has nothing left below the level."""
    for body in bodies:
        if not len(body.triangles):
            above = "{name}: it hangs wholly above the liquid ({level} deep); lower it"
            raise InputError(filled(above, name=body.name, level=in_mm(tank.level)))


def turned_by_half(arrangement: Arrangement) -> Arrangement:
    """The arrangement with every copy of the part turned by 180 degrees about the vertical through its middle."""
    poses = tuple(
        Pose(pose.name, HALF_TURN @ pose.turn, pose.middle + HALF_TURN @ (pose.shift - pose.middle), pose.middle)
        for pose in arrangement.poses
    )
    return replace(arrangement, poses=poses)


def _inside(tank: Tank, walls: Body | None) -> Array:
    """(2, 3) box round the liquid; of an open tank, nothing but its middle."""
    if walls is not None:
        return walls.bounds
    if tank.shape == "open":
        return np.zeros((2, 3))
    length, width, _ = tank.size
    return np.array([[-length / 2, -width / 2, 0.0], [length / 2, width / 2, tank.level]])


def _poses(surface: Surface, job: Job, rack: Rack, inside: Array) -> list[Pose]:
    upright = turn_up(unit(job.part.up))
    turned = surface.points[np.unique(surface.triangles)] @ upright.T
    middle = 0.5 * (turned.min(axis=0) + turned.max(axis=0))
    centre = inside.mean(axis=0) if job.place.centre is None else np.array(job.place.centre)
    positions = rack.positions or (tuple(centre),)
    turns = rack.turns or (job.place.turn,) * len(positions)
    poses = []
    for i, (position, angle) in enumerate(zip(positions, turns, strict=True)):
        c, s = np.cos(angle), np.sin(angle)
        about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        name = (
            surface.name if len(positions) == 1 else filled("copy {number} of {name}", number=i + 1, name=surface.name)
        )
        poses.append(Pose(name, about @ upright, np.array(position) - about @ middle, np.array(position)))
    return poses


def _anode(anode: Anode, name: str, loaded: Mapping[str, Surface], probe: Array) -> Body:
    if anode.file:
        return _solid(name, Role.ANODE, anode.file, loaded, probe)
    return flat_anode(anode, name)


def flat_anode(anode: Anode, name: str) -> Body:
    """The plate of an anode without a file. Raises InputError where its size, its place or its direction is missing."""
    if anode.plate is None or anode.centre is None:
        raise InputError(filled("{name}: give plate_mm and centre_mm, or the file of its mesh", name=name))
    towards = np.array(anode.normal if anode.normal is not None else (0.0, 1.0, 0.0), dtype=float)
    if not towards.any():
        raise InputError(
            filled("{name}: normal: [0, 0, 0] points nowhere; give a direction, e.g. [0, -1, 0]", name=name)
        )
    return plate(name, Role.ANODE, np.array(anode.centre), towards, *anode.plate)


def _solid(name: str, role: Role, file: str, loaded: Mapping[str, Surface], probe: Array) -> Body:
    """A body from its model: closed ones turned into the liquid, open ones taken as sheets."""
    model = model_of(name, file, loaded)
    triangles = model.triangles[model.wetted]
    if not len(triangles):
        raise InputError(
            filled("{name}: {path}: the model has no surface that the liquid could touch", name=name, path=file)
        )
    body = Body(name, role, model.points, triangles, sheet=bool((model.sides[model.wetted] > 1).any()))
    if body.sheet and role == Role.INSULATOR:
        raise InputError(
            filled(
                "{name}: {path}: a shield needs a thickness, but this mesh is open; make it a closed body",
                name=name,
                path=file,
            )
        )
    if not body.sheet and winding(probe, body.corners)[0] > 0.5:  # it encloses the part
        return replace(body, triangles=triangles[:, ::-1].copy())
    return body
