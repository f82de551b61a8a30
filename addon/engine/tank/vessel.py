"""A tank that a part fits into: the smallest common vessel for a job that says nothing of its tank, and a box to order.

The distances are common practice, no source: the plan states the same ones.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..geometry.attitude import turn_up
from ..geometry.frames import unit
from ..geometry.triangles import bounds
from ..mesh.surface import Surface
from ..settings import tables
from ..settings.job import Job
from ..settings.tank import Tank
from ..units import MM
from .anodes import END_CLEARANCE_M, LONG_SIDES, SHORT_SIDES, facing_axis, min_plate_area
from .body import STAND_OFF_M

Array = NDArray[np.float64]

BESIDE_M, ABOVE_M, BELOW_M, FREEBOARD_M = 50 * MM, 20 * MM, 20 * MM, 30 * MM
SIZE_STEP_M, LEVEL_STEP_M = 10 * MM, 5 * MM  # m, sizes and the level of an assumed tank are rounded up to this
WALL_CLEARANCE_M = 25 * MM  # of the part from the walls without an anode
# of an anode from the part: as far as the part is wide, so that its edges do not draw all of the current
MIN_ANODE_DISTANCE_M, MAX_ANODE_DISTANCE_M = 40 * MM, 200 * MM
MAX_DEPTH_RATIO = 3.0  # ratio of a vessel's depth to the needed one: hands and wires hardly reach into a deeper one
RACK_GAP_WIDTHS = 1.0  # between copies that are to be spaced, in widths of one
MAX_ROWS = 4  # of copies, one below the other
MAX_SIZE_M = 10.0  # no tank of a job is larger

_used_points: WeakKeyDictionary[Surface, Array] = WeakKeyDictionary()
# cached by way up and turn: many readers ask for the tank, and each takes a pass over all points
_extents: WeakKeyDictionary[Surface, dict[tuple[float, ...], Array]] = WeakKeyDictionary()


@dataclass(frozen=True)
class Space:
    """What a tank must hold at least, meters. across : 0 or 1, the axis along which the anodes face each other

    length : inside, square to that; width : inside, along it; level : of the liquid
    plate : m2 of each anode at least
    """

    across: int
    length: float
    width: float
    level: float
    plate: float

    def level_in(self, length: float) -> float:
        """m of liquid in a vessel of that inner length: enough for plates that are as wide as it lets them be."""
        tall = self.plate / (length - 2 * END_CLEARANCE_M) + 2 * END_CLEARANCE_M
        return max(self.level, _rounded_up(tall, LEVEL_STEP_M))


def is_assumed(job: Job) -> bool:
    """Whether the job leaves tank and contents unspecified, apart from the part's own places."""
    stated_sections = {key.split(".")[0] for key in job.specified or ()}
    usual = Tank()
    return (
        (job.tank.shape, job.tank.file) == (usual.shape, usual.file)
        and np.allclose((*job.tank.size, job.tank.level), (*usual.size, usual.level), rtol=1e-6)
        and job.anodes is None
        and job.place.centre is None  # measured from the default tank's floor
        and not (job.shields or job.thieves or stated_sections & {"tank", "anode"})
    )


def fitted(job: Job, surface: Surface) -> Job:
    """The job with the smallest common vessel for its tank, where it says nothing of one; else the job itself.

    The level is as high as part and anodes ask for. A part too large for every vessel of the table gets a custom box.
    A tank that was assumed before is chosen again.
    """
    if not (job.tank.assumed or is_assumed(job)):
        return job
    best = _smallest(_spaces(surface, job))
    return job if max(best.size) > MAX_SIZE_M else replace(job, tank=best)


def bath_volume(job: Job, surface: Surface) -> Callable[[Array], float]:
    """What tells m3 of bath in the smallest vessel for a part of a size along the tank's axes (3,), meters, and its
    copies: a search asks it hundreds of times."""
    plate = _plate(surface, job)

    def volume(extent: Array) -> float:
        best = _smallest(_spaces_of(extent, job, plate))
        return best.size[0] * best.size[1] * best.level

    return volume


def _smallest(spaces: list[Space]) -> Tank:
    tanks = [tank for space in spaces for tank in _common(space)] or [_made(space) for space in spaces]
    return min(tanks, key=lambda tank: tank.size[0] * tank.size[1] * tank.level)


def _plate(surface: Surface, job: Job) -> float:
    """m2 of each anode for the part and its copies."""
    return min_plate_area(surface, job, max(len(job.rack.positions), job.rack.suggest, 1))


def _rounded_up(length: float, step: float) -> float:
    return float(step * np.ceil(length / step - 1e-9))


def distance(extent: ArrayLike) -> float:
    """m from an anode to a part of that extent (3,), by the rule above."""
    return float(np.clip(np.max(np.asarray(extent)[:2]), MIN_ANODE_DISTANCE_M, MAX_ANODE_DISTANCE_M))


def name_of(tank: Tank) -> str:
    """The vessel of the table that an assumed tank is; "" for one to measure."""
    inside = sorted(round(length / MM) for length in tank.size[:2])
    for name, size in zip(tables.names("vessels"), _insides(), strict=True):
        if sorted(round(length / MM) for length in size[:2]) == inside and abs(size[2] - tank.size[2]) < 0.5 * MM:
            return name
    return ""


