"""Where to cut: a straight bore from each pocket's top, and from each pool's bottom, to the outside.

Of many straight ways the best is taken: off the show faces, short, and rather where less of the bath is seen; wide
enough by `bores`, and with a wall's thickness left all round it. Docs: theory-gas.md, "Where to cut".
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..geometry.closest import to_origin
from ..geometry.frames import basis, unit
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step
from ..units import MM
from .bores import MIN_FREED_SHARE, NEGLIGIBLE_VOLUME_M3, head_needed
from .gas import Drainage, Gas
from .pockets import Pocket

Array = NDArray[np.float64]

MAX_HOLES = 24  # more would be another part
MAX_STARTS = 24  # points near a pocket's top that a bore may begin at
AZIMUTH_STEPS = 16
ELEVATIONS_RAD = np.radians([0.0, 15.0, 35.0, 60.0])
MIN_WALL_M = 0.8 * MM  # of plastic that stays beside a bore: two lines of a common nozzle, common practice
INSET_RADII = 0.9  # radii from the pocket's top to the bore's axis, so that the bore reaches over the top
MAX_START_RADII = 1.5  # from there to the wall that the bore enters
MIN_ENTRY_COS, MIN_EXIT_COS = 0.2, 0.35  # between the bore and the surface's normal: a flatter cut is a slit
SHOW_PENALTY = 8.0  # sizes of the part that a way through a show face counts more
SIGHT_PENALTY = 0.15  # sizes of the part that a way out into the full view counts more
OFF_MIDDLE_PENALTY = 0.02  # of the way off the middle of a ceiling: of equals the middle one
RAYS_ROUND_BORE = 12  # rays round a bore
PRISM_SIDES = 32  # of the prism that cuts a bore
PRISM_TWIST_SIDES = 0.3183  # of a side: no corner of it then lies on an edge of a round part


class HoleKind(Enum):
    """What a hole is for."""

    VENT = "vent"
    DRAIN = "drain"


@dataclass(frozen=True, eq=False)
class Hole:
    """A straight round hole. Meters, in the part's axes.

    start : (3,) in the pocket, where the cut begins; tip : (3,) outside, where it ends
    entry, end : (3,) on the surface, where it goes in and where it comes out
    diameter : m; frees : m3 of gas or liquid that goes; show : whether it comes out through a show face
    """

    kind: HoleKind
    start: Array
    entry: Array
    end: Array
    tip: Array
    diameter: float
    frees: float
    show: bool

    @property
    def length(self) -> float:
        """m of plastic that it goes through."""
        return float(np.linalg.norm(self.end - self.entry))


@dataclass(frozen=True, eq=False)
class Vents:
    """The holes that empty a part.

    holes : vents first, by what they free; up : (3,) unit, the way up that they are for
    blocked : m3 that no straight bore frees; unneeded : whether nothing is worth a hole
    """

    up: Array
    holes: tuple[Hole, ...]
    blocked: float
    unneeded: bool


@dataclass(frozen=True, eq=False)
class _Task:
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
class _Ways:
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

    def at(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> _Ways:
        return _Ways(*(getattr(self, field.name)[which] for field in fields(self)))


def holes(
    surface: Surface,
    tracer: Tracer,
    gas: Gas,
    drainage: Drainage,
    *,
    capillary_length: float,
    sight: Array | None = None,
    contacts: Array | None = None,
) -> Progress[Vents]:
    """The holes for the way up of `gas` and `drainage`: one for each pocket, dome or pool that is worth one.

    sight : (m,) share of the bath that each triangle sees; contacts : (k, 4) where wires touch the part, m, and the
    radius that they need. Cost: some thousand rays a hole.
    """
    tasks = _tasks(surface, gas, drainage)
    found: list[Hole] = []
    blocked = 0.0
    for number, task in enumerate(tasks[:MAX_HOLES]):
        yield Step(number / len(tasks), filled("placing hole {number} of {count}", number=number + 1, count=len(tasks)))
        hole = _hole(surface, tracer, replace(task, contacts=contacts), capillary_length, sight, found)
        if hole is None:
            blocked += task.frees
        else:
            found.append(hole)
    blocked += sum(task.frees for task in tasks[MAX_HOLES:])
    found.sort(key=lambda hole: (hole.kind == HoleKind.DRAIN, -hole.frees))
    return Vents(gas.up, tuple(found), blocked, not tasks)


def cutters(found: tuple[Hole, ...]) -> tuple[Array, NDArray[np.int32]]:
    """Points (v, 3) and triangles (m, 3) of a closed prism for each hole, a little longer at either end."""
    turn = 2 * np.pi * (np.arange(PRISM_SIDES) + PRISM_TWIST_SIDES) / PRISM_SIDES
    points, triangles = [], []
    for number, hole in enumerate(found):
        radius = hole.diameter / 2 / np.cos(np.pi / PRISM_SIDES)  # flats at the diameter
        along = unit(hole.tip - hole.start)
        u, v = basis(along)
        circle = radius * (np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v)
        ends = hole.start, hole.tip
        points.append(np.concatenate([circle + ends[0], circle + ends[1], np.stack(ends)]))
        triangles.append(_prism() + number * (2 * PRISM_SIDES + 2))
    return np.concatenate(points), np.concatenate(triangles).astype(np.int32)


def _prism() -> NDArray[np.int32]:
    i = np.arange(PRISM_SIDES)
    j = (i + 1) % PRISM_SIDES
    low, high = np.full(PRISM_SIDES, 2 * PRISM_SIDES), np.full(PRISM_SIDES, 2 * PRISM_SIDES + 1)
    sides = [np.stack([i, j, j + PRISM_SIDES], axis=1), np.stack([i, j + PRISM_SIDES, i + PRISM_SIDES], axis=1)]
    caps = [np.stack([low, j, i], axis=1), np.stack([high, i + PRISM_SIDES, j + PRISM_SIDES], axis=1)]
    return np.concatenate([*sides, *caps]).astype(np.int32)


def _tasks(surface: Surface, gas: Gas, drainage: Drainage) -> list[_Task]:
    """What is worth a hole, the largest first."""
    plated = float(surface.plated_area.sum())
    found = []
    for pocket in gas.pockets:
        if pocket.bores and pocket.worth_a_hole(plated):
            found += _tasks_of_pocket(HoleKind.VENT, pocket, gas.up, gas.face)
    for pool in drainage.pools:
        if pool.hole is not None and pool.volume >= NEGLIGIBLE_VOLUME_M3:
            found += _tasks_of_pocket(HoleKind.DRAIN, pool.pocket, -drainage.up, drainage.face)
    return sorted(found, key=lambda task: -task.frees)


def _tasks_of_pocket(kind: HoleKind, pocket: Pocket, up: Array, closed: Array) -> list[_Task]:
    first = pocket.volume - float(pocket.more_volumes.sum())
    tops = [(pocket.vent, first), *zip(pocket.more_vents, pocket.more_volumes, strict=True)]
    worth = [tops[0], *(top for top in tops[1:] if top[1] >= NEGLIGIBLE_VOLUME_M3)]
    return [_Task(kind, pocket, top, float(volume), up, closed) for top, volume in worth]


def _hole(
    surface: Surface,
    tracer: Tracer,
    task: _Task,
    capillary_length: float,
    sight: Array | None,
    others: list[Hole],
) -> Hole | None:
    """The best straight way clear of the other holes; narrower ones are tried where the wanted bore has none.

    Through a face that shows only where nothing else is left.
    """
    pocket = task.pocket
    widths = [bore.diameter for bore in pocket.bores if bore.diameter <= pocket.vent_diameter][::-1]
    worthy = [bore.diameter for bore in pocket.bores if bore.remaining <= (1.0 - MIN_FREED_SHARE) * pocket.volume]
    off_show = [width for width in widths if not worthy or width in worthy]
    for diameter, show in [*((width, False) for width in off_show), *((width, True) for width in widths)]:
        ways = _ways(surface, tracer, task, diameter / 2)
        ways = ways if show else ways.at(~surface.show[ways.face])
        ways = ways.at(_clear_of_contacts(ways, diameter / 2, task.contacts))
        for k in np.argsort(_cost(surface, ways, sight), kind="stable"):
            if not _is_clear(surface, tracer, ways, int(k), diameter / 2):
                continue
            hole = _hole_along(surface, task, ways, int(k), diameter, capillary_length)
            if hole.frees < MIN_FREED_SHARE * task.frees:
                continue  # it comes out too low: the bath there bears the meniscus
            if all(_axis_distance(hole, other) > (diameter + other.diameter) / 2 + MIN_WALL_M for other in others):
                return hole
    return None


def _clear_of_contacts(ways: _Ways, radius: float, contacts: Array | None) -> NDArray[np.bool_]:
    """(k,) whether each way goes in and out clear of the wires, with a wall's thickness between."""
    clear = np.ones(len(ways.face), dtype=bool)
    if contacts is None or not len(contacts):
        return clear
    for far in (ways.entry, ways.leave):
        at = ways.origin + far[:, None] * ways.direction
        apart = np.linalg.norm(at[:, None] - contacts[None, :, :3], axis=2)
        clear &= (apart > contacts[:, 3] + radius + MIN_WALL_M).all(axis=1)
    return clear


