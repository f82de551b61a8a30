"""Whether a part fits the tank in a given attitude, and how to turn it about the vertical."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..geometry import attitude
from ..linalg.blas import one_thread
from ..mesh.surface import Surface
from ..settings.job import Job
from ..settings.tank import Tank
from ..tank.anodes import facing_axis
from ..units import MM

LIQUID_MARGIN_M = 15 * MM  # liquid on every side of the part: common practice, no source
BEARING_BINS = 72  # bearings and yaws at which show faces are looked at
TRIED_YAWS_RAD = np.radians(np.arange(0, 180, 7.5))
MIN_BATH_SAVED_SHARE = 0.05  # of the bath's volume: saving that turns a part in a tank still to be chosen
EXTENT_ALLOWANCE = 1.002  # margin for what `extreme_points` may miss of an extent

Volume: TypeAlias = Callable[[NDArray[np.float64]], float]


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


def extreme_points(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, 3) the points that are furthest out in some direction: enough for every extent to 0.2 %."""
    directions = attitude.sphere(800)
    across = np.ascontiguousarray(points.T)
    with one_thread():
        furthest = [np.argmax(block @ across, axis=1) for block in np.array_split(directions, 80)]
    return points[np.unique(np.concatenate(furthest))]


def anode_directions(job: Job, inside: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
    """(k, 2) unit level directions, tank axes, from the part to each anode whose place the job tells.

    If the job gives no anodes: both ways across the tank, where the two default plates stand. k is
    0 where a plate hangs right over or under the part, and for anodes from files.
    inside : (2, 3) meters, the box round the liquid; None: as the job's tank is measured
    """
    middle = np.array((job.place.centre or (0.0, 0.0, 0.0))[:2])
    if job.anodes is None:
        size = job.tank.size if inside is None else np.ptp(inside, axis=0)
        across = 1 if job.tank.shape == "open" else facing_axis(size[0], size[1], job.tank.plates)
        return np.eye(2)[[across, across]] * [[1.0], [-1.0]]
    away = np.array([anode.centre[:2] for anode in job.anodes if anode.centre is not None]).reshape(-1, 2) - middle
    length = np.linalg.norm(away, axis=1)
    return away[length > 0] / length[length > 0, None]


def yaw_of_show_faces(
    surface: Surface, up: NDArray[np.float64], anodes: NDArray[np.float64]
) -> tuple[float, float] | None:
    """The yaw that turns show faces towards the anodes, and the share of their area that then faces them.

    The share is of area times the cosine to the nearest anode. None where nothing is marked, or no anode known.
    """
    area = surface.wet_area * surface.show
    if not area.sum() > 0 or not len(anodes):
        return None
    shown = area > 0
    level = surface.normal[shown] @ attitude.turn_up(up)[:2].T
    bearing = np.arctan2(level[:, 1], level[:, 0])
    bins = np.floor(bearing / (2 * np.pi) * BEARING_BINS + 0.5).astype(int) % BEARING_BINS
    weight = np.bincount(bins, area[shown] * np.linalg.norm(level, axis=1), BEARING_BINS)
    angles = 2 * np.pi * np.arange(BEARING_BINS) / BEARING_BINS
    towards = np.arctan2(anodes[:, 1], anodes[:, 0])
    seen = np.cos((angles[:, None] + angles)[..., None] - towards).max(axis=2).clip(0)  # yaw, bearing
    share = seen @ weight / area.sum()
    best = int(np.argmax(share))
    return float(angles[best]), float(share[best])


def fit(
    hull: NDArray[np.float64],
    up: NDArray[np.float64],
    tank: Tank,
    prefer: float | None = None,
    volume: Volume | None = None,
) -> Fit:
    """Fit of the points of `extreme_points` with the model direction `up` upright.

    prefer : yaw (radians) that is taken wherever it fits, such as the one that turns show faces to an anode
    volume : where the tank is still to be chosen, m3 of bath that it will hold for a part of some size: without a
    preference the part is turned to the yaw that needs clearly less
    """
    turned = hull @ attitude.turn_up(up).T
    height = np.ptp(turned[:, 2])
    if tank.shape == "open":
        return Fit(
            True, _least_bath(turned, volume) if prefer is None and volume is not None else prefer or 0.0, np.inf
        )
    tall = tank.level - 2 * LIQUID_MARGIN_M - height
    if tank.shape == "cylinder":
        middle = (turned[:, :2].min(axis=0) + turned[:, :2].max(axis=0)) / 2
        radius = np.linalg.norm(turned[:, :2] - middle, axis=1).max()
        slack = min(tall, tank.size[0] / 2 - LIQUID_MARGIN_M - radius)
        return Fit(slack >= 0, prefer or 0.0, float(slack))
    yaws = TRIED_YAWS_RAD if prefer is None else np.concatenate([[prefer], TRIED_YAWS_RAD])
    across = turned[:, :2] @ np.stack([[np.cos(yaws), -np.sin(yaws)], [np.sin(yaws), np.cos(yaws)]])
    wide = np.ptp(across, axis=1)  # (2, yaws): along the tank's length and its width
    room = np.minimum(tank.size[0] - 2 * LIQUID_MARGIN_M - wide[0], tank.size[1] - 2 * LIQUID_MARGIN_M - wide[1])
    best = 0 if prefer is not None and room[0] >= 0 else int(np.argmax(room))
    slack = min(float(room[best]), float(tall))
    return Fit(slack >= 0, float(yaws[best]), slack)


def _least_bath(turned: NDArray[np.float64], volume: Volume) -> float:
    """The yaw (radians) with which the part, (k, 3) points in the bath, needs the least bath; 0 unless another saves
    `MIN_BATH_SAVED_SHARE`."""
    extents = [np.ptp(turned @ attitude.about(yaw).T, axis=0) * EXTENT_ALLOWANCE for yaw in TRIED_YAWS_RAD]
    volumes = np.array([volume(extent) for extent in extents])
    best = int(np.argmin(volumes))
    return float(TRIED_YAWS_RAD[best]) if volumes[best] < (1.0 - MIN_BATH_SAVED_SHARE) * volumes[0] else 0.0
