"""Layouts that could even the deposit out: other densities, other anodes, a rotation at half time, no thieves and
shields.

Operators are reused wherever the geometry allows: another density or a removed body needs no new ones. All trial
plates on the sides share one set of panels, because a plate is a sheet, and a sheet without current is as good as
absent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from .. import faraday
from ..errors import InputError
from ..findings import Quantity as Of
from ..geometry.quantiles import weighted_quantiles
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..progress import Progress, subrange
from ..reasons import Reason, ReasonCode
from ..settings.job import Job
from ..settings.tank import Anode
from ..tank.arrange import Arrangement, arrange, flat_anode, turned_by_half
from ..tank.body import Role
from .answer import showing
from .cautions import MAX_IGNORED_DULL_SHARE
from .ends import quarters
from .extremes import extremes
from .panels import PartPieces
from .prepared import Distribution, PreparedCell
from .result import Spread
from .room import Room
from .trials import Comparison, Layout, LayoutKind, Remark, RemarkCode, Trial, out_of_reach, ranked, with_gains

# Whether it is slower, whether the bath polarizes -> what another density does
EFFECTS_OF_DENSITY = {
    (True, False): ReasonCode.SLOWER,
    (True, True): ReasonCode.SLOWER_AND_EVENER,
    (False, False): ReasonCode.QUICKER,
    (False, True): ReasonCode.QUICKER_AND_LESS_EVEN,
}
DENSITY_FACTORS = (0.5, 1.5)  # times the wanted one
MAX_REMOVED_BODIES = 4  # thieves and shields that are taken away one by one


def compare(surface: Surface, job: Job, meshes: Mapping[str, Part] | None = None) -> Progress[Comparison]:
    """Try layouts at a preview's resolution and without the coat's losses; the best first.

    meshes : models that the job names by file for the tank, meters, tank coordinates
    Raises InputError where the job as it is cannot stand. A layout that finds no room is left out, with a remark.
    """
    surface.check_plated()
    table = _Table(surface, job)
    own = arrange(surface, job, meshes)
    as_set = yield from subrange(0.0, 0.15, PreparedCell.build(surface, job, own))
    halves = yield from subrange(0.15, 0.35, _turned(table, as_set, own))
    yield from subrange(0.35, 0.5, _try_densities(table, as_set, halves))
    yield from subrange(0.5, 0.55, _try_without_bodies(table, as_set, halves))
    yield from subrange(0.55, 0.8, _try_sides(table, own, as_set.panels.part))
    yield from subrange(0.8, 1.0, _try_ring(table, own, as_set.panels.part))
    return Comparison(ranked(with_gains(table.trials)), (*table.remarks, *out_of_reach(table.trials)))


class _Table:
    """Gathers trials of one part and one job."""

    def __init__(self, surface: Surface, job: Job) -> None:
        self.surface, self.job = surface, job
        self.trials: list[Trial] = []
        self.remarks: list[Remark] = []

    def solved(self, prepared: PreparedCell, factor: float = 1.0) -> Progress[Distribution]:
        """At `factor` times the wanted mean."""
        return prepared.solved(factor * self.job.target.density * float(self.surface.plated_area.sum()))

    def add(
        self,
        layout: Layout,
        effect: ReasonCode,
        prepared: PreparedCell,
        halves: Sequence[Distribution],
        factor: float = 1.0,
    ) -> None:
        """A trial from the distributions of equal shares of the time. effect : what the layout does to the deposit"""
        shown, plated = showing(self.surface, prepared.panels, prepared.cell)
        part = prepared.panels.part
        area = np.where(plated, prepared.cell.influence.area[prepared.panels.bodies[0]] * part.sides, 0.0)
        density = np.mean([half.density for half in halves], axis=0)
        currents = density @ area
        mean = float(currents.mean()) / float(area.sum())
        pieces, ends, whole = part.pieces[shown], part.cover.ends, float(area[plated].sum())
        thinnest = min(extremes(*quarters(pieces, ends.of_values(copy)[shown]), whole)[0] for copy in density)
        uniformity = max(thinnest, 0.0) / mean
        all_pieces = part.pieces[plated]
        peak = max(extremes(*quarters(all_pieces, ends.of_values(copy)[plated]), whole)[1] for copy in density)
        seen = np.tile(area[shown], len(density))
        spread = Spread.of(density[:, plated].ravel(), np.tile(area[plated], len(density)))
        bath, wanted = self.job.bath, factor * self.job.target.density
        time = faraday.time(faraday.metal(bath.metal), wanted, self.job.target.thickness, bath.efficiency)
        self.trials.append(
            Trial(
                layout,
                (Reason(effect), *self._overload(halves)),
                uniformity,
                low=max(spread.p5, 0.0) / mean,
                density=wanted,
                time=time,
                time_thinnest=time / uniformity if uniformity > 0 else np.inf,
                voltage=max(half.voltage for half in halves),
                shares=tuple((currents / currents.mean()).tolist()),
                bright=float(weighted_quantiles(density[:, shown].ravel(), seen, MAX_IGNORED_DULL_SHARE)),
                peak=peak,
                load=max(half.load for half in halves),
            )
        )

    def _overload(self, halves: Sequence[Distribution]) -> list[Reason]:
        """The reason that an anode is overloaded."""
        load, limit = max(half.load for half in halves), self.job.bath.anode_limit
        if load <= limit:
            return []
        return [Reason(ReasonCode.ANODE_OVERLOADED, {Of.HIGH_DENSITY: load, Of.LIMIT_DENSITY: limit})]


def _turned(table: _Table, as_set: PreparedCell, own: Arrangement) -> Progress[tuple[PreparedCell, ...]]:
    """The arrangement as it is and after half a turn; only as it is where it cannot turn."""
    try:
        other = yield from PreparedCell.build(table.surface, table.job, turned_by_half(own), as_set.panels.part)
    except InputError as fault:
        if table.job.place.half_turn:
            raise
        table.remarks.append(Remark(RemarkCode.TURN_REFUSED, fault.args[0]))
        return (as_set,)
    return as_set, other


def _try_densities(table: _Table, as_set: PreparedCell, halves: tuple[PreparedCell, ...]) -> Progress[None]:
    """The job's own anodes, at its own density and others, with and without a turn."""
    turns = table.job.place.half_turn
    factors = (1.0, *DENSITY_FACTORS)
    for k, factor in enumerate(factors):
        solved = []
        cells = halves if turns or factor == 1.0 else halves[:1]
        for i, half in enumerate(cells):
            low, high = ((k + (i + n) / len(cells)) / len(factors) for n in (0, 1))
            solved.append((yield from subrange(low, high, table.solved(half, factor))))
        own = solved if turns else solved[:1]
        if factor != 1.0:
            effect = EFFECTS_OF_DENSITY[factor < 1, as_set.cell.cathode.is_nonlinear]
            table.add(Layout(_density_kind(factor, table.job), half_turn=turns), effect, as_set, own, factor)
            continue
        table.add(Layout(LayoutKind.AS_SET, half_turn=turns), ReasonCode.JOB_AS_SET, as_set, own)
        if len(solved) > 1 and turns:
            table.add(Layout(LayoutKind.NOT_TURNED), ReasonCode.BACK_STAYS_BEHIND, as_set, solved[:1])
        elif len(solved) > 1:
            table.add(Layout(LayoutKind.TURNED, half_turn=True), ReasonCode.BACK_COMES_FORWARD, as_set, solved)


