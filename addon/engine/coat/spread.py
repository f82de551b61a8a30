"""How a coarse copy of a coat shares the current out while its conductance changes from patch to patch."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .. import multigrid
from ..sparse import Graph, Index, Vector, added
from ..steps import finish
from .proxy import Proxy

LEAST = 1e-3  # squares of sheet between a wire and its patches, so that the wire is never a short circuit
ROUNDS = 6  # of fitting it; the voltage is nearly linear in it


class Share(NamedTuple):
    """For one ampere in all.

    density : (n,) A/m2 on each patch; rim : A/m2 at the edge of a pad; voltage : V between wire and bath
    warmth : W/m2 in the sheet where it is warmest, away from the wires
    """

    density: Vector
    rim: float
    voltage: float
    warmth: float


@dataclass(frozen=True, eq=False)
class Spread:
    """The patches that wires reach.

    own : (n,) their numbers in the copy; graph : between them, squares inverted; area : (n,) m2
    held : (h,) those that the pads lie on; squares : of sheet between each wire and all of its patches together
    ways : (h,) how many patches share a held one's wire
    """

    own: Index
    graph: Graph
    area: Vector
    held: Index
    ways: NDArray[np.intp]
    squares: float

    @classmethod
    def of(cls, patches: Proxy, pads: list[tuple[Vector, float]]) -> Spread:
        """pads : centre (3,) and diameter of each wire, metres"""
        held: list[Index] = []
        for centre, diameter in pads:
            away = np.linalg.norm(patches.middle - centre, axis=1) - 0.5 * np.sqrt(patches.area)
            away[patches.area <= 0] = np.inf
            nearest = int(away.argmin())
            touched = (away <= diameter / 2) & (patches.piece == patches.piece[nearest])
            touched[nearest] = True
            held.append(np.flatnonzero(touched))
        ways = np.concatenate([np.full(len(under), len(under)) for under in held])
        wired = np.concatenate(held)
        own = np.flatnonzero(np.isin(patches.piece, np.unique(patches.piece[wired])) & (patches.area > 0))
        number = np.full(len(patches.area), -1)
        number[own] = np.arange(len(own))
        low, high = number[patches.graph.low], number[patches.graph.high]
        both = (low >= 0) & (high >= 0)
        graph = Graph(len(own), low[both], high[both], patches.graph.weight[both])
        return cls(own, graph, patches.area[own], number[wired], ways, LEAST)

    def fitted(self, sheet: Vector, resistance: Vector, voltage: float) -> Spread:
        """With as many squares between wires and patches as give this voltage for one ampere, known from the coat itself:
        the copy does not resolve a pad."""
        here, tried = self, self.squares
        base = self.share(sheet, resistance).voltage
        if base >= voltage:
            return self
        slope = 1.0 / float(sheet[self.held].mean())
        for _ in range(ROUNDS):
            lack = voltage - here.share(sheet, resistance).voltage
            if abs(lack) <= 1e-3 * voltage:
                break
            tried = max(tried + lack / slope, LEAST)
            here = replace(self, squares=tried)
        return here

    def share(self, sheet: Vector, resistance: Vector) -> Share:
        """sheet : (n,) siemens a square; resistance : (n,) ohm m2 into the bath."""
        graph, area = self.graph, self.area
        a, b = sheet[graph.low], sheet[graph.high]
        now = replace(graph, weight=graph.weight * (2 * a * b / (a + b)))
        leak = area / resistance
        wire = added(self.held, sheet[self.held] / (self.squares * self.ways), graph.count)
        hierarchy = finish(multigrid.prepare(now, leak + wire))
        lost = finish(multigrid.solve(hierarchy, leak, tolerance=1e-4)).x
        density = np.maximum(1.0 - lost, 0.0) / resistance
        volts = 1.0 / float(area @ density)
        step = lost[now.low] - lost[now.high]
        # half of each pair's power to either end, by the resistance of that half; next to a wire it is not resolved
        near = wire > 0
        power = np.where(near[now.low] | near[now.high], 0.0, now.weight * step * step / (a + b))
        warmth = (added(now.low, power * b, now.count) + added(now.high, power * a, now.count)) / area
        rim = volts / float(resistance[self.held].min())
        return Share(volts * density, rim, volts, volts * volts * float(warmth.max(initial=0.0)))
