"""What would even the deposit out: the same part at other densities, with other anodes, turned half-way
through, without its thieves and shields.

Operators are used again wherever geometry allows: another density needs none, nor does a body that is taken
away, and the plates that are tried on the sides stand in one set of panels, for a plate is a sheet, and one
that carries no current is as good as absent.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .. import faraday
from ..chemistry import kinetics
from ..errors import InputError
from ..filled import filled
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..settings.job import Job
from ..settings.tank import Anode
from ..tank.arrange import Arrangement, arrange, turned_by_half
from ..tank.body import Body, Role, plate
from ..units import A_PER_DM2, mm
from .answer import showing
from .clearance import check
from .ends import quarters
from .extremes import extremes
from .newton import solve
from .panels import Panels, PartPieces, cell, lay
from .pieces import Array
from .problem import Cell, Drive, State, resumed
from .result import Spread
from .room import RING_PLATES, Room
from .trials import Comparison, Trial, out_of_reach, ranked, with_gains

TRIAL_PANELS = 2500
BOTH = "what faces away comes to the front for half of the time"
# Whether it is slower, whether the bath polarizes -> what another density does
SLOWER = {
    (True, False): "slower",
    (True, True): "slower; polarization evens out more at less current",
    (False, False): "quicker",
    (False, True): "quicker; polarization evens out less at more current",
}
DENSITY_FACTORS = (0.5, 1.5)  # times the wanted one
MAX_REMOVED_BODIES = 4  # thieves and shields that are taken away one by one


def compare(surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None) -> Progress[Comparison]:
    """Try what could even the deposit out, at a preview's resolution and without the coat's losses; the best first.

    Raises InputError where the job as it is cannot stand. A layout that finds no room is left out, with a note.
    """
    surface.check_plated()
    table = _Table(surface, job)
    own = arrange(surface, job, meshes)
    as_is = yield from subrange(0.0, 0.15, _ready(surface, job, own))
    halves = yield from subrange(0.15, 0.35, _turned(table, as_is, own))
    yield from subrange(0.35, 0.5, _as_it_hangs(table, as_is, halves))
    yield from subrange(0.5, 0.55, _bare(table, as_is, halves))
    yield from subrange(0.55, 0.8, _sides(table, own, as_is.panels.part))
    yield from subrange(0.8, 1.0, _ring(table, own, as_is.panels.part))
    return Comparison(ranked(with_gains(table.rows)), (*table.notes, *out_of_reach(table.rows)))


@dataclass(frozen=True, eq=False)
class _Ready:
    """Panels and their cell, to be asked for densities."""

    panels: Panels
    cell: Cell
    last: list[State] = field(default_factory=list)  # what was found last: a first guess for the next

    def only(self, *names: str) -> _Ready:
        """With current from these anodes alone; the others must be sheets."""
        idle = self._rows({body.name for body in self._bodies(Role.ANODE)} - set(names))
        return replace(self, cell=replace(self.cell, active=self.cell.active & ~idle))

    def less(self, names: Collection[str]) -> _Ready:
        """Without these bodies."""
        gone = self._rows(names)
        left = self.cell.influence.without(gone)
        cell = replace(self.cell, influence=left, active=self.cell.active & ~gone, schwarz=None)
        return _Ready(self.panels, cell)

    def load(self, state: State) -> float:
        """A/m2 of the anode that gives most, a sheet's counted on one side."""
        area = self.cell.influence.area
        rows = [self._rows({body.name}) & self.cell.active for body in self._bodies(Role.ANODE)]
        return max(float(-(area[some] @ state.j[some]) / area[some].sum()) for some in rows if some.any())

    def extras(self) -> list[str]:
        """The names of the thieves and shields."""
        return [body.name for body in self._bodies(Role.THIEF, Role.INSULATOR) if not body.wall]

    def _bodies(self, *roles: Role) -> list[Body]:
        return [body for body in self.panels.arrangement.bodies if body.role in roles]

    def _rows(self, names: Collection[str]) -> np.ndarray:
        """(n,) bool, the panels of these bodies."""
        found, copies = np.zeros(self.cell.influence.n, bool), len(self.panels.arrangement.poses)
        for body, rows in zip(self.panels.arrangement.bodies, self.panels.bodies[copies:], strict=True):
            found[rows] = body.name in names
        return found


def _ready(surface: Surface, job: Job, arrangement: Arrangement, part: PartPieces | None = None) -> Progress[_Ready]:
    """Panels and influence. part : pieces to use again, so that densities can be added up."""
    count = min(TRIAL_PANELS, job.effort.panels)
    panels = yield from subrange(0.0, 0.3, lay(surface, arrangement, count, part=part))
    check(surface, panels)
    made = yield from subrange(0.3, 1.0, cell(panels, *kinetics.laws(job.bath), job.bath.conductivity))
    return _Ready(panels, made)