def _try_without_bodies(table: _Table, as_set: PreparedCell, halves: tuple[PreparedCell, ...]) -> Progress[None]:
    """Without each thief and shield, and without all of them; turned at half time where the job turns."""
    turns = table.job.place.half_turn
    names = as_set.removable
    tries = [(name,) for name in names[:MAX_REMOVED_BODIES]] + [tuple(names)] * (len(names) > 1)
    for k, gone in enumerate(tries):
        cells, solved = [half.without(gone) for half in (halves if turns else halves[:1])], []
        for i, half in enumerate(cells):
            low, high = ((k + (i + n) / len(cells)) / len(tries) for n in (0, 1))
            solved.append((yield from subrange(low, high, table.solved(half))))
        layout = Layout(LayoutKind.WITHOUT_BODIES, half_turn=turns, without=gone)
        table.add(layout, ReasonCode.CURRENT_UNGUIDED, cells[0], solved)


def _try_sides(table: _Table, own: Arrangement, part: PartPieces) -> Progress[None]:
    """One side, two sides, and one side with a half-time turn, at several distances: one set of operators."""
    room = Room.of(own, table.surface, table.job.tank)
    places = room.places()
    if not places:
        table.remarks.append(Remark(RemarkCode.NO_ROOM_AT_SIDES))
        return
    plates = tuple(room.plate(way, at) for at in places for way in (1.0, -1.0))
    prepared = yield from subrange(0.0, 0.5, _with_plates(table, own, plates, part, RemarkCode.SIDES_REFUSED))
    if prepared is None:
        return
    names = [body.name for body in prepared.panels.arrangement.bodies if body.role == Role.ANODE]
    for k, at in enumerate(places):
        gap, (front, back), pair = at - room.face, names[2 * k : 2 * k + 2], plates[2 * k : 2 * k + 2]
        start, first, second, end = (0.5 + 0.5 * (k + n / 3) / len(places) for n in range(4))
        before = yield from subrange(start, first, table.solved(prepared.with_anodes(front)))
        behind = yield from subrange(first, second, table.solved(prepared.with_anodes(back)))
        both = yield from subrange(second, end, table.solved(prepared.with_anodes(front, back)))
        one_side = Layout(LayoutKind.ONE_SIDE, pair[:1], gap)
        table.add(one_side, ReasonCode.BACK_GETS_LITTLE, prepared, [before])
        table.add(Layout(LayoutKind.TWO_SIDES, pair, gap), ReasonCode.BOTH_SIDES_FACE, prepared, [both])
        if room.even and len(own.poses) == 1:  # turning the part is then the same as moving the plate across
            table.add(replace(one_side, half_turn=True), ReasonCode.BACK_COMES_FORWARD, prepared, [before, behind])


