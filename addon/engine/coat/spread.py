"""The current distribution on the aggregated network of a coat whose conductance varies from patch to patch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..field.cover import Cover
from ..linalg import multigrid
from ..linalg.layered import Eliminated, Layers
from ..linalg.sparse import Graph, Index, Vector, added
from ..progress import run_to_end
from .drop import WiredSheet
from .proxy import AggregatedNetwork
from .sheet import Pad, Sheet
from .transfer import FacePatches, Leak, Transfer

WIRE_CONTACT_SQUARES = 1e-3  # of sheet between a wire and its patches, so that the wire is never a short circuit
# of fitting the rim; the voltage is nearly linear in its resistance
MAX_RIM_FITS, FIRST_RIM_STEP, MAX_RIM_CHANGE = 6, 1.1, 5.0
RING_RADII = (2.0, 4.0)  # radii of the pad between which the density round a wire is read


class Share(NamedTuple):
    """For one ampere in all.

    density : (n,) A/m2 on each patch; voltage : V between wire and bath
    wires : (k,) A into each; rings : (k,) A/m2 round each
    warmth : W/m2 in the sheet where it is warmest, away from the wires
    """

    density: Vector
    voltage: float
    wires: Vector
    rings: Vector
    warmth: float


class Contact(NamedTuple):
    """A wire on the copy.

    held : the patches that its pad lies on; ring : those round it, and their mean distance, away, in meters
    radius : of the pad, m; round : share of a full circle that its rim is, less at an edge of the coat
    """

    held: Index
    ring: Index
    away: float
    radius: float
    round: float


@dataclass(frozen=True, eq=False)
class Spread:
    """The patches that wires reach.

    fed, patches : the coat with its wires, and its coarse copy; own : (n,) numbers of these patches in it
    graph : between them, squares inverted; area : (n,) m2
    contacts, pads : the wires; rim : resistance from their patches to the next, beside what the copy has
    """

    fed: WiredSheet
    patches: AggregatedNetwork
    own: Index
    graph: Graph
    area: Vector
    contacts: tuple[Contact, ...]
    pads: tuple[Pad, ...]
    rim: float = 1.0

    @classmethod
    def of(cls, fed: WiredSheet, patches: AggregatedNetwork, pads: Sequence[Pad], *, resolution: float = 0.0) -> Spread:
        """patches : of fed's sheet, its pads kept apart; resolution : m, below which densities on the patches are
        means."""
        sheet = fed.sheet
        wired = np.concatenate(fed.pads)
        own = np.flatnonzero(np.isin(patches.piece, np.unique(sheet.piece[wired])) & (patches.area > 0))
        number = np.full(len(patches.area), -1)
        number[own] = np.arange(len(own))
        low, high = number[patches.graph.low], number[patches.graph.high]
        both = (low >= 0) & (high >= 0)
        graph = Graph(len(own), low[both], high[both], patches.graph.weight[both])
        under = [np.unique(patches.patch[covered]) for covered in fed.pads]
        every = np.unique(np.concatenate(under))
        contacts = tuple(
            _contact(patches, own, number, held, every, pad, float(sheet.area[covered].sum()), resolution)
            for held, pad, covered in zip(under, pads, fed.pads, strict=True)
        )
        return cls(fed, patches, own, graph, patches.area[own], contacts, tuple(pads))

    @property
    def sheet(self) -> Sheet:
        """The coat with its wires on."""
        return self.fed.sheet

    def transfer(self, cover: Cover) -> Transfer:
        """To and from the pieces of a field."""
        return Transfer.of(self._faces, self.own, len(self.patches.area), cover)

    @cached_property
    def _faces(self) -> FacePatches:
        return FacePatches.of(self.sheet, self.patches)

    def fitted(self, conductance: Vector, resistance: Vector, voltage: float) -> Spread:
        """With the rim resistance round the pads fitted to the coat's own voltage for one ampere: the aggregated
        network resolves the loss close to a pad only roughly."""
        spread, step = self, FIRST_RIM_STEP
        for _ in range(MAX_RIM_FITS):
            spread_voltage = spread.share(conductance, resistance).voltage
            if abs(spread_voltage - voltage) <= 1e-3 * voltage:
                break
            other = replace(spread, rim=spread.rim * step)
            slope = (other.share(conductance, resistance).voltage - spread_voltage) / (other.rim - spread.rim)
            if not slope > 0:
                break
            wanted = spread.rim + (voltage - spread_voltage) / slope
            spread = replace(spread, rim=min(max(wanted, spread.rim / MAX_RIM_CHANGE), spread.rim * MAX_RIM_CHANGE))
        return spread

    def share(self, conductance: Vector, resistance: Vector) -> Share:
        """conductance : (n,) siemens a square; resistance : (n,) ohm m2 into the bath."""
        now, wires = self._network(conductance)
        leak = self.area / resistance
        hierarchy = run_to_end(multigrid.prepare(now, leak + wires.sum(axis=0)))
        lost = run_to_end(multigrid.solve(hierarchy, leak, tolerance=1e-4)).x
        density = np.maximum(1.0 - lost, 0.0) / resistance
        volts = 1.0 / float(self.area @ density)
        a, b = conductance[now.low], conductance[now.high]
        step = lost[now.low] - lost[now.high]
        # half of each pair's power to either end, by the resistance of that half; next to a wire it is not resolved
        near = wires.any(axis=0)
        power = np.where(near[now.low] | near[now.high], 0.0, now.weight * step * step / (a + b))
        warmth = (added(now.low, power * b, now.count) + added(now.high, power * a, now.count)) / self.area
        rings = np.array([np.average(density[c.ring], weights=self.area[c.ring]) for c in self.contacts])
        return Share(
            volts * density,
            volts,
            volts * (wires @ lost),
            volts * rings,
            volts * volts * float(warmth.max(initial=0.0)),
        )

    def loss(self, conductance: Vector) -> Losses:
        """The operator from collected current to voltage drop."""
        now, wires = self._network(conductance)
        numbers = np.arange(now.count)
        row, column = (np.concatenate(ends) for ends in ((numbers, now.low, now.high), (numbers, now.high, now.low)))
        siemens = np.concatenate([now.sums(now.weight) + wires.sum(axis=0), -now.weight, -now.weight])
        return Losses(self, row, column, siemens)

    def collected(self, density: Vector) -> Vector:
        """(n,) A into each patch from the density (m,) A/m2 on the part's faces."""
        return self.patches.collected(self.sheet.collected(self.sheet.spread(density)))[self.own]

    def at_points(self, value: Vector, other: float) -> Vector:
        """(v,) of the sheet's points, from a value (n,) of the patches; other : where no wire reaches."""
        values = np.full(len(self.patches.area), other)
        values[self.own] = value
        return values[self.patches.patch]

    @property
    def free(self) -> NDArray[np.bool_]:
        """(n,) bool: the patches that no pad lies on."""
        free = np.ones(len(self.own), dtype=bool)
        for contact in self.contacts:
            free[contact.held] = False
        return free

    def _network(self, conductance: Vector) -> tuple[Graph, Vector]:
        """Siemens between the patches, and (k, n) from each to each wire."""
        graph, free = self.graph, self.free
        a, b = conductance[graph.low], conductance[graph.high]
        weight = graph.weight * (2 * a * b / (a + b))
        now = replace(graph, weight=np.where(free[graph.low] != free[graph.high], weight / self.rim, weight))
        wires = np.zeros((len(self.contacts), now.count))
        for k, contact in enumerate(self.contacts):
            wires[k, contact.held] = conductance[contact.held] / (WIRE_CONTACT_SQUARES * len(contact.held))
        return now, wires