@dataclass(frozen=True, eq=False)
class _Found:
    """density : (copies, p) A/m2 on the pieces of each copy; voltage : V; load : A/m2, of the anode that gives most"""

    density: Array
    voltage: float
    load: float


class _Table:
    """Gathers trials of one part and one job."""

    def __init__(self, surface: Surface, job: Job) -> None:
        self.surface, self.job = surface, job
        self.rows: list[Trial] = []
        self.notes: list[str] = []

    def solved(self, ready: _Ready, factor: float = 1.0) -> Progress[_Found]:
        """At `factor` times the wanted mean."""
        panels = ready.panels
        copies = panels.bodies[: len(panels.arrangement.poses)]
        area = float(self.surface.plated_area.sum()) * len(copies)
        drive = Drive(current=factor * self.job.target.density * area)
        start = resumed(ready.cell, ready.last.pop()) if ready.last else None
        state = yield from solve(ready.cell, drive, start, tolerance=1e-4)
        ready.last.append(state)
        density = np.array([state.j[rows] / panels.sides[rows] for rows in copies])
        return _Found(density, state.voltage, ready.load(state))

    def add(
        self, name: str, why: str, ready: _Ready, halves: Sequence[_Found], factor: float = 1.0, **what: object
    ) -> None:
        """A trial from what was found in each equal share of the time. what : fields of the Trial"""
        shown, plated = showing(self.surface, ready.panels, ready.cell)
        area = np.where(plated, ready.cell.influence.area[ready.panels.bodies[0]] * ready.panels.part.sides, 0.0)
        density = np.mean([found.density for found in halves], axis=0)
        each = density @ area
        mean = float(each.mean()) / float(area.sum())
        pieces, ends, whole = ready.panels.part.pieces[shown], ready.panels.part.cover.ends, float(area[plated].sum())
        thinnest = min(extremes(*quarters(pieces, ends.of_values(one)[shown]), whole)[0] for one in density)
        uniformity = max(thinnest, 0.0) / mean
        spread = Spread.of(density[:, plated].ravel(), np.tile(area[plated], len(density)))
        bath, wanted = self.job.bath, factor * self.job.target.density
        time = faraday.time(faraday.metal(bath.metal), wanted, self.job.target.thickness, bath.efficiency)
        load = max(found.load for found in halves)
        if load > bath.anode_limit:
            why = filled(
                "{why}; an anode gives {load} A/dm2, above its limit of {limit}",
                why=why,
                load=f"{load / A_PER_DM2:.2g}",
                limit=f"{bath.anode_limit / A_PER_DM2:.2g}",
            )
        row = Trial(
            name=name,
            why=why,
            uniformity=uniformity,
            low=max(spread.p5, 0.0) / mean,
            density=wanted,
            time=time,
            time_thinnest=time / uniformity if uniformity > 0 else np.inf,
            voltage=max(found.voltage for found in halves),
            shares=tuple((each / each.mean()).tolist()),
        )
        self.rows.append(replace(row, **what))  # type: ignore[arg-type]


def _turned(table: _Table, as_is: _Ready, own: Arrangement) -> Progress[tuple[_Ready, ...]]:
    """As it is, and turned by half; alone where it cannot turn."""
    try:
        other = yield from _ready(table.surface, table.job, turned_by_half(own), as_is.panels.part)
    except InputError as fault:
        if table.job.place.half_turn:
            raise
        table.notes.append(filled("a turn at half time was not tried: {why}", why=fault.args[0]))
        return (as_is,)
    return as_is, other


def _as_it_hangs(table: _Table, as_is: _Ready, halves: tuple[_Ready, ...]) -> Progress[None]:
    """The job's own anodes, at its own density and others, with and without a turn."""
    turns = table.job.place.half_turn
    factors = (1.0, *DENSITY_FACTORS)
    for k, factor in enumerate(factors):
        found = []
        some = halves if turns or factor == 1.0 else halves[:1]
        for i, half in enumerate(some):
            low, high = ((k + (i + n) / len(some)) / len(factors) for n in (0, 1))
            found.append((yield from subrange(low, high, table.solved(half, factor))))
        mine = found if turns else found[:1]
        if factor != 1.0:
            why = SLOWER[factor < 1, as_is.cell.cathode.is_nonlinear]
            table.add(_dense(factor, table.job), why, as_is, mine, factor, half_turn=turns)
            continue
        table.add("as it is", "the job's own anodes and density", as_is, mine, half_turn=turns, own=True)
        if len(found) > 1 and turns:
            table.add("as it is, but not turned", "what faces away stays there", as_is, found[:1])
        elif len(found) > 1:
            table.add("as it is, turned at half time", BOTH, as_is, found, half_turn=True)


