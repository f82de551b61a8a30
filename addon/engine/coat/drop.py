"""Voltage drop along the coat between every point and the wires.

div(1/Rs grad u) = -j on the surface, u = 0 at the wires: u is how much less negative the metal is than at its wire;
the driving voltage there is smaller by u. Given the current density that the surface collects this is one linear
system; with linear kinetics, j = (U - u) / rho, it is another one, in which the bath conducts to ground.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..linalg import multigrid
from ..linalg.multigrid import Hierarchy
from ..linalg.sparse import Graph, Index, Vector, added
from ..progress import Progress, Step, subrange
from .sheet import Sheet

ENERGY_NORM_TOLERANCE = 1e-4  # in the energy norm; the greatest drop is then good to about 1e-5


@dataclass(frozen=True, eq=False)
class WiredSheet:
    """A sheet with its wires on.

    pads : the points that each wire covers
    free : the points whose potential is sought: on a piece of coat with a wire, and not under one
    graph, ground : the conductances among them, and from each to the wires, in units of one sheet conductance
    """

    sheet: Sheet
    pads: tuple[Index, ...]
    free: Index
    graph: Graph
    ground: Vector

    @classmethod
    def of(cls, sheet: Sheet, pads: Sequence[Index]) -> WiredSheet:
        """The network of a sheet whose points under each of the pads, (k,) each, are held at zero."""
        count = len(sheet.mesh.points)
        wired = np.zeros(count, dtype=bool)
        served = np.zeros(sheet.pieces, dtype=bool)
        for pad in pads:
            wired[pad] = True
            served[sheet.piece[pad]] = True
        free = np.flatnonzero(~wired & served[sheet.piece])
        number = np.full(count, -1)
        number[free] = np.arange(len(free))
        graph = sheet.graph
        low, high = number[graph.low], number[graph.high]
        ground = np.zeros(len(free))
        for own, other in ((low, graph.high), (high, graph.low)):
            to_wire = (own >= 0) & wired[other]
            ground += added(own[to_wire], graph.weight[to_wire], len(free))
        both = (low >= 0) & (high >= 0)
        inner = Graph(len(free), low[both], high[both], graph.weight[both])
        return cls(sheet, tuple(pads), free, inner, ground)

    @cached_property
    def floating(self) -> NDArray[np.bool_]:
        """(m,) the plated triangles of the surface on pieces of coat without a wire."""
        piece = self.sheet.piece_of_face
        return (piece >= 0) & ~np.isin(piece, [self.sheet.piece[pad[0]] for pad in self.pads])

    def full(self, value: Vector) -> Vector:
        """(v,) zero under the wires and nan where no wire reaches, from the value (f,) at the free points."""
        out = np.full(len(self.sheet.mesh.points), np.nan)
        for pad in self.pads:
            out[pad] = 0.0
        out[self.free] = value
        return out

    def into_wires(self, drop: Vector, sheet_resistance: float, current: Vector) -> Vector:
        """(k,) A that each wire takes: what its own points collect, and what flows to them along the sheet.

        drop : (v,) V; current : (v,) A that each point collects. On metal the wires of a piece share alike.
        """
        sheet, wire = self.sheet, np.full(len(current), -1)
        for k, pad in enumerate(self.pads):
            wire[pad] = k
        if sheet_resistance == 0:
            home = np.array([sheet.piece[pad[0]] for pad in self.pads])
            return added(sheet.piece, current, sheet.pieces)[home] / np.bincount(home)[home]
        graph = sheet.graph
        currents = added(wire + 1, current, len(self.pads) + 1)
        for own, other in ((graph.low, graph.high), (graph.high, graph.low)):
            to_wire = np.flatnonzero((wire[own] >= 0) & (wire[other] < 0))
            flow = graph.weight[to_wire] * drop[other[to_wire]] / sheet_resistance
            currents += added(wire[own[to_wire]] + 1, flow, len(self.pads) + 1)
        return currents[1:]


@dataclass(frozen=True, eq=False)
class Loss:
    """The voltage drop along a coat as an operator on the collected current: built once, applied many times.

    fed : the sheet with its wires; sheet_resistance : ohm per square, 0 for metal
    """

    fed: WiredSheet
    sheet_resistance: float
    hierarchy: Hierarchy | None

    @classmethod
    def build(cls, fed: WiredSheet, sheet_resistance: float) -> Progress[Loss]:
        """Prepare the network; this is most of the work of a solution."""
        hierarchy = None
        if sheet_resistance > 0 and len(fed.free):
            hierarchy = yield from multigrid.prepare(fed.graph, fed.ground)
        return cls(fed, sheet_resistance, hierarchy)

    def at_points(self, current: Vector, *, start: Vector | None = None) -> Progress[Vector]:
        """(v,) V at the sheet's points for the current (v,) in A that each collects; start : a first guess, (v,)."""
        if self.hierarchy is None:
            return self.fed.full(np.zeros(len(self.fed.free)))
        free = self.fed.free
        potential = yield from multigrid.solve(
            self.hierarchy,
            self.sheet_resistance * current[free],
            tolerance=ENERGY_NORM_TOLERANCE,
            start=None if start is None else np.nan_to_num(start[free]),
        )
        return self.fed.full(potential.x)


@dataclass(frozen=True, eq=False)
class SharedCurrent:
    """The current distribution over a coat with linear kinetics.

    drop : (v,) V lost at the sheet's points; density : (v,) A/m2 collected there; voltage : V between the wire and the
    liquid beyond the bath's own resistance. All for the total current in A that was asked for.
    """

    drop: Vector
    density: Vector
    voltage: float


def share_current(
    fed: WiredSheet, conductance: Graph, ground: Vector, resistance: Vector, total: float
) -> Progress[SharedCurrent]:
    """Drop and density for a total current, each point collecting j = (voltage - drop) / resistance.

    conductance, ground : as of `fed`, in siemens (for a sheet of one Rs: fed.graph and fed.ground over Rs)
    resistance : (v,) ohm m2 from the sheet into the bath; total : A
    """
    area, free = fed.sheet.area, fed.free
    leak = area / resistance
    hierarchy = yield from subrange(0.0, 0.4, multigrid.prepare(conductance, ground + leak[free]))
    potential = yield from subrange(0.4, 1.0, multigrid.solve(hierarchy, leak[free], tolerance=ENERGY_NORM_TOLERANCE))
    share = fed.full(potential.x)  # of one volt
    density = np.where(np.isnan(share), 0.0, (1.0 - share) / resistance)
    voltage = total / float(area @ density)
    yield Step(1.0, "Sharing the current out")
    return SharedCurrent(voltage * share, voltage * density, voltage)


def sheet_resistance_from_strips(resistance: float, width: float, gap: float, *, leads: float = 0.0) -> float:
    """Rs in ohm per square from the resistance between two parallel strips of metal tape pressed on the coat.

    resistance : ohm, as read; leads : ohm of the meter's leads alone; width : m, length of each strip across the coat,
    which ends with them or is cut there; gap : m between the strips. The current flows straight through gap / width
    squares. Raises InputError where that is no coat.
    """
    if not (width > 0 and gap > 0):
        raise InputError("strips: width and gap are lengths above zero; measure them again")
    if not resistance > leads >= 0:
        raise InputError("reading: it must be more than the leads read by themselves")
    return (resistance - leads) * width / gap
