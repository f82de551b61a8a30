"""Mesh inspection: whether the mesh is sound, and which of its surface the bath touches.

It works on a repaired copy, row for row, and reports every repair: an honest figure with a warning about its meaning
for the plating, instead of a refusal.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..findings import Finding
from ..geometry.triangles import Measures, bounds, measure
from ..progress import Progress, Step
from . import faults, weld
from .bodies import faults_of_bodies
from .duplicates import DuplicateFaces, duplicate_faces
from .nesting import Nesting, nest
from .part import Part
from .surface import Surface
from .topology import Topology
from .winding import Patches, consistent, enclosure

HOLED = 0.05  # an open shell with openings below this share of its area is a solid with holes, else a sheet
MIN_AREA_SHARE = weld.ULP**2 / 16  # triangles of less area than this times the square of the size have none
LIFT = 2e-5  # of the size: offset from a triangle at which containment is tested


def inspect(part: Part, *, sheet_sides: int = 1) -> Progress[Surface]:
    """The wetted surface, and every fault of the mesh.

    sheet_sides : sides of an open sheet without thickness that the liquid touches, 1 or 2.

    A closed shell inside another is a sealed hollow, one in a hollow a loose body, and so on: depth counts
    the shells round it, only depth 0 is wetted, and volumes are taken off and added in turn.
    Cost: two sorts and some passes, m log m. Raises InputError where no triangle has an area.
    """
    yield Step(0.0, "joining the mesh")
    copy, findings = _joined(part)
    yield Step(0.4, "looking for shells")
    twice = duplicate_faces(copy.triangles, copy.topology)
    copy.leave_out(np.append(twice.again, twice.walls))
    patches = Patches.of(copy.triangles, copy.topology)
    shell, shells = _shells(copy, patches)
    turned, one_sided = consistent(patches, shell, shells)
    copy.turn(turned)
    yield Step(0.6, "looking for what is inside")
    middle, size = copy.points[copy.triangles[0, 0]], copy.size
    area, normal, volume = measure(copy.points, copy.triangles, middle)
    counted = np.where(copy.skip | (area <= MIN_AREA_SHARE * size**2), 0.0, area)
    if not counted.any():
        raise InputError(filled("{name}: no face has an area; choose a mesh with a surface", name=part.name))
    volume[copy.skip] = 0.0
    held = enclosure(copy.points - middle, copy.triangles, volume, copy.topology, shell, shells)
    closed = ~(held.open | one_sided)
    sheet = ~closed & (held.patched > HOLED * np.bincount(shell, counted, minlength=shells))
    inside_out = (held.volume < 0) & ~sheet & ~one_sided
    normal[inside_out[shell]] *= -1.0
    nesting = nest(copy.points, copy.triangles, shell, closed, counted, normal, LIFT * size)
    yield Step(0.9, "listing the faults of the mesh")
    hollow = closed & (nesting.depth % 2 == 1)  # its wall faces into the hollow, out of the solid
    normal[hollow[shell]] *= -1.0
    turned ^= (inside_out ^ hollow)[shell]
    copy.turn((inside_out ^ hollow)[shell])
    wetted = (counted > 0) & (nesting.depth == 0)[shell]
    findings += _size(copy.extent) + _edges(copy.topology, sheet_sides, bool(held.open.any()))
    findings += _facing(turned & wetted, shell, inside_out, one_sided)
    findings += faults_of_bodies(copy.points[copy.triangles], shell, np.where(wetted, counted, 0.0))
    findings += _inside(nesting, shell, float(counted[wetted].sum())) + _spare(twice, counted)
    solid = np.where(nesting.depth % 2 == 1, -1.0, 1.0) @ np.abs(held.volume)
    surface = Surface(
        name=part.name,
        points=copy.points,
        triangles=copy.triangles,
        shell=shell,
        wetted=wetted,
        plated=wetted & ~part.masked,
        show=part.show,
        sides=np.where(sheet[shell], sheet_sides, 1).astype(np.int8),
        closed=bool(closed.all()),
        volume=float(solid) if closed.all() else float("nan"),
        faults=tuple(findings),
    )
    surface.know(copy.topology, Measures(area, normal, volume))
    return surface


@dataclass(eq=False)
class _Copy:
    """The mesh while it is repaired. skip : (m,) bool, triangles that have no part in its topology."""

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    skip: NDArray[np.bool_]
    topology: Topology

    @classmethod
    def of(cls, points: NDArray[np.float64], triangles: NDArray[np.int32]) -> _Copy:
        """Triangles that welding has collapsed to a line or a point are left out."""
        a, b, c = triangles.T
        skip = (a == b) | (b == c) | (c == a)
        return cls(points, triangles, skip, Topology.of(triangles, len(points), skip))

    @cached_property
    def extent(self) -> NDArray[np.float64]:
        """(3,) sides of the box round it, meters."""
        low, high = bounds(self.points)
        return high - low

    @property
    def size(self) -> float:
        """Diagonal of that box, meters."""
        return float(np.linalg.norm(self.extent))

    def leave_out(self, faces: NDArray[np.intp]) -> None:
        if len(faces):
            self.skip[faces] = True
            self.topology = self.topology.without(self.skip)

    def turn(self, triangles: NDArray[np.bool_]) -> None:
        if triangles.any():
            self.triangles = self.triangles.copy()
            self.triangles[triangles] = self.triangles[triangles][:, ::-1]
            self.topology = self.topology.turned(triangles)


def _joined(part: Part) -> tuple[_Copy, list[Finding]]:
    """Merge coincident points; where edges stay open, also points equal in single precision."""
    findings = []
    first = weld.exact(part.points)
    double = first != np.arange(len(first))
    faces = _at(double, part.triangles)
    if len(faces):
        findings.append(faults.joined(int(double.sum()), faces))
    copy = _Copy.of(*weld.compact(part.points, part.triangles, first))
    loose = copy.topology.open
    if len(loose):
        first = weld.near(copy.points, np.unique(copy.topology.edges[loose]))
        faces = _at(first != np.arange(len(first)), copy.triangles)
        if len(faces):
            copy = _Copy.of(*weld.compact(copy.points, copy.triangles, first))
            findings.append(faults.mended(len(loose) - len(copy.topology.open), faces))
    return copy, findings


def _at(points: NDArray[np.bool_], triangles: NDArray[np.int32]) -> NDArray[np.intp]:
    """Triangles with a corner at one of the points."""
    if not points.any():
        return np.zeros(0, dtype=np.intp)
    a, b, c = (points[corner] for corner in triangles.T)
    return np.flatnonzero(a | b | c)


def _shells(copy: _Copy, patches: Patches) -> tuple[NDArray[np.int32], int]:
    """(m,) the connected piece of each triangle, and how many; one left out goes with a neighbor."""
    shell, shells = patches.shells()
    if copy.skip.any():
        shell, left_out = shell.copy(), copy.triangles[copy.skip, 0]
        asked = np.zeros(len(copy.points), dtype=bool)
        asked[left_out] = True
        corner = np.flatnonzero(asked[copy.triangles.reshape(-1)])
        corner = corner[~copy.skip[corner // 3]]
        at = np.full(len(copy.points), shell[copy.skip.argmin()])
        at[copy.triangles.reshape(-1)[corner]] = shell[corner // 3]
        shell[copy.skip] = at[left_out]
        used = np.bincount(shell, minlength=shells) > 0
        shell = (np.cumsum(used, dtype=np.int32) - np.int32(1))[shell]
        shells = int(used.sum())
    return shell, shells


def _size(extent: NDArray[np.float64]) -> list[Finding]:
    longest = float(extent.max())
    return [] if faults.MIN_USUAL_M <= longest <= faults.MAX_USUAL_M else [faults.size(longest)]


def _edges(topology: Topology, sheet_sides: int, is_open: bool) -> list[Finding]:
    findings = []
    if len(topology.open):
        faces = np.unique(topology.edge_faces[topology.open, 0])
        findings.append(faults.open_edges(len(topology.open), sheet_sides, faces))
    if len(topology.non_manifold_edges):
        faces = np.unique(topology.half_edges[topology.half_edges_at(topology.non_manifold_edges)[0]] // 3)
        findings.append(faults.crowded(len(topology.non_manifold_edges), is_open, faces))
    return findings


def _facing(
    turned: NDArray[np.bool_],
    shell: NDArray[np.int32],
    inside_out: NDArray[np.bool_],
    one_sided: NDArray[np.bool_],
) -> list[Finding]:
    findings = []
    if turned.any():
        whole = np.unique(shell[turned & inside_out[shell]])
        findings.append(faults.turned(len(whole), np.flatnonzero(turned)))
    if one_sided.any():
        findings.append(faults.one_sided(int(one_sided.sum()), np.flatnonzero(one_sided[shell])))
    return findings


def _inside(nesting: Nesting, shell: NDArray[np.int32], area: float) -> list[Finding]:
    """area : m2 that is counted as wetted."""
    findings, enclosed = [], nesting.depth > 0
    if enclosed.any():
        findings.append(faults.enclosed(int(enclosed.sum()), np.flatnonzero(enclosed[shell])))
    if nesting.crossing:
        share = nesting.covered_area / area
        findings.append(faults.overlapping(nesting.crossing, nesting.covered_area, share, nesting.covered))
    return findings


def _spare(twice: DuplicateFaces, counted: NDArray[np.float64]) -> list[Finding]:
    """counted : (m,) m2, zero on triangles without area and on those of `twice`."""
    findings = []
    flat = counted == 0
    flat[twice.again] = flat[twice.walls] = False
    for faces, say in (
        (twice.again, faults.repeated),
        (twice.walls, faults.walls),
        (np.flatnonzero(flat), faults.degenerate),
    ):
        if len(faces):
            findings.append(say(faces))
    return findings
