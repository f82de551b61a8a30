"""Several copies of the part in one tank: how far apart they must hang, how many fit, and the current each of them
gets.

Copies stand level in columns along the anodes, so that each sees them, and in rows one below the other where one row
is too long. Each arrangement is solved as a whole, at a preview's resolution and with the same pieces of the part, and
is compared with one copy alone at the same mean density in the same tank.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..chemistry import kinetics
from ..errors import InputError
from ..filled import filled
from ..findings import Code, Finding, Quantity, Severity
from ..hanging.fit import LIQUID_MARGIN_M, anode_directions
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Rack
from ..tank.arrange import arrange
from ..tank.body import STAND_OFF_M, Role
from ..units import mm
from .clearance import check
from .newton import solve
from .panels import PartPieces, cell, lay
from .pieces import Array
from .problem import Drive
from .result import Spread

TRIAL_PIECES = 2400  # of all copies together
MIN_PIECES_PER_COPY, MAX_PIECES_PER_COPY = 400, 1500  # pieces of each copy
COPIES_PANEL_SHARE = 0.75  # share of the panels that is the copies'
TRIED_GAPS_OVER_SIZE = (0.15, 0.4, 1.0, 2.0)  # of the copy's size: what is tried between copies
MAX_OPEN_GAP_OVER_SIZE = 4.0  # of the copy's size: in an open tank no gap is wider


@dataclass(frozen=True, eq=False)
class Spacing:
    """Copies at one distance from each other.

    gap : m between neighbors; positions : (n, 3) m, tank, the middle of each copy, the upper row first
    share : (n,) current of each copy over the mean
    shaded : (n,) all but 5 % of each copy's surface gets at least this share of what the same place of a lone copy
        gets, with the copies' own shares taken off: what its neighbors leave of its evenness
    off : the worst departure from one, of a share to either side or of `shaded` downwards
    current : A of all; voltage : V
    """

    gap: float
    positions: Array
    share: Array
    shaded: Array
    off: float
    current: float
    voltage: float

    @property
    def rows(self) -> tuple[int, ...]:
        """Copies in each row, the upper row first."""
        heights = self.positions[:, 2]
        ends = np.flatnonzero(np.diff(heights) < 0) + 1
        return tuple(len(row) for row in np.split(heights, ends))


@dataclass(frozen=True, eq=False)
class RackPlan:
    """The spacing found for a number of copies.

    wanted : copies asked for; tolerance : of `Spacing.off`
    tried : by rising gap; chosen : the least gap within the tolerance, else the best of them; enough : whether it is
    within
    fits : copies that the tank takes at that gap, None in an open tank; fed : copies that the supply feeds
    current_each : A of one copy at the wanted density; findings : gaps that could not be tried
    """

    wanted: int
    tolerance: float
    tried: tuple[Spacing, ...]
    chosen: Spacing
    enough: bool
    fits: int | None
    fed: int
    current_each: float
    findings: tuple[Finding, ...] = ()

    @property
    def pitch(self) -> float | None:
        """m from the middle of one to the middle of the next, where all hang in one row; None where they do not."""
        places = self.chosen.positions
        return None if np.ptp(places[:, 2]) > 0 else float(np.linalg.norm(places[1] - places[0]))


@dataclass(frozen=True, eq=False)
class Grid:
    """Where copies can hang. Meters, tank coordinates.

    axis : 0 or 1, along which columns follow each other; size : (3,) of a copy as it hangs
    middle : (3,) of the grid; level : height of a single row; room : (columns' length, rows' height) that copies may
    take up
    """

    axis: int
    size: Array
    middle: Array
    level: float
    room: tuple[float, float]

    @classmethod
    def of(cls, surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None) -> Grid:
        """For the job's part, way up, turn, tank and anodes; the job's own rack is left aside."""
        own = arrange(surface, job, meshes, Rack())
        pose = own.poses[0]
        size = np.ptp(pose.of(surface.points[np.unique(surface.triangles)]), axis=0)
        towards = np.abs(anode_directions(job, own.inside)).sum(axis=0)
        axis = 1 if towards[0] > towards[1] else 0
        middle = pose.middle.copy()
        if own.inside is None:
            return cls(axis, size, middle, float(middle[2]), (np.inf, np.inf))
        tank = own.inside.mean(axis=0)
        length, height = (float(np.ptp(own.inside, axis=0)[k]) for k in (axis, 2))
        if job.tank.shape == "cylinder":  # a chord, at the copies' far side
            side = abs(middle[1 - axis] - tank[1 - axis]) + size[1 - axis] / 2 + LIQUID_MARGIN_M
            length = 2 * np.sqrt(max((length / 2) ** 2 - side**2, 0.0))
        middle[axis], middle[2] = tank[axis], tank[2]
        return cls(
            axis, size, middle, float(pose.middle[2]), (length - 2 * LIQUID_MARGIN_M, height - 2 * LIQUID_MARGIN_M)
        )

    def most(self, gap: float) -> int | None:
        """How many copies the tank takes; None in an open tank."""
        if not np.isfinite(self.room[0]):
            return None
        return int(np.prod([self._along(k, gap) for k in range(2)]))

    def _along(self, k: int, gap: float) -> int:
        """Copies in a row (k = 0), or rows (k = 1)."""
        size = float(self.size[(self.axis, 2)[k]])
        return max(int(np.floor((self.room[k] + gap) / max(size + gap, 1e-6) + 1e-9)), 0)

    def places(self, copies: int, gap: float) -> Array | None:
        """(copies, 3) the middle of each, in as few rows as the tank allows; None where they do not fit."""
        most = self.most(gap)
        if most is not None and most < copies:
            return None
        rows = 1 if most is None else -(-copies // self._along(0, gap))
        in_row = np.diff(np.linspace(0, copies, rows + 1).round().astype(int))
        places = []
        for row, count in enumerate(in_row):
            place = np.tile(self.middle, (count, 1))
            place[:, self.axis] += (np.arange(count) - (count - 1) / 2) * (self.size[self.axis] + gap)
            place[:, 2] = self.level if rows == 1 else self.middle[2] + ((rows - 1) / 2 - row) * (self.size[2] + gap)
            places.append(place)
        return np.concatenate(places)


def suggest(
    surface: Surface, job: Job, copies: int, tolerance: float, meshes: Mapping[str, Part] | None = None
) -> Progress[RackPlan]:
    """The least gap at which every copy gets its share and is as even as one alone, within a tolerance (share).

    meshes : models that the job names by file, in meters and tank coordinates
    Raises InputError where the part cannot stand in the tank alone, or so many copies do not fit however near they
    hang.
    """
    area = surface.plated_total
    grid = Grid.of(surface, job, meshes)
    table = Trials(surface, job, meshes, max(copies, 2))
    alone = grid.places(1, 0.0)
    if alone is None:
        raise InputError(
            filled(
                "{rack.suggest}: not even one copy has {gap} mm of liquid on every side; take a larger tank,"
                " or turn it",
                gap=mm(LIQUID_MARGIN_M, 0),
            )
        )
    yield from subrange(0.0, 0.2, table.solved(alone, 0.0))
    gaps, tried, untried = _gaps(grid, copies), [], []
    if not gaps:
        raise InputError(
            filled(
                "{rack.suggest}: {copies} copies do not fit the tank, {most} do with {gap} mm between them;"
                " ask for fewer, or take a larger tank",
                copies=copies,
                most=grid.most(STAND_OFF_M) or 0,
                gap=mm(STAND_OFF_M, 0),
            )
        )
    for k, gap in enumerate(gaps):
        step = 0.2 + 0.6 * k / len(gaps), 0.2 + 0.6 * (k + 1) / len(gaps)
        try:
            tried.append((yield from subrange(*step, table.solved(grid.places(copies, gap), gap))))
        except InputError as fault:
            untried.append(Finding(Code.RACK_GAP_UNTRIED, Severity.COSTS, {Quantity.GAP: gap}, {"reason": str(fault)}))
    if not tried:
        raise InputError(filled("{rack.suggest}: {reason}", reason=untried[0].names["reason"]))
    closer = _closer(tried, tolerance)
    if closer is not None:
        places = grid.places(copies, closer)
        if places is not None:
            tried.append((yield from subrange(0.8, 1.0, table.solved(places, closer))))
            tried.sort(key=lambda spacing: spacing.gap)
    chosen = _least(tried, tolerance)
    copy_current = job.target.density * area
    return RackPlan(
        wanted=copies,
        tolerance=tolerance,
        tried=tuple(tried),
        chosen=chosen,
        enough=chosen.off <= tolerance,
        fits=grid.most(chosen.gap),
        fed=int(job.supply.current / copy_current + 1e-9),
        current_each=copy_current,
        findings=tuple(untried),
    )


def _gaps(grid: Grid, copies: int) -> list[float]:
    """The gaps to try between a number of copies: some shares of their size, and the widest that the tank allows."""
    size = float(grid.size[grid.axis])
    wanted = sorted({max(share * size, STAND_OFF_M) for share in TRIED_GAPS_OVER_SIZE})
    fitting = [gap for gap in wanted if grid.places(copies, gap) is not None]
    if len(fitting) < len(wanted):
        low = fitting[-1] if fitting else STAND_OFF_M
        high = min(wanted[len(fitting)], MAX_OPEN_GAP_OVER_SIZE * size)
        if grid.places(copies, low) is None:
            return []
        for _ in range(20):
            middle = (low + high) / 2
            low, high = (middle, high) if grid.places(copies, middle) is not None else (low, middle)
        if not fitting or low > 1.05 * fitting[-1]:
            fitting.append(low)
    return fitting


def _least(tried: list[Spacing], tolerance: float) -> Spacing:
    """The narrowest within the tolerance, otherwise the one that departs least."""
    return next((spacing for spacing in tried if spacing.off <= tolerance), min(tried, key=lambda spacing: spacing.off))


def _closer(tried: list[Spacing], tolerance: float) -> float | None:
    """The next gap to try: below the least that serves, otherwise beside the best, on its better side."""
    best = tried.index(_least(tried, tolerance))
    beside = [tried[k] for k in (best - 1, best + 1) if 0 <= k < len(tried)]
    if tried[best].off <= tolerance:
        beside = tried[best - 1 : best]
    if not beside:
        return None
    return (tried[best].gap + min(beside, key=lambda spacing: spacing.off).gap) / 2


class Trials:
    """Solves arrangements of one part in one tank, all with the same pieces."""

    def __init__(self, surface: Surface, job: Job, meshes: Mapping[str, Part] | None, copies: int) -> None:
        self.surface, self.job, self.meshes = surface, job, meshes
        self.each = int(np.clip(TRIAL_PIECES / copies, MIN_PIECES_PER_COPY, MAX_PIECES_PER_COPY))
        self.part: PartPieces | None = None
        self.alone: Array | None = None  # density of the first that was solved, over its mean

    def solved(self, places: Array | None, gap: float) -> Progress[Spacing]:
        """Copies at these places, compared with what was solved first. Raises InputError where they cannot stand
        there."""
        assert places is not None
        surface, job = self.surface, self.job
        rack = Rack(positions=tuple(map(tuple, places.tolist())), turns=(job.place.turn,) * len(places))
        arrangement = arrange(surface, job, self.meshes, rack)
        count = int(self.each * len(places) / COPIES_PANEL_SHARE)
        panels = yield from subrange(0.0, 0.3, lay(surface, arrangement, count, part=self.part))
        self.part = panels.part
        check(surface, panels)
        panel_cell = yield from subrange(0.3, 0.6, cell(panels, *kinetics.laws(job.bath), job.bath.conductivity))
        drive = Drive(current=job.target.density * float(surface.plated_area.sum()) * len(places))
        state = yield from subrange(0.6, 1.0, solve(panel_cell, drive, tolerance=1e-4))
        area, plated = panel_cell.influence.area, panel_cell.rows(Role.PART)
        copy_densities = np.stack([np.where(plated[rows], state.j[rows], 0.0) for rows in panels.bodies[: len(places)]])
        own = area[panels.bodies[0]] * plated[panels.bodies[0]]
        flow = copy_densities @ own
        even = copy_densities / (flow / own.sum())[:, None]
        if self.alone is None:
            self.alone = even[0]
        shown = (own > 0) & (self.alone > 0)
        shaded = np.array([Spread.of(copy[shown] / self.alone[shown], own[shown]).p5 for copy in even])
        share = flow / flow.mean()
        off = max(float(np.abs(share - 1).max()), float((1 - shaded).max()))
        return Spacing(gap, places, share, shaded, off, float(flow.sum()), state.voltage)