def _axis_distance(one: Hole, other: Hole) -> float:
    """m between the axes of two holes, sampled along both: good to a twentieth of the longer."""
    t = np.linspace(0.0, 1.0, 33)[:, None]
    a, b = (hole.start + t * (hole.tip - hole.start) for hole in (one, other))
    return float(np.linalg.norm(a[:, None] - b[None], axis=2).min())


def _hole_along(surface: Surface, task: _Task, ways: _Ways, k: int, diameter: float, capillary_length: float) -> Hole:
    along, pocket = ways.direction[k], task.pocket
    end = ways.origin[k] + ways.leave[k] * along
    mouth = float(end @ task.up) - pocket.spill_level
    level = max(mouth - float(head_needed(diameter, capillary_length)), 0.0)
    left = float(pocket.column.volume_above(np.full((1, len(pocket.column.down)), level))[0])
    share = task.frees / max(pocket.volume, 1e-300)
    over = _overrun(surface, ways, diameter / 2)[k]
    return Hole(
        task.kind,
        ways.origin[k] - ways.back[k] * along,
        ways.origin[k] + ways.entry[k] * along,
        end,
        end + over * along,
        diameter,
        max(task.frees - share * left, 0.0),
        bool(surface.show[ways.face[k]]),
    )


def _ways(surface: Surface, tracer: Tracer, task: _Task, radius: float) -> _Ways:
    """Every straight way from near the top of a pocket to the outside that a bore of this radius could take."""
    origin, top = _starts(surface, tracer, task, radius)
    toward = _directions(task.up)
    origins, tops = (np.repeat(points, len(toward), axis=0) for points in (origin, top))
    direction = np.tile(toward, (len(origin), 1))
    into, entry = tracer.first_hit(origins, direction)
    facing = np.einsum("ij,ij->i", surface.normal[into], direction)
    some = np.flatnonzero((into >= 0) & (facing < -MIN_ENTRY_COS) & (entry < MAX_START_RADII * radius))
    origins, tops, direction, entry = origins[some], tops[some], direction[some], entry[some]
    lift = surface.lift
    out, thick = tracer.first_hit(origins + (entry + lift)[:, None] * direction, direction)
    facing = np.einsum("ij,ij->i", surface.normal[out], direction)
    leave = entry + lift + thick
    ends = (out >= 0) & (facing > MIN_EXIT_COS) & surface.wetted[out] & (task.closed[out] < 0.01)
    some = np.flatnonzero(ends)
    origins, tops, direction, entry, leave = (x[some] for x in (origins, tops, direction, entry, leave))
    out = out[some]
    _, free = tracer.first_hit(origins + (leave + lift)[:, None] * direction, direction)
    back = np.maximum(-np.einsum("ij,ij->i", tops - origins, direction), 0.0) + 0.1 * radius
    off = np.linalg.norm(tops - task.top, axis=1)
    ways = _Ways(origins, direction, entry, leave, out.astype(np.intp), back, free, off)
    return ways.at(free > 2 * radius + _overrun(surface, ways, radius))


