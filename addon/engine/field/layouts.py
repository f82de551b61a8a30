"""What would even the deposit out: the same part at other densities, with other anodes, turned half-way
through.

Operators are used again wherever geometry allows: another density needs none, and the plates that are tried
on the sides stand in one set of panels, for a plate is a sheet, and one that carries no current is as good as
absent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from .. import faraday, kinetics
from ..errors import Fault
from ..job import Job
from ..part import Part
from ..sections import Anode
from ..steps import Steps, between
from ..surface import Surface
from ..tank import STAND_OFF, Arrangement, Pose, Role, arrange
from ..units import A_PER_DM2, MM
from .answer import showing
from .clearance import check
from .panels import Panels, PartPieces, cell, lay
from .pieces import Array
from .problem import Cell, Drive, State, resumed, solve
from .refine import a_side

PANELS = 2500
TURN = "turned by half after half of the time"
BOTH = "what faces away comes to the front for half of the time"
DENSITIES = (0.5, 1.5)  # times the wanted one
DISTANCES = (0.4, 1.0)  # of the way from the part to the wall
RING = 6  # plates all round
ALIKE = 0.02  # layouts whose thinnest/mean differ by less count as equal, and the quicker one wins
HALF_TURN = np.diag([-1.0, -1.0, 1.0])


@dataclass(frozen=True)
class Trial:
    """One way to plate the part.

    name : what is done; why : what it does to the deposit, against the job as it is
    throw : thinnest over mean, of show faces where any are marked; density : A/m2, mean
    time : s to the wanted mean thickness; time_thinnest : s until the thinnest place has it; voltage : V
    own : whether it is the job as it is
    """

    name: str
    why: str
    throw: float
    density: float
    time: float
    time_thinnest: float
    voltage: float
    own: bool = False


@dataclass(frozen=True)
class Comparison:
    """trials : best first; notes : sentences: what was not tried, and the reason"""

    trials: tuple[Trial, ...]
    notes: tuple[str, ...] = ()


def compare(surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None) -> Steps[Comparison]:
    """Try what could even the deposit out, at a preview's resolution, and put the best first.

    Raises Fault where the job as it is cannot stand. A layout that finds no room is left out, with a note.
    """
    table = _Table(surface, job)
    own = arrange(surface, job, meshes)
    as_is = yield from between(0.0, 0.15, _ready(surface, job, own))
    here = yield from between(0.15, 0.2, table.solved(as_is))
    table.add("as it is", "the job's own anodes and density", as_is, [here], own=True)
    for factor in DENSITIES:
        found = yield from between(0.2, 0.3, table.solved(as_is, factor))
        why = "polarisation reaches further at less current" if factor < 1 else "quicker, but less even"
        table.add(_dense(factor * job.target.density, job), why, as_is, [found])
    if len(own.poses) == 1:
        turned = yield from between(0.3, 0.4, _ready(surface, job, _turned(own), as_is.panels.part))
        other = yield from between(0.4, 0.45, table.solved(turned))
        table.add(f"as it is, {TURN}", BOTH, as_is, [here, other])
    if any(body.role != Role.ANODE and not body.wall for body in own.bodies):
        bare = replace(own, bodies=tuple(b for b in own.bodies if b.role == Role.ANODE or b.wall))
        without = yield from between(0.45, 0.55, _ready(surface, job, bare, as_is.panels.part))
        found = yield from table.solved(without)
        table.add(
            "without thieves and shields",
            "the current is no longer led away from the edges",
            without,
            [found],
        )
    yield from between(0.55, 0.8, _sides(table, meshes))
    yield from between(0.8, 1.0, _ring(table, meshes))
    return Comparison(_ranked(table.rows), tuple(table.notes))


@dataclass(frozen=True, eq=False)
class _Ready:
    """Panels and their cell, to be asked for densities."""

    panels: Panels
    cell: Cell
    last: list[State] = field(default_factory=list)  # what was found last: a first guess for the next

    def only(self, *names: str) -> _Ready:
        """With current from these anodes alone; the others must be sheets."""
        active = self.cell.active.copy()
        copies = len(self.panels.arrangement.poses)
        for body, rows in zip(self.panels.arrangement.bodies, self.panels.bodies[copies:], strict=True):
            if body.role == Role.ANODE and body.name not in names:
                active[rows] = False
        return replace(self, cell=replace(self.cell, active=active))


def _ready(
    surface: Surface, job: Job, arrangement: Arrangement, part: PartPieces | None = None
) -> Steps[_Ready]:
    """Panels and influence. part : pieces to use again, so that densities can be added up."""
    panels = yield from between(0.0, 0.3, lay(surface, arrangement, PANELS, part=part))
    check(surface.points[np.unique(surface.triangles)], panels)
    made = yield from between(0.3, 1.0, cell(panels, *kinetics.laws(job.bath), job.bath.conductivity))
    return _Ready(panels, made)


class _Table:
    """Gathers trials of one part and one job."""

    def __init__(self, surface: Surface, job: Job) -> None:
        self.surface, self.job = surface, job
        self.rows: list[Trial] = []
        self.notes: list[str] = []

    def solved(self, ready: _Ready, factor: float = 1.0) -> Steps[tuple[Array, float]]:
        """Densities (p,) of the pieces of the first copy at `factor` times the wanted mean, and the
        voltage.
        """
        area = float(self.surface.plated_area.sum()) * len(ready.panels.arrangement.poses)
        drive = Drive(current=factor * self.job.target.density * area)
        start = resumed(ready.cell, ready.last.pop()) if ready.last else None
        state = yield from solve(ready.cell, drive, start, tolerance=1e-4)
        ready.last.append(state)
        return a_side(ready.panels, state.j), state.voltage

    def add(
        self, name: str, why: str, ready: _Ready, shares: list[tuple[Array, float]], *, own: bool = False
    ) -> None:
        """A trial from what was solved in each equal share of the time."""
        shown, plated = showing(self.surface, ready.panels, ready.cell)
        area = ready.cell.influence.area[ready.panels.bodies[0]] * ready.panels.part.sides
        density = np.mean([density for density, _ in shares], axis=0)
        mean = float(area[plated] @ density[plated]) / float(area[plated].sum())
        throw = max(float(density[shown].min()), 0.0) / mean
        metal, bath = faraday.metal(self.job.bath.metal), self.job.bath
        time = faraday.time(metal, mean, self.job.target.thickness, bath.efficiency)
        voltage = max(volts for _, volts in shares)
        self.rows.append(
            Trial(name, why, throw, mean, time, time / throw if throw > 0 else np.inf, voltage, own)
        )


def _dense(density: float, job: Job) -> str:
    low, high = job.bath.window
    where = (
        ", below the bath's window"
        if density < low
        else ", above the bath's window"
        if density > high
        else ""
    )
    return f"{density / A_PER_DM2:.3g} A/dm2{where}"


def _turned(own: Arrangement) -> Arrangement:
    """With the part turned by half about the vertical through its middle."""
    pose = own.poses[0]
    shift = pose.middle + HALF_TURN @ (pose.shift - pose.middle)
    return replace(own, poses=(Pose(pose.name, HALF_TURN @ pose.turn, shift, pose.middle),))


def _sides(table: _Table, meshes: Mapping[str, Part] | None) -> Steps[None]:
    """One side, two sides, and one side with a half-time turn, at several distances: one set of operators."""
    surface, job = table.surface, table.job
    own = arrange(surface, job, meshes)
    room = _Room.of(own, surface, job)
    places = [room.start + f * (room.end - room.start) for f in DISTANCES]
    if room.end <= room.start:
        table.notes.append(
            "plates on the sides were not tried: there is no room between the part and the wall"
        )
        return
    plates = tuple(room.plate(way, at) for at in places for way in (1.0, -1.0))
    try:
        tried = arrange(surface, replace(job, anodes=plates), meshes)
        ready = yield from between(0.0, 0.5, _ready(surface, job, tried))
    except Fault as fault:
        table.notes.append(f"plates on the sides were not tried: {fault}")
        return
    for k, at in enumerate(places):
        far = f"{(at - room.face) / MM:.0f} mm away"
        front, back = f"anode {2 * k + 1}", f"anode {2 * k + 2}"
        step = 0.5 + 0.5 * k / len(places), 0.5 + 0.5 * (k + 1) / len(places)
        one = yield from between(*step, table.solved(ready.only(front)))
        other = yield from between(*step, table.solved(ready.only(back)))
        two = yield from between(*step, table.solved(ready.only(front, back)))
        table.add(f"a plate on one side, {far}", "the side that faces away gets little", ready, [one])
        table.add(f"plates on two sides, {far}", "both sides face an anode", ready, [two])
        if room.even and len(own.poses) == 1:  # turning the part is then the same as moving the plate across
            table.add(f"a plate on one side, {far}, {TURN}", BOTH, ready, [one, other])


def _ring(table: _Table, meshes: Mapping[str, Part] | None) -> Steps[None]:
    """Plates all round."""
    surface, job = table.surface, table.job
    room = _Room.of(arrange(surface, job, meshes), surface, job)
    plates = room.ring()
    if not plates:
        table.notes.append("a ring of plates was not tried: there is no room for one round the part")
        return
    try:
        tried = arrange(surface, replace(job, anodes=plates), meshes)
        ready = yield from between(0.0, 0.8, _ready(surface, job, tried))
    except Fault as fault:
        table.notes.append(f"a ring of plates was not tried: {fault}")
        return
    found = yield from between(0.8, 1.0, table.solved(ready))
    table.add(f"a ring of {RING} plates", "current comes from all round", ready, [found])


@dataclass(frozen=True, eq=False)
class _Room:
    """Where plates can stand round what hangs in the tank.

    axis : 0 or 1, across the tank; face : where the part's side is, start and end : nearest and furthest
    place of a plate, all from the middle of the part along the axis, metres; middle : (3,); wide, tall : of a
    plate inner, outer : least and largest radius of a ring; even : whether the tank looks the same from both
    sides
    """

    axis: int
    face: float
    start: float
    end: float
    middle: Array
    wide: float
    tall: float
    inner: float
    outer: float
    even: bool

    @classmethod
    def of(cls, own: Arrangement, surface: Surface, job: Job) -> _Room:
        points = np.vstack([pose.of(surface.points) for pose in own.poses])
        low, high = points.min(axis=0), points.max(axis=0)
        middle = 0.5 * (low + high)
        half = 0.5 * (high - low)
        inside = (
            own.inside
            if own.inside is not None
            else np.array([middle - 3.0 * half.max(), middle + 3.0 * half.max()])
        )
        size = (inside[1] - inside[0])[:2]
        axis = int(np.argmin(size)) if size[0] != size[1] else 1
        walls = np.minimum(middle - inside[0], inside[1] - middle)[:2]
        round_ = job.tank.shape in ("cylinder", "mesh")
        end = float(walls[axis]) * (0.8 if round_ else 1.0) - STAND_OFF
        start = float(half[axis]) + max(STAND_OFF, 0.1 * float(half.max()))
        wide = 1.1 * np.sqrt(max(walls.min() ** 2 - end**2, 0.0)) if round_ else size[1 - axis] * 2 / 3
        radius = float(np.linalg.norm(points[:, :2] - middle[:2], axis=1).max())
        centred = np.allclose(middle[:2], inside.mean(axis=0)[:2], atol=1e-3 * size.max())
        return cls(
            axis, float(half[axis]), start, end, middle, float(wide), 2.0 * float(half[2]) or STAND_OFF,
            radius + max(STAND_OFF, 0.1 * radius), 0.9 * (float(walls.min()) - STAND_OFF),
            centred and job.tank.shape != "mesh" and not (job.shields or job.thieves),
        )  # fmt: skip

    def plate(self, way: float, at: float) -> Anode:
        """A plate on one side (+1 or -1)."""
        towards = np.zeros(3)
        towards[self.axis] = -way
        return self._facing(towards, at, self.wide)

    def ring(self) -> tuple[Anode, ...]:
        """Plates all round, or none where there is no room."""
        if self.outer < self.inner:
            return ()
        radius = self.inner + 0.8 * (self.outer - self.inner)
        angles = 2.0 * np.pi * np.arange(RING) / RING
        wide = 1.6 * radius * float(np.tan(np.pi / RING))
        return tuple(self._facing(np.array([-np.cos(a), -np.sin(a), 0.0]), radius, wide) for a in angles)

    def _facing(self, towards: Array, at: float, wide: float) -> Anode:
        x, y, z = (self.middle - at * towards).tolist()
        return Anode(plate=(wide, self.tall), centre=(x, y, z), normal=tuple(towards.tolist()))  # type: ignore[arg-type]


def _ranked(rows: list[Trial]) -> tuple[Trial, ...]:
    """The most even first; among equals the one that has the thinnest place done first."""
    left, ranked = sorted(rows, key=lambda row: -row.throw), []
    while left:
        best = left[0].throw
        alike = [row for row in left if row.throw >= (1.0 - ALIKE) * best]
        pick = min(alike, key=lambda row: row.time_thinnest)
        left.remove(pick)
        ranked.append(pick)
    return tuple(ranked)
