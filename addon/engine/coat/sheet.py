"""The coat of a part as a network: points, the conductances between them, and the area that each collects from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..geometry import morton
from ..geometry.triangles import measure
from ..linalg.labels import connected
from ..linalg.sparse import Graph, Index, Vector, added
from ..mesh.surface import Surface
from ..mesh.topology import Topology
from ..progress import Progress, Step
from . import laplacian, refine
from .refine import Mesh

MIN_TRIANGLES = 20_000  # a coarse model is refined to edges as of an even mesh of so many


@dataclass(frozen=True, eq=False)
class Sheet:
    """The coated triangles of a surface, refined where they are too long, as a network of one ohm a square.

    mesh : points in an order in which neighbors are near; its owner names the surface's triangle
    graph : conductances between the points, in units of one sheet conductance
    area : (v,) m2 of coat that each point collects for; share : (k, 3) m2 of each triangle's corners that are plated
    piece : (v,) which connected piece of coat a point belongs to; pieces : how many
    faces : number of triangles of the surface
    """

    mesh: Mesh
    graph: Graph
    share: Vector
    piece: NDArray[np.int32]
    pieces: int
    faces: int

    @cached_property
    def area(self) -> Vector:
        """(v,) m2 of plated coat that each point collects for: a third of its triangles."""
        return self.collected(np.ones(len(self.share)))

    def collected(self, density: Vector) -> Vector:
        """(v,) current into each point, from a current density on each triangle of the mesh, (k,)."""
        current = np.repeat(self.share * density / 3.0, 3)
        return added(self.mesh.triangles.reshape(-1), current, len(self.mesh.points))

    def spread(self, value: Vector) -> Vector:
        """(k,) values of the mesh's triangles from values of the surface's, (m,)."""
        return value[self.mesh.owner]

    def on_faces(self, value: Vector) -> Vector:
        """(m,) mean over each of the surface's triangles of a value (v,) at the points; nan where not plated."""
        mean = value[self.mesh.triangles].mean(axis=1)
        plated = self.share > 0
        owner, weight = self.mesh.owner[plated], self.share[plated]
        total = added(owner, weight, self.faces)
        out = np.full(self.faces, np.nan)
        return np.divide(added(owner, weight * mean[plated], self.faces), total, out=out, where=total > 0)

    @cached_property
    def piece_of_face(self) -> NDArray[np.int32]:
        """(m,) the piece of coat of each of the surface's triangles, -1 where nothing is plated."""
        out = np.full(self.faces, -1, dtype=np.int32)
        plated = self.share > 0
        out[self.mesh.owner[plated]] = self.piece[self.mesh.triangles[plated, 0]]
        return out


@dataclass(frozen=True)
class Pad:
    """Where a wire touches: centre (3,) meters on the surface, diameter in meters, the surface's triangle."""

    centre: tuple[float, float, float]
    diameter: float
    face: int


def build(surface: Surface, *, triangles: int = MIN_TRIANGLES) -> Progress[Sheet]:
    """The coat of a surface without wires yet. triangles : fineness that a coarse model is brought to."""
    yield Step(0.0, "Laying out the coat")
    mesh = _coated(surface)
    topology = Topology.of(mesh.triangles, len(mesh.points))
    yield Step(0.3, "Laying out the coat")
    fine, topology = refine.shorten_edges(mesh, topology, refine.affordable_edge_length(mesh, topology, triangles))
    if fine is not mesh:
        fine = _in_order(fine)
        topology = Topology.of(fine.triangles, len(fine.points))
    yield Step(0.5, "Laying out the coat")
    return _sheet(surface, fine, topology)


def with_pads(surface: Surface, sheet: Sheet, pads: tuple[Pad, ...]) -> Progress[tuple[Sheet, tuple[Index, ...]]]:
    """The sheet with its triangles fitted to the rim of each pad, and the points that each pad covers."""
    yield Step(0.0, "Fitting the coat to the wires")
    mesh = refine.fit_to_circles(sheet.mesh, [(np.array(pad.centre), pad.diameter / 2) for pad in pads])
    yield Step(0.4, "Fitting the coat to the wires")
    fitted = _sheet(surface, mesh, Topology.of(mesh.triangles, len(mesh.points)))
    covered = []
    for pad in pads:
        centre = np.array(pad.centre)
        own = np.flatnonzero(mesh.owner == pad.face)
        middle = mesh.points[mesh.triangles[own]].mean(axis=1)
        seed = int(own[np.linalg.norm(middle - centre, axis=1).argmin()])
        covered.append(np.flatnonzero(refine.points_in_ball(mesh, centre, pad.diameter / 2, seed)))
    return fitted, tuple(covered)


def _coated(surface: Surface) -> Mesh:
    """The plated triangles, and those without area among them, which join what they lie between."""
    used = np.zeros(len(surface.points), dtype=bool)
    used[surface.triangles[surface.plated]] = True
    flat = np.flatnonzero(surface.area == 0.0)
    bridge = flat[used[surface.triangles[flat]].all(axis=1)]
    owner = np.union1d(np.flatnonzero(surface.plated), bridge).astype(np.int32)
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    return _in_order(Mesh(surface.points[used], number[surface.triangles[owner]], owner))


def _sheet(surface: Surface, mesh: Mesh, topology: Topology) -> Sheet:
    sides = surface.sides[mesh.owner]
    plain = bool((sides == 1).all())
    graph = laplacian.network(mesh.points, mesh.triangles, topology, sides=None if plain else sides.astype(float))
    share = measure(mesh.points, mesh.triangles).area * sides * surface.plated[mesh.owner]
    piece, pieces = connected(len(mesh.points), *topology.edges.T)
    return Sheet(mesh, graph, share, piece, pieces, len(surface.triangles))


def _in_order(mesh: Mesh) -> Mesh:
    """The same mesh with its points along Morton's curve."""
    order = morton.order(mesh.points)
    number = np.empty(len(order), dtype=np.int32)
    number[order] = np.arange(len(order), dtype=np.int32)
    return replace(mesh, points=mesh.points[order], triangles=number[mesh.triangles])
