"""Bodies in the tank: electrodes and insulators as triangles in tank coordinates, cut at the level."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..geometry.clip import lone_corner
from ..geometry.frames import basis
from ..units import MM

Array = NDArray[np.float64]

STAND_OFF_M = 5 * MM  # a plate on its hanger from the wall behind it: common practice, no source


class Role(IntEnum):
    """The electrical role of a surface: cathode, anode or insulator."""

    PART = 0
    THIEF = 1
    ANODE = 2
    INSULATOR = 3


@dataclass(frozen=True, eq=False)
class Body:
    """A surface in the tank.

    points : (v, 3) meters, tank coordinates; triangles : (m, 3), their normals into the liquid
    sheet : whether the liquid touches both sides of it; wall : whether it is the tank itself
    """

    name: str
    role: Role
    points: Array
    triangles: NDArray[np.int32]
    sheet: bool = False
    wall: bool = False

    @property
    def corners(self) -> Array:
        """(m, 3, 3) meters, of the triangles."""
        return self.points[self.triangles]

    @property
    def bounds(self) -> Array:
        """(2, 3) meters, of the used points."""
        used = self.points[np.unique(self.triangles)]
        return np.array([used.min(axis=0), used.max(axis=0)])


@dataclass(frozen=True, eq=False)
class Pose:
    """Where a copy of the part hangs: tank = turn @ model + shift; middle : of its bounding box, in the
    tank.
    """

    name: str
    turn: Array
    shift: Array
    middle: Array

    def of(self, points: Array) -> Array:
        """Model points (..., 3) in tank coordinates."""
        return points @ self.turn.T + self.shift


def plate(name: str, role: Role, centre: Array, normal: Array, width: float, height: float) -> Body:
    """A flat plate in the liquid, its height as upright as its normal allows. Meters."""
    normal = normal / np.linalg.norm(normal)
    across = np.cross([0.0, 0.0, 1.0], normal)
    across = basis(normal)[0] if np.linalg.norm(across) < 1e-9 else across / np.linalg.norm(across)
    up = np.cross(normal, across)
    corners = [centre + 0.5 * (a * width * across + b * height * up) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    return Body(name, role, np.array(corners), np.array([[0, 1, 2], [0, 2, 3]], np.int32), sheet=True)


def clipped(body: Body, level: float) -> Body:
    """The part of a body below a level, m: its triangles are cut there."""
    height = body.points[:, 2] - level
    height[np.abs(height) < 1e-9 * max(abs(level), 1e-3)] = 0.0
    if height.max() < 0.0:
        return body
    above = height[body.triangles] > 0
    count = above.sum(axis=1)
    inside = body.triangles[count == 0]
    inside = inside[(height[inside] < 0).any(axis=1)]
    cut = body.triangles[(count == 1) | (count == 2)]
    odd, one_above = lone_corner(above[(count == 1) | (count == 2)])
    tip, left, right = (cut[np.arange(len(cut)), (odd + k) % 3].astype(np.int64) for k in range(3))
    ends = np.sort(np.stack([np.append(tip, tip), np.append(left, right)], axis=1), axis=1)
    edges, place = np.unique(ends, axis=0, return_inverse=True)
    a, b = edges.T
    along = (height[a] / (height[a] - height[b]))[:, None]
    points = np.vstack([body.points, body.points[a] + along * (body.points[b] - body.points[a])])
    first, second = len(body.points) + place.reshape(2, -1)
    i, j = np.flatnonzero(one_above), np.flatnonzero(~one_above)
    below = [
        np.stack([first[i], left[i], right[i]], axis=1),
        np.stack([first[i], right[i], second[i]], axis=1),
        np.stack([tip[j], first[j], second[j]], axis=1),
    ]
    triangles = np.vstack([inside, *below]).astype(np.int32)
    # a corner exactly on the level is its own cut point
    same = np.arange(len(points))
    same[len(body.points) :] = np.where(height[a] == 0, a, np.where(height[b] == 0, b, same[len(body.points) :]))
    triangles = same[triangles].astype(np.int32)
    return replace(body, points=points, triangles=triangles[(triangles != triangles[:, [1, 2, 0]]).all(axis=1)])