def _bare(table: _Table, as_is: _Ready, halves: tuple[_Ready, ...]) -> Progress[None]:
    """Without each thief and shield, and without all of them; turned at half time where the job turns."""
    turns = table.job.place.half_turn
    some = halves if turns else halves[:1]
    names = as_is.extras()
    tries = [(name,) for name in names[:MAX_REMOVED_BODIES]] + [tuple(names)] * (len(names) > 1)
    for k, gone in enumerate(tries):
        less, found = [half.less(gone) for half in some], []
        for i, half in enumerate(less):
            low, high = ((k + (i + n) / len(less)) / len(tries) for n in (0, 1))
            found.append((yield from subrange(low, high, table.solved(half))))
        table.add(
            filled("without {name}", name=gone[0]) if len(gone) == 1 else "without any thief or shield",
            "the current goes where it would by itself",
            less[0],
            found,
            without=gone,
            half_turn=turns,
        )


def _sides(table: _Table, own: Arrangement, part: PartPieces) -> Progress[None]:
    """One side, two sides, and one side with a half-time turn, at several distances: one set of operators."""
    room = Room.of(own, table.surface, table.job.tank)
    places = room.places()
    if not places:
        table.notes.append("plates on the sides were not tried: there is no room between the part and the wall")
        return
    plates = tuple(room.plate(way, at) for at in places for way in (1.0, -1.0))
    ready = yield from subrange(0.0, 0.5, _with(table, own, plates, part, "plates on the sides were not tried: {why}"))
    if ready is None:
        return
    names = [body.name for body in ready.panels.arrangement.bodies if body.role == Role.ANODE]
    for k, at in enumerate(places):
        far, (front, back) = mm(at - room.face, 0), names[2 * k : 2 * k + 2]
        start, first, second, end = (0.5 + 0.5 * (k + n / 3) / len(places) for n in range(4))
        one = yield from subrange(start, first, table.solved(ready.only(front)))
        other = yield from subrange(first, second, table.solved(ready.only(back)))
        two = yield from subrange(second, end, table.solved(ready.only(front, back)))
        pair = plates[2 * k : 2 * k + 2]
        side = filled("a plate on one side, {far} mm away", far=far)
        table.add(side, "the side that faces away gets little", ready, [one], anodes=pair[:1])
        table.add(
            filled("plates on two sides, {far} mm away", far=far), "both sides face an anode", ready, [two], anodes=pair
        )
        if room.even and len(own.poses) == 1:  # turning the part is then the same as moving the plate across
            turned = filled("{layout}, turned at half time", layout=side)
            table.add(turned, BOTH, ready, [one, other], anodes=pair[:1], half_turn=True)


def _ring(table: _Table, own: Arrangement, part: PartPieces) -> Progress[None]:
    """Plates all round."""
    plates = Room.of(own, table.surface, table.job.tank).ring()
    if not plates:
        table.notes.append("a ring of plates was not tried: there is no room for one around the part")
        return
    ready = yield from subrange(0.0, 0.8, _with(table, own, plates, part, "a ring of plates was not tried: {why}"))
    if ready is None:
        return
    found = yield from subrange(0.8, 1.0, table.solved(ready))
    table.add(
        filled("a ring of {count} plates", count=RING_PLATES),
        "current comes from all around",
        ready,
        [found],
        anodes=plates,
    )


def _with(
    table: _Table, own: Arrangement, plates: Sequence[Anode], part: PartPieces, note: str
) -> Progress[_Ready | None]:
    """The arrangement with these plates in place of its anodes; None, with a note of why, where they cannot stand."""
    bodies = tuple(
        plate(f"plate {i + 1}", Role.ANODE, np.array(one.centre), np.array(one.normal), *one.plate)  # type: ignore[misc]
        for i, one in enumerate(plates)
    )
    others = tuple(body for body in own.bodies if body.role != Role.ANODE)
    try:
        return (yield from _ready(table.surface, table.job, replace(own, bodies=bodies + others), part))
    except InputError as fault:
        table.notes.append(filled(note, why=fault.args[0]))
        return None


def _dense(factor: float, job: Job) -> str:
    density, (low, high) = factor * job.target.density, job.bath.window
    template = "as it is, at {density} A/dm2"
    if density < low:
        template = "as it is, at {density} A/dm2, below the bath's plating range"
    elif density > high:
        template = "as it is, at {density} A/dm2, above the bath's plating range"
    return filled(template, density=f"{density / A_PER_DM2:.3g}")
