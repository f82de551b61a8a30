"""Whether everything in the tank has room there; if not, one clear line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled, setting
from ..geometry.solid_angle import winding
from ..mesh.surface import Surface
from ..tank.arrange import Arrangement
from ..tank.body import Pose, Role
from ..units import MM, in_mm
from .panels import Panels
from .pieces import area

Array = NDArray[np.float64]

MAX_PAIRS_ONE_BY_ONE = 200_000_000  # pairs of triangles of two things that are looked at one by one: some seconds
MIN_GAP_M = 0.1 * MM  # m, closer metal counts as touching: plates hang no truer (common practice, no source)
COORDINATE_ROUNDING_OVER_SIZE = 1e-6  # of the tank's size: what a file in single precision may be off
WALL_NAMES = (("-x wall", "+x wall"), ("-y wall", "+y wall"), ("floor", "surface"))


@dataclass(frozen=True, eq=False)
class _Body:
    """Something in the tank. panels : (n, 3, 3); own : makes its triangles (m, 3, 3); exact : (v, 3) its points"""

    name: str
    role: Role
    remedy: str
    panels: Array
    own: Callable[[], Array]
    exact: Array
    sheet: bool

    @property
    def bounds(self) -> Array:
        return np.array([self.exact.min(axis=0), self.exact.max(axis=0)])

    @cached_property
    def corners(self) -> Array:
        """(m, 3, 3) its own triangles; made where something comes near."""
        return self.own()

    def holds(self, other: _Body) -> bool:
        """Whether a point of another body lies inside."""
        return not self.sheet and bool(winding(other.corners[:1].mean(axis=1), self.corners)[0] > 0.5)


def check(surface: Surface, panels: Panels) -> None:
    """Raises InputError where the part or a copy of it leaves the liquid or touches another body.

    surface : of the part, model coordinates; panels : of the whole arrangement, coarse ones do. Bodies are tested by
    their own triangles, because panels may cut corners; where too many triangles are close, by their panels.
    """
    points, wet = surface.points[np.unique(surface.triangles)], surface.triangles[surface.wetted]
    arrangement = panels.arrangement
    plates = {body.name for body in arrangement.bodies if len(body.triangles) == 2}
    key = setting("place.centre_mm" if len(arrangement.poses) == 1 else "rack.positions_mm")
    copies = [
        _Body(
            pose.name,
            Role.PART,
            key,
            panels.corners[rows],
            partial(_posed, pose, surface.points, wet),
            pose.of(points),
            bool((panels.loose[rows] > 0).any()),
        )
        for pose, rows in zip(arrangement.poses, panels.bodies, strict=False)
    ]
    others = [
        _Body(
            body.name,
            body.role,
            "its centre_mm" if body.name in plates else "its mesh",
            panels.corners[rows],
            partial(_proper, body.corners),
            body.points[np.unique(body.triangles)],
            body.sheet,
        )
        for body, rows in zip(arrangement.bodies, panels.bodies[len(copies) :], strict=True)
        if not body.wall
    ]
    for body in copies + others:
        _in_liquid(body, arrangement, panels)
    for i, copy in enumerate(copies):
        for other in copies[i + 1 :] + others:
            _apart(copy, other)
    metal = [body for body in others if body.role != Role.INSULATOR]
    for i, body in enumerate(metal):
        for other in metal[i + 1 :]:
            if body.role != other.role:
                _apart(body, other)


def _posed(pose: Pose, points: Array, triangles: NDArray[np.integer]) -> Array:
    """A copy's own triangles (m, 3, 3) in the tank."""
    return _proper(pose.of(points[triangles]))


def _proper(corners: Array) -> Array:
    """The triangles that have an area."""
    return corners[area(corners) > 0]