def _directions(up: Array) -> Array:
    """(k, 3) straight up, and round about at each of the elevations."""
    u, v = basis(up)
    turn = 2 * np.pi * np.arange(AZIMUTH_STEPS) / AZIMUTH_STEPS
    level = np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v
    around = [np.cos(rise) * level + np.sin(rise) * up for rise in ELEVATIONS_RAD]
    return np.concatenate([up[None], *around])


def _starts(surface: Surface, tracer: Tracer, task: _Task, radius: float) -> tuple[Array, Array]:
    """(k, 3) where bores may begin, within the pocket just under its top, and (k, 3) the point of the top over each."""
    points = np.unique(surface.points[surface.triangles[task.pocket.faces]].reshape(-1, 3), axis=0)
    height = points @ task.up
    near = points[(height > float(task.top @ task.up) - 0.1 * radius) & (height < task.top @ task.up + 0.1 * radius)]
    few = near[np.linspace(0, len(near) - 1, min(len(near), MAX_STARTS)).astype(np.intp)] if len(near) else near
    tops = np.concatenate([task.top[None], few])
    corners = surface.corners[task.pocket.faces]
    origins, kept = [], []
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
            kept.append(top)
    if not origins:
        return np.zeros((0, 3)), np.zeros((0, 3))
    begin = np.array(origins)
    apart = begin - begin[0]  # what is seen from the first is of the same dome
    distance = np.linalg.norm(apart, axis=1)
    toward = np.divide(apart, distance[:, None], out=np.tile(task.up, (len(apart), 1)), where=distance[:, None] > 0)
    _, free = tracer.first_hit(np.broadcast_to(begin[0], begin.shape), toward)
    same = free >= distance
    return begin[same], np.array(kept)[same]


def _overrun(surface: Surface, ways: _Ways, radius: float) -> Array:
    """(k,) m past the end of each way that the cut must reach, for the slant of the surface there."""
    cosine = np.einsum("ij,ij->i", surface.normal[ways.face], ways.direction)
    return radius * (np.sqrt(1.0 - np.minimum(cosine, 1.0) ** 2) / cosine + 0.3)


def _cost(surface: Surface, ways: _Ways, sight: Array | None) -> Array:
    """(k,) m of plastic to go through, and what counts as such."""
    seen = np.zeros(len(ways.face)) if sight is None else np.nan_to_num(sight[ways.face])
    counts = SHOW_PENALTY * surface.show[ways.face] + SIGHT_PENALTY * seen
    cost = ways.leave - ways.entry + OFF_MIDDLE_PENALTY * ways.off + surface.size * counts
    return np.asarray(np.round(cost / surface.lift) * surface.lift)  # equal but for rounding: the first


def _is_clear(surface: Surface, tracer: Tracer, ways: _Ways, k: int, radius: float) -> bool:
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