@dataclass(frozen=True, eq=False)
class Losses:
    """V lost along the coat for any current.

    row, column, siemens : (e,) entries of the matrix of the patches' network with its wires
    ready : transfer to and from the pieces of one cover, where it is known already
    """

    spread: Spread
    row: Index
    column: Index
    siemens: Vector
    ready: Transfer | None = None

    @cached_property
    def lost(self) -> Eliminated:
        """From the current (n,) A into each patch to the V (n,) that it loses."""
        return Layers.of(self.row, self.column, len(self.spread.own)).eliminated(self.siemens)

    def at_patches(self, density: Vector) -> Vector:
        """(n,) V from the density (n,) A/m2 that the patches collect."""
        return self.lost(self.spread.area * density)

    def onto(self, cover: Cover, twin: NDArray[np.intp]) -> LossesOnPieces:
        """As `at_faces`, from the density (p,) A/m2 on the pieces of a field to V there (p,): for it to couple to.

        twin : (p,) the piece whose density each has
        """
        return LossesOnPieces(self, self.ready or self.spread.transfer(cover), twin)

    def floating(self, cover: Cover) -> NDArray[np.bool_]:
        """(p,) the pieces of a field that lie on coat without a wire."""
        bare = self.spread.fed.floating
        if not bare.any():
            return np.zeros(len(cover.home), dtype=bool)
        return cover.to_pieces(bare.astype(float)) > 0.5

    def at_faces(self, density: Vector) -> Vector:
        """(m,) V from the density (m,) A/m2 that the part's faces collect, linear.

        nan where nothing is plated; zero where no wire reaches.
        """
        spread = self.spread
        drop = np.zeros(len(spread.patches.area))
        drop[spread.own] = self.lost(spread.collected(density))
        return spread.sheet.on_faces(drop[spread.patches.patch])


