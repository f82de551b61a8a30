"""A way up in the tank, to be drawn: the part turned, the level of the liquid, the wires that hold it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry import attitude
from ..settings.job import Job
from ..units import MM
from .suggestion import Suggestion

WIRE_ABOVE_LIQUID_M = 30 * MM  # of wire drawn above the liquid
ROUND_TANK_CORNERS = 48  # corners of the outline of a round tank


@dataclass(frozen=True, eq=False)
class Pose:
    """A part as it hangs. All in meters, from the middle of the turned part's bounding box, z up.

    points : (v, 3) of the part; size : (3,) of its box
    turn, middle : (3, 3) the rotation from the part's own axes, and (3,) the box's middle after it
    level : (n, 3) corners of the liquid's surface, in order round the tank; n is 0 in an open tank
    contacts : (k, 3) where wires touch it; ends : the height at which they end, see `wire_segments`
    """

    points: NDArray[np.float64]
    size: NDArray[np.float64]
    turn: NDArray[np.float64]
    middle: NDArray[np.float64]
    level: NDArray[np.float64]
    contacts: NDArray[np.float64]
    ends: float


def pose(points: NDArray[np.float64], suggestion: Suggestion, job: Job) -> Pose:
    """The part, its wires and the level as they look in the tank. points : (v, 3) meters, all of them used"""
    turn = rotation(suggestion.euler)
    turned = points @ turn.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    middle = 0.5 * (low + high)
    tank, centre = job.tank, job.place.centre or (0.0, 0.0, job.tank.level / 2)
    level = np.zeros((0, 3))
    if tank.shape != "open":
        level = (
            np.column_stack([_outline(job), np.full(ROUND_TANK_CORNERS if tank.shape == "cylinder" else 4, tank.level)])
            - centre
        )
    top = float(level[0, 2]) if len(level) else float(high[2] - middle[2])
    contacts = np.zeros((0, 3)) if suggestion.hold is None else suggestion.hold.points @ turn.T - middle
    floats = suggestion.hold is not None and suggestion.hold.tether
    ends = float(low[2] - middle[2]) - WIRE_ABOVE_LIQUID_M if floats else top + WIRE_ABOVE_LIQUID_M
    return Pose(turned - middle, high - low, turn, middle, level, contacts, ends)


def wire_segments(contacts: NDArray[np.float64], ends: float) -> NDArray[np.float64]:
    """(k, 2, 3) wires from each contact (k, 3) straight up, out of the liquid; from a floating part's tie down."""
    return np.stack([contacts, np.column_stack([contacts[:, :2], np.full(len(contacts), ends)])], axis=1)


def rotation(euler: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, 3) of XYZ Euler angles in radians: Rz Ry Rx, the reverse of `attitude.euler`."""
    (cx, cy, _), (sx, sy, _) = np.cos(euler), np.sin(euler)
    about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    return attitude.about(euler[2]) @ about_y @ about_x


def _outline(job: Job) -> NDArray[np.float64]:
    """(n, 2) corners of the tank, level; a tank from a mesh is drawn as the box of its sizes."""
    if job.tank.shape == "cylinder":
        angle = 2 * np.pi * np.arange(ROUND_TANK_CORNERS) / ROUND_TANK_CORNERS
        return job.tank.size[0] / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * np.array(job.tank.size[:2]) / 2