def _facing(first: _Body, second: _Body, low: Array, high: Array) -> tuple[Array, Array]:
    """Triangles of either that reach into a box, where alone the two can meet; their panels, where their own would make
    too many pairs."""
    of_first, of_second = _within(first.corners, low, high), _within(second.corners, low, high)
    if len(of_first) and len(of_second):
        of_first = _within(of_first, of_second.min(axis=(0, 1)) - MIN_GAP_M, of_second.max(axis=(0, 1)) + MIN_GAP_M)
    if len(of_first) * len(of_second) <= MAX_PAIRS_ONE_BY_ONE:
        return of_first, of_second
    return _within(first.panels, low, high), _within(second.panels, low, high)


def _within(corners: Array, low: Array, high: Array) -> Array:
    """The triangles whose boxes meet a box."""
    return corners[((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1)]


def _in_liquid(body: _Body, arrangement: Arrangement, panels: Panels) -> None:
    low, high = body.bounds
    if arrangement.box is not None:
        slack = COORDINATE_ROUNDING_OVER_SIZE * float(np.ptp(arrangement.box, axis=0).max())
        for axis in (2, 0, 1):
            for way, over in enumerate((arrangement.box[0, axis] - low[axis], high[axis] - arrangement.box[1, axis])):
                if over > slack:
                    raise InputError(_outside(body, WALL_NAMES[axis][way], float(over)))
    if arrangement.surface is None:
        return
    size = float(np.ptp(panels.corners.reshape(-1, 3), axis=0).max())
    if high[2] - arrangement.surface > COORDINATE_ROUNDING_OVER_SIZE * size:
        raise InputError(_outside(body, "surface", float(high[2] - arrangement.surface)))
    walls = panels.corners[panels.bodies[-1]]
    mirrored = walls[:, ::-1] * (1.0, 1.0, -1.0) + (0.0, 0.0, 2.0 * arrangement.surface)
    middle = body.panels.mean(axis=1)
    dry = winding(middle, np.concatenate([walls, mirrored])) > -0.5
    near = _distance(middle[dry], walls) if dry.any() else np.zeros(1)
    if near.max() > COORDINATE_ROUNDING_OVER_SIZE * size:
        raise InputError(_outside(body, "wall", float(near.max())))
    if body.role != Role.ANODE and crossing(body.panels, walls):
        raise InputError(_outside(body, "wall", 0.0))


def _outside(body: _Body, where: str, over: float) -> str:
    values = {"name": body.name, "remedy": body.remedy}
    if where == "surface":
        return filled(
            "{name}: its top is {distance} above the liquid; lower it ({remedy}) or raise {tank.level_mm}",
            distance=in_mm(over, 3),
            **values,
        )
    if not over:
        return filled(
            "{name}: it reaches through the {side} of the tank; move it ({remedy}) or take a larger tank",
            side=where,
            **values,
        )
    return filled(
        "{name}: it reaches through the {side} of the tank by {distance}; move it ({remedy}) or take a larger tank",
        side=where,
        distance=in_mm(over, 3),
        **values,
    )


def _apart(first: _Body, second: _Body) -> None:
    """Raises InputError where two bodies touch."""
    a, b = first.bounds, second.bounds
    if (np.maximum(a[0] - b[1], b[0] - a[1]) > MIN_GAP_M).any():
        return
    metal = Role.INSULATOR not in (first.role, second.role)
    of_first, of_second = _facing(first, second, np.maximum(a[0], b[0]) - MIN_GAP_M, np.minimum(a[1], b[1]) + MIN_GAP_M)
    inside = first.holds(second) or second.holds(first)
    both_present = len(of_first) > 0 and len(of_second) > 0
    if inside or (both_present and crossing(of_first, of_second)):
        by = float(np.minimum(a[1] - b[0], b[1] - a[0]).min())
        raise InputError(
            filled(
                "{name} and {name_2} overlap by {by}; move {name} ({remedy}) or {name_2}",
                name=first.name,
                name_2=second.name,
                by=in_mm(by, 3),
                remedy=first.remedy,
            )
        )
    gap = _gap(of_first, of_second) if both_present else np.inf
    if metal and first.role != second.role and gap < MIN_GAP_M:
        raise InputError(
            filled(
                "{name} touches {name_2}: {gap} apart; leave more room, or the supply is shorted",
                name=first.name,
                name_2=second.name,
                gap=in_mm(gap, 3),
            )
        )


def _close(first: Array, second: Array, margin: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of triangles whose circles about their middles come within a margin."""
    a, b = first.mean(axis=1), second.mean(axis=1)
    ra, rb = (np.linalg.norm(t - t.mean(axis=1, keepdims=True), axis=2).max(axis=1) for t in (first, second))
    rows, columns = [], []
    chunk = max(1, 2_000_000 // len(b))
    for start in range(0, len(a), chunk):
        part = slice(start, start + chunk)
        apart = np.sqrt(np.maximum(((a[part, None] - b) ** 2).sum(axis=2), 0.0))
        i, j = np.nonzero(apart < ra[part, None] + rb + margin)
        rows.append(i + start)
        columns.append(j)
    return np.concatenate(rows), np.concatenate(columns)


def crossing(first: Array, second: Array) -> bool:
    """Whether an edge of one set of triangles (n, 3, 3) goes through a triangle of the other."""
    i, j = _close(first, second, 0.0)
    return any(
        _pierced(a[:, k], a[:, (k + 1) % 3], b).any()
        for a, b in ((first[i], second[j]), (second[j], first[i]))
        for k in range(3)
    )


def _pierced(start: Array, end: Array, triangle: Array) -> NDArray[np.bool_]:
    """Whether segments (n, 3) to (n, 3) go through triangles (n, 3, 3): ends on either side, and the line
    within.
    """

    def volume(*p: Array) -> Array:
        return np.einsum("ij,ij->i", p[0] - p[3], np.cross(p[1] - p[3], p[2] - p[3]))

    a, b, c = triangle.swapaxes(0, 1)
    size = np.linalg.norm(b - a, axis=1) * np.linalg.norm(c - a, axis=1) * np.linalg.norm(end - start, axis=1)
    above, below = volume(a, b, c, start), volume(a, b, c, end)
    through = (np.minimum(above, below) < -1e-9 * size) & (np.maximum(above, below) > 1e-9 * size)
    turns = np.stack([volume(start, end, a, b), volume(start, end, b, c), volume(start, end, c, a)])
    return through & ((turns > 0).all(axis=0) | (turns < 0).all(axis=0))


def _gap(first: Array, second: Array) -> float:
    """Least distance of the corners of each set of triangles from the other set's triangles near them, else
    inf.
    """
    i, j = _close(first, second, MIN_GAP_M)
    if not len(i):
        return np.inf
    pairs: Sequence[tuple[Array, Array]] = ((first[i], second[j]), (second[j], first[i]))
    return float(min(_to_triangle(a[:, k], b).min() for a, b in pairs for k in range(3)))


def _distance(points: Array, triangles: Array) -> Array:
    """Of points (n, 3) from a set of triangles (m, 3, 3), (n,)."""
    out = np.empty(len(points))
    for i, point in enumerate(points):
        out[i] = _to_triangle(np.broadcast_to(point, (len(triangles), 3)), triangles).min()
    return out


def _to_triangle(points: Array, triangle: Array) -> Array:
    """Distance of points (n, 3) from triangles (n, 3, 3): of the plane above it, else of the nearest edge."""
    a, b, c = triangle.swapaxes(0, 1)
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    height = np.einsum("ij,ij->i", points - a, normal)
    inside = np.ones(len(points), dtype=bool)
    edge = np.full(len(points), np.inf)
    for p, q in ((a, b), (b, c), (c, a)):
        along, to = q - p, points - p
        inside &= np.einsum("ij,ij->i", np.cross(along, to), normal) >= 0
        t = np.clip(np.einsum("ij,ij->i", to, along) / np.einsum("ij,ij->i", along, along), 0.0, 1.0)
        edge = np.minimum(edge, np.linalg.norm(to - t[:, None] * along, axis=1))
    return np.where(inside, np.abs(height), edge)
