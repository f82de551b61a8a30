"""Where anode plates fit around the parts: on the sides, near and far, and all around."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh.surface import Surface
from ..settings.tank import Anode, Tank
from ..tank.anodes import facing_axis
from ..tank.arrange import Arrangement
from ..tank.body import STAND_OFF_M, Role
from .pieces import Array

RING_PLATES = 6  # plates all round
TRIED_DISTANCES = (0.4, 1.0)  # of the way from the part to the wall
MAX_CHORD_SHARE = 0.8  # of the distance to a round wall: the farthest that a plate clear of it may stand


@dataclass(frozen=True, eq=False)
class Room:
    """Meters, from the middle of all parts.

    axis : 0 or 1, across the tank; face : where the parts' side is; start, end : nearest and furthest place of a plate
    middle : (3,) in the tank; wide, tall : of a plate; inner, outer : least and largest radius of a ring
    even : whether the tank looks the same from both sides
    """

    axis: int
    face: float
    start: float
    end: float
    middle: Array
    wide: float
    tall: float
    inner: float
    outer: float
    even: bool

    @classmethod
    def of(cls, own: Arrangement, surface: Surface, tank: Tank) -> Room:
        """Round the part and its copies, where they hang."""
        shape = tank.shape
        points = np.vstack([pose.of(surface.points[np.unique(surface.triangles)]) for pose in own.poses])
        low, high = points.min(axis=0), points.max(axis=0)
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        inside = own.inside
        if inside is None:
            inside = np.array([middle - 3.0 * half.max(), middle + 3.0 * half.max()])
        size = (inside[1] - inside[0])[:2]
        axis = facing_axis(size[0], size[1], tank.plates)
        walls = np.minimum(middle - inside[0], inside[1] - middle)[:2]
        rounded = shape in ("cylinder", "mesh")
        end = float(walls[axis]) * (MAX_CHORD_SHARE if rounded else 1.0) - STAND_OFF_M
        radius = float(np.linalg.norm(points[:, :2] - middle[:2], axis=1).max())
        centred = np.allclose(middle[:2], inside.mean(axis=0)[:2], atol=1e-3 * size.max())
        shielded = any(body.role != Role.ANODE and not body.wall for body in own.bodies)
        return cls(
            axis=axis,
            face=float(half[axis]),
            start=float(half[axis]) + max(STAND_OFF_M, 0.1 * float(half.max())),
            end=end,
            middle=middle,
            wide=1.1 * float(np.sqrt(max(walls.min() ** 2 - end**2, 0.0)))
            if rounded
            else min(float(size[1 - axis]) * 2 / 3, 2.0 * (float(walls[1 - axis]) - STAND_OFF_M)),
            tall=2.0 * float(half[2]) or STAND_OFF_M,
            inner=radius + max(STAND_OFF_M, 0.1 * radius),
            outer=0.9 * (float(walls.min()) - STAND_OFF_M),
            even=bool(centred) and shape != "mesh" and not shielded,
        )

    def places(self) -> list[float]:
        """Where plates are tried on a side, or nothing where they have no room."""
        return (
            [self.start + f * (self.end - self.start) for f in TRIED_DISTANCES]
            if self.end > self.start and self.wide > 0
            else []
        )

    def plate(self, way: float, at: float) -> Anode:
        """A plate on one side (+1 or -1), `at` meters from the middle."""
        towards = np.zeros(3)
        towards[self.axis] = -way
        return self._facing(towards, at, self.wide)

    def ring(self) -> tuple[Anode, ...]:
        """Plates all round, or none where there is no room."""
        if self.outer < self.inner:
            return ()
        radius = self.inner + 0.8 * (self.outer - self.inner)
        angles = 2.0 * np.pi * np.arange(RING_PLATES) / RING_PLATES
        wide = 1.6 * radius * float(np.tan(np.pi / RING_PLATES))
        return tuple(self._facing(np.array([-np.cos(a), -np.sin(a), 0.0]), radius, wide) for a in angles)

    def _facing(self, towards: Array, at: float, wide: float) -> Anode:
        x, y, z = (self.middle - at * towards).tolist()
        across, along, upward = towards.tolist()
        return Anode(plate=(wide, self.tall), centre=(x, y, z), normal=(across, along, upward))