def roomy(extent: ArrayLike, tank: Tank) -> Tank:
    """A box tank no smaller than this one, with room for a part of that size (3,), meters, and its anodes."""
    length, width, height = np.asarray(extent, dtype=float)
    sizes = (length + 2 * BESIDE_M, width + 2 * BESIDE_M, height + ABOVE_M + BELOW_M)
    length, width, level = (
        own if own >= need else _rounded_up(need, SIZE_STEP_M)
        for own, need in zip((*tank.size[:2], tank.level), sizes, strict=True)
    )
    depth = tank.size[2] if tank.size[2] >= level else level + FREEBOARD_M
    return replace(tank, shape="box", size=(length, width, depth), level=level)


def _spaces(surface: Surface, job: Job) -> list[Space]:
    """The space that the part and its copies need; several options where copies are still to be spaced."""
    if job.rack.positions:
        middles = np.array(job.rack.positions)
        turns = job.rack.turns or (job.place.turn,) * len(middles)
        sizes = np.array([_extent(surface, job, turn) for turn in turns])
        reach = (np.abs(middles[:, :2]) + sizes[:, :2] / 2).max(axis=0)  # the tank's own middle is at zero
        level = float((middles[:, 2] + sizes[:, 2] / 2).max()) + ABOVE_M
        return [_space(2 * reach, level, sizes[0], _plate(surface, job))]
    return _spaces_of(_extent(surface, job, job.place.turn), job, _plate(surface, job))


def _spaces_of(size: Array, job: Job, plate: float) -> list[Space]:
    """The same for a part of that size (3,), whose copies have no places yet. plate : m2 of each anode at least"""
    spaces = []
    for rows in range(1, MAX_ROWS + 1 if job.rack.suggest > 1 else 2):
        columns = -(-max(job.rack.suggest, 1) // rows)
        whole = size * (1, 1, rows) + RACK_GAP_WIDTHS * max(size[:2]) * np.array([0, 0, rows - 1])
        whole[int(size[0] < size[1])] += (columns - 1) * (1 + RACK_GAP_WIDTHS) * max(size[:2])
        spaces.append(_space(whole[:2], float(whole[2]) + ABOVE_M + BELOW_M, size, plate))
    return spaces


def _space(level_extent: Array, level: float, size: Array, plate: float) -> Space:
    """level_extent : (2,) of everything; size : (3,) of one copy; plate : m2 of each anode at least"""
    across = facing_axis(level_extent[0], level_extent[1])
    beside = distance(size) + STAND_OFF_M
    return Space(
        across,
        float(level_extent[1 - across]) + 2 * WALL_CLEARANCE_M,
        float(level_extent[across]) + 2 * beside,
        _rounded_up(level, LEVEL_STEP_M),
        plate,
    )


def _extent(surface: Surface, job: Job, turn: float) -> Array:
    """(3,) m, of the part as it hangs, along the tank's axes."""
    known = _extents.setdefault(surface, {})
    key = (*(float(x) for x in job.part.up), float(turn))
    if key not in known:
        if surface not in _used_points:
            _used_points[surface] = surface.used_points
        c, s = np.cos(turn), np.sin(turn)
        about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        low, high = bounds(_used_points[surface] @ (about @ turn_up(unit(job.part.up))).T)
        known[key] = high - low
        known[key].flags.writeable = False  # shared: must not be changed
    return known[key]


def _common(space: Space) -> list[Tank]:
    """The vessels of the table that hold it."""
    tanks = []
    for long, short, depth in _insides():
        for length, width, on in ((long, short, LONG_SIDES), (short, long, SHORT_SIDES)):
            need = space.level_in(length) + FREEBOARD_M
            if length >= space.length and width >= space.width and need <= depth <= MAX_DEPTH_RATIO * need:
                tanks.append(_box(space, length, width, depth, on))
                break
    return tanks


def _made(space: Space) -> Tank:
    """A custom box."""
    length, width = (_rounded_up(need, SIZE_STEP_M) for need in (space.length, space.width))
    depth = _rounded_up(space.level_in(length) + FREEBOARD_M, SIZE_STEP_M)
    if length == width:
        length += SIZE_STEP_M  # in a square tank neither side is the longer one
    return _box(space, length, width, depth, LONG_SIDES if length > width else SHORT_SIDES)


def _box(space: Space, length: float, width: float, depth: float, on: str) -> Tank:
    """length : along what hangs between the plates; width : from plate to plate"""
    size = (length, width, depth) if space.across == 1 else (width, length, depth)
    return Tank(shape="box", size=size, level=space.level_in(length), plates=on, assumed=True)


def _insides() -> list[tuple[float, float, float]]:
    """m, of each vessel of the table: it is asked for once, for a search tries hundreds of sizes."""
    sizes = (tables.value(cells["inside_mm"]) for cells in tables.entries("vessels").values())
    return [(length * MM, width * MM, depth * MM) for length, width, depth in sizes]
