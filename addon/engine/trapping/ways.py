"""Straight ways from a pocket or a pool to the outside that a round bore could take."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ..geometry.closest import to_origin
from ..geometry.frames import basis, unit
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..units import MM
from .hole import HoleKind
from .pockets import Pocket

Array = NDArray[np.float64]

MAX_STARTS = 24  # points near a pocket's top that a bore may begin at
AZIMUTH_STEPS = 16
ELEVATIONS_RAD = np.radians([0.0, 15.0, 35.0, 60.0])
MIN_WALL_M = 0.8 * MM  # of plastic that stays beside a bore: two lines of a common nozzle, common practice
INSET_RADII = 0.9  # radii from the pocket's top to the bore's axis, so that the bore reaches over the top
MAX_START_RADII = 1.5  # from there to the wall that the bore enters
MIN_ENTRY_COS, MIN_EXIT_COS = 0.2, 0.35  # between the bore and the surface's normal: a flatter cut is a slit
MAX_EXIT_HELD_SHARE = 0.01  # of a face that gas or liquid covers, where a way may come out
SHOW_PENALTY = 8.0  # sizes of the part, penalty of a way out through a show face
SIGHT_PENALTY = 0.15  # sizes of the part, penalty of a way out in full view
OFF_MIDDLE_PENALTY = 0.02  # of the way off the middle of a ceiling: of equals the middle one
RAYS_ROUND_BORE = 12


@dataclass(frozen=True, eq=False)
class Task:
    """One place to empty. up : the way that what it holds would leave; closed : (m,) share that no way may end on;
    contacts : as of `holes`"""

    kind: HoleKind
    pocket: Pocket
    top: Array
    frees: float
    up: Array
    closed: Array
    contacts: Array | None = None


@dataclass(frozen=True, eq=False)
class Ways:
    """Straight ways, (k,) or (k, 3) each.

    origin, direction; entry, leave : m along it, where it goes into the part and comes out; face : triangle where it
    comes out; back : m behind the origin where the cut begins; free : m of liquid ahead of its end; off : m from the
    middle of what it empties
    """

    origin: Array
    direction: Array
    entry: Array
    leave: Array
    face: NDArray[np.intp]
    back: Array
    free: Array
    off: Array

    def at(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Ways:
        """Those of these numbers, or of this mask."""
        return Ways(*(getattr(self, field.name)[rows] for field in fields(self)))


def find_ways(surface: Surface, tracer: Tracer, task: Task, radius: float) -> Ways:
    """Every straight way from near the top of a pocket to the outside that a bore of this radius could take."""
    origin, top = _starts(surface, tracer, task, radius)
    toward = _directions(task.up)
    origins, tops = (np.repeat(points, len(toward), axis=0) for points in (origin, top))
    direction = np.tile(toward, (len(origin), 1))
    into, entry = tracer.first_hit(origins, direction)
    facing = np.einsum("ij,ij->i", surface.normal[into], direction)
    entries = np.flatnonzero((into >= 0) & (facing < -MIN_ENTRY_COS) & (entry < MAX_START_RADII * radius))
    origins, tops, direction, entry = origins[entries], tops[entries], direction[entries], entry[entries]
    lift = surface.lift
    out, thick = tracer.first_hit(origins + (entry + lift)[:, None] * direction, direction)
    facing = np.einsum("ij,ij->i", surface.normal[out], direction)
    leave = entry + lift + thick
    ends = (out >= 0) & (facing > MIN_EXIT_COS) & surface.wetted[out] & (task.closed[out] < MAX_EXIT_HELD_SHARE)
    entries = np.flatnonzero(ends)
    origins, tops, direction, entry, leave = (x[entries] for x in (origins, tops, direction, entry, leave))
    out = out[entries]
    _, free = tracer.first_hit(origins + (leave + lift)[:, None] * direction, direction)
    back = np.maximum(-np.einsum("ij,ij->i", tops - origins, direction), 0.0) + 0.1 * radius
    off = np.linalg.norm(tops - task.top, axis=1)
    ways = Ways(origins, direction, entry, leave, out.astype(np.intp), back, free, off)
    return ways.at(free > 2 * radius + overrun(surface, ways, radius))


def _directions(up: Array) -> Array:
    """(k, 3) straight up, and round about at each of the elevations."""
    u, v = basis(up)
    turn = 2 * np.pi * np.arange(AZIMUTH_STEPS) / AZIMUTH_STEPS
    level = np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v
    around = [np.cos(rise) * level + np.sin(rise) * up for rise in ELEVATIONS_RAD]
    return np.concatenate([up[None], *around])


def _starts(surface: Surface, tracer: Tracer, task: Task, radius: float) -> tuple[Array, Array]:
    """(k, 3) where bores may begin, within the pocket just under its top, and (k, 3) the point of the top over each."""
    points = np.unique(surface.points[surface.triangles[task.pocket.faces]].reshape(-1, 3), axis=0)
    height = points @ task.up
    near = points[(height > float(task.top @ task.up) - 0.1 * radius) & (height < task.top @ task.up + 0.1 * radius)]
    few = near[np.linspace(0, len(near) - 1, min(len(near), MAX_STARTS)).astype(np.intp)] if len(near) else near
    tops = np.concatenate([task.top[None], few])
    corners = surface.corners[task.pocket.faces]
    origins, over = [], []
    for top in tops:
        reach = np.linalg.norm(to_origin(corners - top), axis=1)
        # facets of one wall count once: directions to the next half
        touching = np.unique(np.round(2 * surface.normal[task.pocket.faces[reach < 0.25 * radius]]), axis=0)
        inward = touching.sum(axis=0) if len(touching) else -task.up
        inward = unit(inward) if np.linalg.norm(inward) > 1e-6 else -task.up
        origin = top + INSET_RADII * radius * inward
        face, distance = tracer.first_hit(origin[None], -inward[None])
        if face[0] >= 0 and surface.normal[face[0]] @ inward > 0 and distance[0] < 2 * INSET_RADII * radius:
            origins.append(origin)
            over.append(top)
    if not origins:
        return np.zeros((0, 3)), np.zeros((0, 3))
    begin = np.array(origins)
    apart = begin - begin[0]  # points seen from the first belong to the same dome
    distance = np.linalg.norm(apart, axis=1)
    toward = np.divide(apart, distance[:, None], out=np.tile(task.up, (len(apart), 1)), where=distance[:, None] > 0)
    _, free = tracer.first_hit(np.broadcast_to(begin[0], begin.shape), toward)
    same = free >= distance
    return begin[same], np.array(over)[same]


def overrun(surface: Surface, ways: Ways, radius: float) -> Array:
    """(k,) m past the end of each way that the cut must reach, for the slant of the surface there."""
    cosine = np.einsum("ij,ij->i", surface.normal[ways.face], ways.direction)
    return radius * (np.sqrt(1.0 - np.minimum(cosine, 1.0) ** 2) / cosine + 0.3)


def cost(surface: Surface, ways: Ways, sight: Array | None) -> Array:
    """(k,) m of plastic to go through, with penalties."""
    seen = np.zeros(len(ways.face)) if sight is None else np.nan_to_num(sight[ways.face])
    counts = SHOW_PENALTY * surface.show[ways.face] + SIGHT_PENALTY * seen
    cost = ways.leave - ways.entry + OFF_MIDDLE_PENALTY * ways.off + surface.size * counts
    return np.asarray(np.round(cost / surface.lift) * surface.lift)  # equal up to rounding: the first


def is_clear(surface: Surface, tracer: Tracer, ways: Ways, k: int, radius: float) -> bool:
    """Whether a wall's thickness is left round the bore, and no rib or edge stands at its end."""
    wide, along = radius + MIN_WALL_M, ways.direction[k]
    start, end = (ways.origin[k] + far[k] * along for far in (ways.entry, ways.leave))
    length = float(ways.leave[k] - ways.entry[k])
    inside = np.arange(wide, length - wide, max(0.5 * wide, length / 64))
    if len(inside) and tracer.nearest(start + inside[:, None] * along).min() < 0.95 * wide:
        return False
    u, v = basis(along)
    turn = 2 * np.pi * np.arange(RAYS_ROUND_BORE) / RAYS_ROUND_BORE
    ring = wide * (np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v)
    far = min(2 * wide / MIN_EXIT_COS, float(ways.free[k]) - surface.lift)
    _, distance = tracer.first_hit(end + far * along + ring, np.broadcast_to(-along, ring.shape))
    slant = wide / float(surface.normal[ways.face[k]] @ along)
    return bool((np.abs(distance - far) < slant + 0.5 * wide).all())


def clear_of_contacts(ways: Ways, radius: float, contacts: Array | None) -> NDArray[np.bool_]:
    """(k,) whether each way goes in and out clear of the wires, with a wall's thickness between."""
    clear = np.ones(len(ways.face), dtype=bool)
    if contacts is None or not len(contacts):
        return clear
    for far in (ways.entry, ways.leave):
        at = ways.origin + far[:, None] * ways.direction
        apart = np.linalg.norm(at[:, None] - contacts[None, :, :3], axis=2)
        clear &= (apart > contacts[:, 3] + radius + MIN_WALL_M).all(axis=1)
    return clear
