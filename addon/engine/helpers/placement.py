"""The inputs of a hanger: the part in its tank, and what is known of its surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..hanging.fit import LIQUID_MARGIN_M, anode_directions
from ..hanging.result import Hanging
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..settings.job import Job
from ..tank.arrange import Arrangement
from ..tank.body import Pose
from ..units import MM, mm
from .lattice import Array
from .printed import USUAL_WIRE

MIN_CROSSING = 0.5  # cosine between a rod and the normal of the two rods, from which it crosses them


@dataclass(frozen=True, eq=False)
class Places:
    """Data of the study on the part's surface. Points in meters, the part's axes.

    planned : (k, 3) the plan's wires; others : (k, 3) further places for a wire, the likeliest first
    openness : (m,) 0 to 1, None where not known; vents : (k, 3) where gas leaves and bath drains
    wire : m, its diameter
    """

    planned: Array
    others: Array
    openness: Array | None
    vents: Array
    wire: float = USUAL_WIRE


@dataclass(frozen=True, eq=False)
class Placement:
    """The part in its tank. pose : of the part there; hanging : its weight and how it hangs

    rim : z in the tank; inside : (2, 3) box round the liquid, None without one
    """

    surface: Surface
    tracer: Tracer
    job: Job
    pose: Pose
    hanging: Hanging
    places: Places
    rim: float
    inside: Array | None

    def ways(self) -> list[Array]:
        """(2,) level ways along the rod: first between the anodes, as a cathode's rod lies, then toward them."""
        towards = anode_directions(self.job)
        x, y = towards[0] if len(towards) else (0.0, 1.0)
        return list(np.array([[-y, x], [y, -x], [x, y], [-x, -y]]))

    def rod_height(self, along: Array) -> float:
        """m, z on which the rod lies: the rim, or two rods there that it crosses (`hanger.on_rods`)."""
        crosses = self.job.hanger.on_rods and abs(float(along @ self.ways()[0])) > MIN_CROSSING
        return self.rim + (self.job.hanger.rod if crosses else 0.0)


def rim(job: Job, walls: float | None, helper: str = "hanger") -> float:
    """m, the height of the tank's rim, on which rods lie.

    walls : of a tank from a mesh, its highest point; helper : what needs the rim, for the error
    Raises InputError where the tank has none.
    """
    if job.tank.shape == "open":
        raise InputError(
            filled(
                "{what}: {tank.shape} 'open' has no rim for a rod to lie on; give the tank and its size",
                what=helper,
            )
        )
    return float(walls if job.tank.shape == "mesh" and walls is not None else job.tank.size[2])


def check_room(surface: Surface, job: Job, own: Arrangement, helper: str) -> None:
    """Raises InputError, with the tank that would do, where the part is larger than its tank. what : is to be made

    own : the part's copies there, each looked at by itself, and the box round the liquid
    """
    if own.inside is None:
        return
    used = surface.points[np.unique(surface.triangles)]
    size = np.max([np.ptp(pose.of(used), axis=0) for pose in own.poses], axis=0)
    room = np.ptp(own.inside, axis=0)
    if job.tank.shape == "cylinder":
        size[:2] = float(np.hypot(size[0], size[1]))
    if (size <= room).all():
        return
    needed = size + 2 * LIQUID_MARGIN_M
    raise InputError(
        filled(
            "{what}: the part takes {size} as it hangs, the liquid in the tank is {room}; take a tank whose liquid is"
            " at least {needed} ({tank.size_mm}, {tank.level_mm}), or hang it another way ({part.up})",
            what=helper,
            size=_box(size),
            room=_box(room),
            needed=_box(np.ceil(needed / MM - 5e-4) * MM),
        )
    )


def _box(size: Array) -> str:
    x, y, z = (mm(float(side)) for side in size)
    return filled("{x} x {y} x {z} mm", x=x, y=y, z=z)