@dataclass(frozen=True, eq=False)
class LossesOnPieces:
    """V lost on the pieces of a field, (p,), for densities (p,) A/m2 there; its network, for the field to reckon with.

    losses : of the patches; transfer : to and from these; twin : (p,) the piece whose density each has
    """

    losses: Losses
    transfer: Transfer
    twin: NDArray[np.intp]

    def __call__(self, density: Vector) -> Vector:
        return self.transfer.on_pieces(self.losses.lost(self.transfer.collected(density)))

    def shunted(self, conductance: Vector) -> Callable[[Vector], Vector]:
        """As of `field.network.Network`."""
        leak, layers = self._leaking
        lost = layers.eliminated(np.append(self.losses.siemens, leak.area * conductance[leak.piece]))
        return lambda volts: self.transfer.on_pieces(lost(self.transfer.collected((conductance * volts)[self.twin])))

    @cached_property
    def _leaking(self) -> tuple[Leak, Layers]:
        """What leaks through the pieces, and where it and the network go in a matrix."""
        leak, network = self.transfer.leak(self.twin), self.losses
        row, column = np.append(network.row, leak.patch), np.append(network.column, leak.from_patch)
        return leak, Layers.of(row, column, len(network.spread.own))


def _contact(
    patches: AggregatedNetwork,
    own: Index,
    number: Index,
    held: Index,
    every: Index,
    pad: Pad,
    covered: float,
    resolution: float,
) -> Contact:
    radius = pad.diameter / 2
    away = np.linalg.norm(patches.middle[own] - np.array(pad.centre), axis=1)
    away[(patches.piece[own] != patches.piece[held[0]]) | np.isin(own, every)] = np.inf
    low, high = (max(radius, resolution / RING_RADII[0]) * f for f in RING_RADII)
    ring = np.flatnonzero((away >= low) & (away <= high))
    if not len(ring):
        ring = np.array([np.abs(away - low).argmin()])
    if not np.isfinite(away[ring]).all():  # nothing but pads on this piece
        return Contact(number[held], number[held], radius, radius, 1.0)
    mean = float(np.average(away[ring], weights=patches.area[own[ring]]))
    full = np.pi * radius**2
    return Contact(number[held], ring, max(mean, radius), radius, float(np.clip(covered / full, 0.25, 1.0)))
