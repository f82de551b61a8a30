"""The plane of a cut and the nodes of its grid: all over the liquid, denser near the part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..settings.options import Cut as Asked
from ..tank.arrange import Arrangement
from ..tank.body import Role
from ..units import MM
from .section import Plane

Array = NDArray[np.float64]

FINE_CELLS, COARSE_CELLS = 36, 90  # across the part; across the tank, if all were large
MAX_CELL_RATIO = 1.12  # of a cell to the next
GRID_INSET_OVER_SIZE = 1e-4  # of the plane's size: how far the grid keeps off the walls
OPEN_TANK_MARGIN = 0.5  # of the size of all that hangs in an open tank: how far the plane goes on


def place(arrangement: Arrangement, asked: Asked) -> Plane:
    """The requested plane, through or beside the middle of the part's first copy: vertical through the nearest anode,
    vertical across that, or horizontal.
    """
    middle = arrangement.poses[0].middle
    toward = np.array([1.0, 0.0, 0.0])
    nearest = np.inf
    for body in arrangement.bodies:
        if body.role == Role.ANODE:
            way = (np.clip(middle, *body.bounds) - middle) * (1.0, 1.0, 0.0)
            if 0.0 < (length := float(np.linalg.norm(way))) < nearest:
                nearest, toward = length, way / length
    upright = np.array([0.0, 0.0, 1.0])
    beside = np.cross(upright, toward)
    across, up = {
        "through anodes": (toward, upright),
        "across": (beside, upright),
        "level": (toward, beside),
    }[asked.way]
    return Plane(middle + asked.offset * np.cross(across, up), across, up)


def nodes(plane: Plane, arrangement: Arrangement, parts: Array, others: Array, closed: bool) -> tuple[Array, Array]:
    """Columns and rows of the grid, meters.

    parts, others : (k, 2) ends of the sections of the part's copies, and of all else; closed : whether that
    encloses the liquid
    Raises InputError where the plane passes beside the liquid.
    """
    middle = plane.drop(arrangement.poses[0].middle)[None]
    if arrangement.inside is None:
        edges = np.concatenate([middle, parts, others])
        low, high = edges.min(axis=0), edges.max(axis=0)
        off = (GRID_INSET_OVER_SIZE if closed else OPEN_TANK_MARGIN) * max(float(np.linalg.norm(high - low)), 1 * MM)
        low, high = low - off, high + off
    else:
        rim = _rim(plane, arrangement.inside)
        if not len(rim):
            room = (_box_corners(arrangement.inside) - arrangement.poses[0].middle) @ plane.normal / MM
            raise InputError(
                filled(
                    "{cut.offset_mm}: the plane passes beside the tank; give {low} to {high} mm",
                    low=f"{room.min():.4g}",
                    high=f"{room.max():.4g}",
                )
            )
        low, high = rim.min(axis=0), rim.max(axis=0)
        low, high = low + GRID_INSET_OVER_SIZE * np.ptp(rim), high - GRID_INSET_OVER_SIZE * np.ptp(rim)
    inner = (parts.min(axis=0), parts.max(axis=0)) if len(parts) else (middle[0], middle[0])
    size = float(np.max(inner[1] - inner[0])) if len(parts) else 0.3 * float(np.min(high - low))
    coarse = float(np.max(high - low)) / COARSE_CELLS
    across, up = (
        _graded(low[k], high[k], inner[0][k], inner[1][k], min(size / FINE_CELLS, coarse), coarse) for k in (0, 1)
    )
    return across, up


def _graded(low: float, high: float, first: float, last: float, fine: float, coarse: float) -> Array:
    """Places from low to high, `fine` apart from first to last and farther and farther apart beyond."""
    first, last = (float(np.clip(end, low, high)) for end in (first - 2 * fine, last + 2 * fine))
    inner = np.linspace(first, last, max(int(np.ceil((last - first) / fine)), 1) + 1)
    sides = []
    for room in (first - low, high - last):
        steps = np.minimum(fine * MAX_CELL_RATIO ** np.arange(1, 60), coarse)
        steps = np.append(steps, np.full(int(room / coarse) + 1, coarse))
        count = int(np.searchsorted(np.cumsum(steps), room))
        out = np.cumsum(steps[: count + 1])
        sides.append(out * room / out[-1] if room > 0.1 * fine else np.empty(0))
    return np.concatenate([first - sides[0][::-1], inner, last + sides[1]])


def walls(box: Array) -> Array:
    """(12, 3, 3) the sides of a box (2, 3) as triangles that face inward."""
    corners = _box_corners(box)
    quads = [[k | way for k in (0, a, a | b, b)] for a, b, c in ((1, 2, 4), (2, 4, 1), (4, 1, 2)) for way in (0, c)]
    triangles = np.array([[q[i] for i in half] for q in quads for half in ((0, 1, 2), (0, 2, 3))])
    sides = corners[triangles]
    normal = np.cross(sides[:, 1] - sides[:, 0], sides[:, 2] - sides[:, 0])
    outward = np.einsum("ij,ij->i", normal, sides.mean(axis=1) - box.mean(axis=0)) > 0
    return np.where(outward[:, None, None], sides[:, ::-1], sides)


def _box_corners(box: Array) -> Array:
    return np.stack(np.meshgrid(*box.T, indexing="ij"), axis=-1).reshape(-1, 3)


def _rim(plane: Plane, box: Array) -> Array:
    """(k, 2) where the plane meets the edges of a box (2, 3)."""
    corners = _box_corners(box)
    edges = [(i, i | bit) for i in range(8) for bit in (1, 2, 4) if not i & bit]
    a, b = corners[np.array(edges)].swapaxes(0, 1)
    high, low = (a - plane.point) @ plane.normal, (b - plane.point) @ plane.normal
    crossed = high * low < 0
    return plane.drop(a[crossed] + (high / np.where(crossed, high - low, 1.0))[crossed, None] * (b - a)[crossed])


def inside(arrangement: Arrangement, points: Array) -> NDArray[np.bool_]:
    """Which points (..., 3) lie within the box round the liquid."""
    if arrangement.inside is None:
        return np.ones(points.shape[:-1], dtype=bool)
    low, high = arrangement.inside
    return ((points >= low) & (points <= high)).all(axis=-1)
