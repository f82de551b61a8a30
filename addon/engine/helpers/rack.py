"""A printed rack: a plate on two rods that bears the wires of all copies at their spacing.

Each wire hangs in a groove of the bar over its copy and is wound round it there. Copies in a lower row hang on a bar of
their own between the rows, carried by a stem at either end. The bar over the bath is chosen by what it gives way under
the copies (`beam.sag`); the wires lead the current, for plastic does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..hanging.result import Hanging
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..settings.job import Job
from ..settings.tank import Rack
from ..tank.body import Pose
from ..units import GRAVITY, MM, in_mm
from . import beam, printed
from .hanger import MAX_SWAY_M
from .lattice import Array, Box
from .printed import GROOVE_FIT, MIN_WALL
from .rods import OnRods, Rods

SECTIONS = tuple((t * MM, h * MM) for t, h in ((6, 10), (6, 14), (8, 18), (10, 24)))  # thickness, height
STEM = 8 * MM  # width of a stem
BESIDE = 3 * MM  # of a stem from the copies, and of a lower bar from those above and below it
LOWER = 8 * MM  # height of a lower bar
SAME_ROW = 1 * MM
MAX_LEAN_M = 5 * MM  # of a wire from the rack's plane, over its way down to the part: common practice, no source


@dataclass(frozen=True, eq=False)
class RackMade(OnRods):
    """The rack.

    section : (2,) m, thickness and height of the upper bar
    wires : (k, 3) m, tank, where each wire meets its bar; rows : of copies; pitch : m from wire to wire in a row, None
    for one; copies : number
    """

    section: tuple[float, float]
    wires: Array
    rows: int
    pitch: float | None
    copies: int


def positions(job: Job, planned: Rack | None) -> Rack:
    """Where the copies hang: as computed, else as the job says. Raises InputError where there are no copies."""
    rack = planned or job.rack
    if len(rack.positions) < 2:
        raise InputError(
            filled(
                "rack: no copies are asked for; say how many are to hang in the tank ({rack.suggest}), or where"
                " ({rack.positions_mm})"
            )
        )
    return rack


def anchors(surface: Surface, hanging: Hanging, contacts: Array) -> Array:
    """(k, 3) where the wires of a copy hold it, in its axes: those of the way up that it hangs, else the contacts."""
    held = [
        suggestion.hold
        for suggestion in hanging.suggestions[:1]
        if suggestion.hold is not None and suggestion.hold.wires
    ]
    if held and not held[0].tether:
        return np.asarray(held[0].points)
    if len(contacts):
        return contacts[:, :3]
    return surface.bounds.mean(axis=0)[None]


def run(
    surface: Surface,
    tracer: Tracer,
    job: Job,
    poses: Sequence[Pose],
    hanging: Hanging,
    rods: Rods,
    held: tuple[Array, float],
) -> RackMade:
    """The rack of copies at these poses. held : (k, 3) where wires hold a copy, in its axes, and their diameter, m

    Raises InputError, one line, where rows hang too close, or no bar bears the copies.
    """
    if hanging.start is None or hanging.end is None:
        raise InputError(
            filled(
                "{name}: a rack needs the part's weight, but the mesh is open; close it first",
                name=surface.name,
            )
        )
    maker = _Maker(surface, job, poses, rods, held)
    load = max(hanging.start.net, hanging.end.net, 0.0) * GRAVITY * len(poses)
    sway = np.inf
    for thickness, height in SECTIONS:
        if maker.groove > thickness - MIN_WALL:
            continue
        sway = maker.sway(load, thickness, height)
        if sway <= MAX_SWAY_M:
            break
    else:
        raise InputError(
            filled(
                "{name}: the copies bend the rack's bar by {sway}; hang fewer of them ({rack.suggest})",
                name=surface.name,
                sway=in_mm(sway, 2),
            )
        )
    mesh = rods.made(list(maker.boxes(thickness, height)))
    made = printed.of(job, "rack", [mesh], rods.turn[0], sway, (tracer, poses, np.zeros((0, 3))))
    at = [(maker.plane, v, z) for row, z in zip(maker.rows, maker.bars, strict=True) for v in row]
    wires = rods.tank(np.array(at))
    first = maker.rows[0]
    apart = float(np.diff(first)[0]) if len(first) > 1 and len(held[0]) == 1 else None
    return RackMade(made, rods, (thickness, height), wires, len(maker.rows), apart, len(poses))


class _Maker:
    """Rows of copies, and the bars over them."""

    def __init__(
        self, surface: Surface, job: Job, poses: Sequence[Pose], rods: Rods, held: tuple[Array, float]
    ) -> None:
        self._rods, self._modulus = rods, printed.modulus(job)
        self.groove = held[1] + GROOVE_FIT
        used = surface.points[np.unique(surface.triangles)]
        boxes = [(own.min(axis=0), own.max(axis=0)) for own in (rods.own(pose.of(used)) for pose in poses)]
        tops = np.array([high[2] for _, high in boxes])
        order = np.argsort(-tops, kind="stable")
        rows = [[order[0]]]
        for k in order[1:]:
            if tops[rows[-1][0]] - tops[k] > SAME_ROW:
                rows.append([])
            rows[-1].append(k)
        wires = [rods.own(pose.of(held[0])) for pose in poses]
        plane = np.concatenate(wires)[:, 0]
        self.plane = float(plane.min() + plane.max()) / 2
        if np.ptp(plane) / 2 > MAX_LEAN_M:
            raise InputError(
                filled(
                    "rack: its wires would hang up to {lean} off one plane; turn the copies "
                    "({place.turn_deg}, {rack.turns_deg}), or hang them in a row between the anodes "
                    "({rack.positions_mm})",
                    lean=in_mm(float(np.ptp(plane)) / 2),
                )
            )
        self.rows = [np.unique(np.concatenate([wires[k][:, 1] for k in row]).round(5)) for row in rows]
        self._counts = [len(row) for row in rows]
        self._span = max(max(abs(low[1]), abs(high[1])) for low, high in boxes)
        self._check_grooves()
        self.bars = [rods.shoulder]  # z of the upper side of each
        for above, below in zip(rows[:-1], rows[1:], strict=True):
            floor = min(boxes[k][0][2] for k in above)
            roof = max(tops[k] for k in below)
            if floor - roof < LOWER + 2 * BESIDE:
                raise InputError(
                    filled(
                        "rack: two rows hang {apart} apart, too near for a bar of {bar} between them; hang "
                        "fewer copies ({rack.suggest}), or take a deeper tank",
                        apart=in_mm(max(floor - roof, 0.0)),
                        bar=in_mm(LOWER),
                    )
                )
            self.bars.append((floor + roof + LOWER) / 2)
        if len(rows) > 1 and self._stem + STEM > rods.room:
            raise InputError("rack: beside the copies there is no room for stems; take a longer tank, or fewer copies")

    @property
    def _stem(self) -> float:
        """v where the stems begin."""
        return max(self._span + BESIDE, self._rods.reach - STEM)

    def _check_grooves(self) -> None:
        for row in self.rows:
            if len(row) > 1 and float(np.diff(row).min()) < self.groove + 2 * MIN_WALL:
                raise InputError("rack: two wires of a row are too near for grooves of their own; hold it on one wire")
            if float(np.abs(row).max()) + self.groove + 2 * MIN_WALL > self._rods.room:
                raise InputError(
                    filled("rack: a wire hangs beyond the tank's side; move the copies ({rack.positions_mm})")
                )

    @property
    def _half(self) -> float:
        """m, half of the upper bar."""
        widest = max(float(np.abs(row).max()) for row in self.rows) + self.groove + 2 * MIN_WALL
        stems = self._stem + STEM if len(self.rows) > 1 else 0.0
        return max(self._rods.reach, widest, stems)

    def sway(self, load: float, thickness: float, height: float) -> float:
        """m that the upper bar gives way, the whole load on its grooves, or at the stems where there are some."""
        copy_load = load / sum(self._counts)
        at, force = self.rows[0], np.full(len(self.rows[0]), copy_load * self._counts[0] / len(self.rows[0]))
        side = self._stem + STEM / 2
        if len(self.rows) > 1:
            others_force = copy_load * sum(self._counts[1:]) / 2
            at, force = np.append(at, [-side, side]), np.append(force, [others_force, others_force])
        ends = np.array([-self._half, 0.0, self._half])
        inertia = beam.second_moment(thickness - self.groove, height)
        apart = self._rods.apart
        sag = beam.sag(force, at, (-apart, apart), np.append(at, ends), self._modulus, inertia)
        lower = beam.second_moment(thickness - self.groove, LOWER)
        for row, count in zip(self.rows[1:], self._counts[1:], strict=True):
            share = np.full(len(row), copy_load * count / len(row))
            sag = np.append(sag, beam.sag(share, row, (-side, side), row, self._modulus, lower))
        return float(np.abs(sag).max())

    def boxes(self, thickness: float, height: float) -> Iterator[Box]:
        """The plate, the middle of its grooves over the wires."""
        face = self.plane + self.groove / 2
        back = face - thickness
        ends, heights = (-self._half, self._half), (self.bars[0] - height, self.bars[0])
        yield from self._bar(self.rows[0], ends, heights, (back, face))
        yield from self._rods.hooks(back, face)
        if len(self.rows) < 2:
            return
        start, end = self._stem, self._stem + STEM
        for low, high in ((start, end), (-end, -start)):
            yield (back, low, self.bars[-1] - LOWER), (face, high, self.bars[0])
        for row, top in zip(self.rows[1:], self.bars[1:], strict=True):
            yield from self._bar(row, (-start, start), (top - LOWER, top), (back, face))

    def _bar(
        self, row: Array, ends: tuple[float, float], heights: tuple[float, float], sides: tuple[float, float]
    ) -> Iterator[Box]:
        """A bar with a groove for each wire in its front."""
        (low, high), (back, face) = heights, sides
        yield (back, ends[0], low), (face - self.groove, ends[1], high)
        edges = [ends[0], *(v + side * self.groove / 2 for v in row for side in (-1, 1)), ends[1]]
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            yield (back, start, low), (face, end, high)