def _try_ring(table: _Table, own: Arrangement, part: PartPieces) -> Progress[None]:
    """Plates all round."""
    plates = Room.of(own, table.surface, table.job.tank).ring()
    if not plates:
        table.remarks.append(Remark(RemarkCode.NO_ROOM_FOR_RING))
        return
    prepared = yield from subrange(0.0, 0.8, _with_plates(table, own, plates, part, RemarkCode.RING_REFUSED))
    if prepared is None:
        return
    solved = yield from subrange(0.8, 1.0, table.solved(prepared))
    table.add(Layout(LayoutKind.RING, plates), ReasonCode.CURRENT_FROM_ALL_SIDES, prepared, [solved])


def _with_plates(
    table: _Table, own: Arrangement, plates: Sequence[Anode], part: PartPieces, refused: RemarkCode
) -> Progress[PreparedCell | None]:
    """The arrangement with these plates in place of its anodes; None, with a remark, where they cannot stand."""
    anodes = tuple(flat_anode(anode, f"plate {number}") for number, anode in enumerate(plates, 1))
    others = tuple(body for body in own.bodies if body.role != Role.ANODE)
    try:
        return (yield from PreparedCell.build(table.surface, table.job, replace(own, bodies=anodes + others), part))
    except InputError as fault:
        table.remarks.append(Remark(refused, fault.args[0]))
        return None


def _density_kind(factor: float, job: Job) -> LayoutKind:
    """The kind of a density `factor` times the job's own: whether it is in the bath's plating range."""
    density, (low, high) = factor * job.target.density, job.bath.window
    if density < low:
        return LayoutKind.DENSITY_BELOW_WINDOW
    return LayoutKind.DENSITY_ABOVE_WINDOW if density > high else LayoutKind.OTHER_DENSITY
