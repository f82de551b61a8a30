"""Whether a part fits the tank in a given attitude, and how to turn it about the vertical."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..job import Tank
from ..units import MM
from . import attitude

MARGIN = 15 * MM  # liquid on every side of the part: common practice, no source
YAWS = np.radians(np.arange(0, 180, 7.5))


@dataclass(frozen=True)
class Fit:
    """How a part sits in the tank.

    fits : whether there is a turn about the vertical with liquid on every side
    yaw : radians about the vertical, after `attitude.turn_up`, that leaves most room
    slack : m to spare on the tightest side, margin already taken off; negative: too large by that much
    """

    fits: bool
    yaw: float
    slack: float


def support(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, 3) the points that are furthest out in some direction: enough for every extent to 0.2 %."""
    directions = attitude.sphere(800)
    furthest = [np.argmax(points @ block.T, axis=0) for block in np.array_split(directions, 20)]
    return points[np.unique(np.concatenate(furthest))]


def fit(hull: NDArray[np.float64], up: NDArray[np.float64], tank: Tank, prefer: float | None = None) -> Fit:
    """Fit of the points of `support` with the model direction `up` upright.

    prefer : yaw (radians) that is taken wherever it fits, such as the one that turns show faces to an anode.
    """
    turned = hull @ attitude.turn_up(up).T
    height = np.ptp(turned[:, 2])
    if tank.shape == "open":
        return Fit(True, prefer or 0.0, np.inf)
    tall = tank.level - 2 * MARGIN - height
    if tank.shape == "cylinder":
        middle = (turned[:, :2].min(axis=0) + turned[:, :2].max(axis=0)) / 2
        radius = np.linalg.norm(turned[:, :2] - middle, axis=1).max()
        slack = min(tall, tank.size[0] / 2 - MARGIN - radius)
        return Fit(slack >= 0, prefer or 0.0, float(slack))
    yaws = YAWS if prefer is None else np.concatenate([[prefer], YAWS])
    across = turned[:, :2] @ np.stack([[np.cos(yaws), -np.sin(yaws)], [np.sin(yaws), np.cos(yaws)]])
    wide = np.ptp(across, axis=1)  # (2, yaws): along the tank's length and its width
    room = np.minimum(tank.size[0] - 2 * MARGIN - wide[0], tank.size[1] - 2 * MARGIN - wide[1])
    best = 0 if prefer is not None and room[0] >= 0 else int(np.argmax(room))
    slack = min(float(room[best]), float(tall))
    return Fit(slack >= 0, float(yaws[best]), slack)
