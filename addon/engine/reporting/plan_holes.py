"""The plan's lines on gas and liquid: without a hole where possible, otherwise which hole leaves how much."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..findings import Code
from ..trapping.bores import NEGLIGIBLE_VOLUME_M3
from ..trapping.hole import HoleKind
from ..units import ML, MM
from .filled import filled, joined
from .instructions_first import Model
from .plan_hanging import direction_text
from .plan_text import Line, figure, note, point, step

if TYPE_CHECKING:
    from ..trapping.bores import Bore
    from .plan_bench import Bench

MAX_LISTED_HOLES = 2  # vents that are listed one by one
MAX_LISTED_BORES = 3  # bores listed beside the chosen one


def vents(bench: Bench) -> list[Line]:
    """What to do about trapped gas, beyond the vent that the finding of it names."""
    if bench.gas is None:
        return [note(bench.missing("gas", "Trapped gas"))]
    surface = bench.study.surface
    plated = 0.0 if surface is None else float(surface.plated_area.sum())
    worthwhile = [pocket for pocket in bench.gas.pockets if pocket.worth_a_hole(plated)]
    listed = int(any(finding.code == Code.GAS_TRAPPED for finding in bench.findings))
    lines = _filled_by_tilting(bench) if worthwhile else []
    if worthwhile and worthwhile[0].hole and (others := _others(worthwhile[0].bores, worthwhile[0].hole)):
        lines.append(note(Model.BORES.say(bores=others, where=bench.where(worthwhile[0].vent))))
    lines += _way_out(bench) if worthwhile else []
    for pocket in worthwhile[listed : listed + MAX_LISTED_HOLES]:
        best = pocket.hole
        if best is not None:
            bore, where = figure(best.diameter / MM, 2), bench.where(pocket.vent)
            gas = figure(pocket.volume / ML, 2)
            lines.append(step(Model.VENT.say(bore=bore, where=where, volume=gas, left=_left(best))))
    unlisted = worthwhile[listed + MAX_LISTED_HOLES :]
    if unlisted:
        template = "{count} smaller pockets with {volume} mL more: see the report."
        if len(unlisted) == 1:
            template = "{count} smaller pocket with {volume} mL more: see the report."
        total = figure(sum(pocket.volume for pocket in unlisted) / ML, 2)
        lines.append(note(filled(template, count=len(unlisted), volume=total)))
    return lines


def drains(bench: Bench) -> list[Line]:
    """What to do about liquid that is carried out, where no finding tells it."""
    if bench.drainage is None or any(finding.code == Code.LIQUID_HELD for finding in bench.findings):
        return []
    lines = []
    for pool in bench.drainage.pools[:1]:
        best = pool.hole
        if best is not None and pool.volume >= NEGLIGIBLE_VOLUME_M3:
            bore, where = figure(best.diameter / MM, 2), bench.where(pool.drain)
            bath = figure(pool.volume / ML, 2)
            lines.append(step(Model.DRAIN.say(bore=bore, where=where, volume=bath, left=_left(best))))
    return lines


def _filled_by_tilting(bench: Bench) -> list[Line]:
    """How the part goes into the bath without gas, where a turn under the liquid does it: no hole then."""
    up = None if bench.hung is None else bench.hung.fill_up
    if up is None:
        return []
    return [step(Model.TILT.say(way=direction_text(up)))]


def _way_out(bench: Bench) -> list[Line]:
    """Where the largest vent comes out, and whether that is visible."""
    planned = bench.study.results.vents
    vents = [] if planned is None else [hole for hole in planned.holes if hole.kind == HoleKind.VENT]
    if not vents:
        return []
    first = vents[0]
    way = {"start": point(first.entry), "end": point(first.end), "length": figure(first.length / MM, 2)}
    return [note((Model.WAY_SHOWN if first.show else Model.WAY).say(**way))]


def _left(bore: Bore) -> str:
    return (
        "next to nothing"
        if bore.remaining < NEGLIGIBLE_VOLUME_M3
        else filled("{volume} mL", volume=figure(bore.remaining / ML, 2))
    )


def _others(bores: tuple[Bore, ...], best: Bore) -> str:
    """The bores beside the one that is taken, each with what it leaves."""
    low = max(0, min(bores.index(best) - 2, len(bores) - MAX_LISTED_BORES - 1))
    others = bores[low : low + MAX_LISTED_BORES + 1]
    template = "{diameter} mm {left}"
    choices = [
        filled(template, diameter=figure(bore.diameter / MM, 2), left=_left(bore))
        for bore in others
        if bore is not best
    ]
    return joined(choices, ", ")
