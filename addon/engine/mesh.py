"""Is the mesh sound, and which of its surface does the bath touch?

Works on a repaired copy, row for row, and says what it found: a figure with a warning that tells what it
means for the plating, never a refusal where an honest figure exists.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import orient, weld
from .nesting import Nesting, nest
from .part import Part
from .steps import Step, Steps
from .surface import MeshFault, Surface
from .topology import Topology
from .units import LENGTH, MM

SMALL, LARGE = 2 * MM, 600 * MM  # outside these a unit was probably mistaken


def inspect(part: Part, *, sheet_sides: int = 1) -> Steps[Surface]:
    """Weld, turn outward, find what is enclosed. sheet_sides : sides of an open sheet that the liquid touches.

    Cost: two sorts of the half-edges and some passes, m log m; shells inside others add a pass each.
    """
    yield Step(0.0, "welding the mesh")
    faults: list[MeshFault] = []
    points, triangles = weld.welded(part.points, part.triangles)
    topology = Topology.of(triangles, len(points))
    if len(topology.open):
        points, triangles, topology = _closed(points, triangles, topology, faults)
    yield Step(0.4, "looking for shells")
    flat, again = _degenerate(points, triangles), _repeated(triangles)
    shell = orient.shells(topology, len(triangles))
    turned = orient.uneven(triangles, topology)
    triangles = np.where(turned[:, None], triangles[:, ::-1], triangles)
    yield Step(0.6, "looking for enclosed shells")
    is_open = np.zeros(int(shell.max()) + 1, dtype=bool)
    is_open[shell[topology.edge_faces[topology.open, 0]]] = True
    nesting = nest(points[triangles], shell, is_open)
    inside_out = nesting.turned[shell]
    triangles = np.ascontiguousarray(np.where(inside_out[:, None], triangles[:, ::-1], triangles))
    yield Step(0.9, "telling what was found")
    wetted = ~(flat | again | nesting.enclosed[shell])
    sides = np.where(is_open[shell], sheet_sides, 1).astype(np.int8)
    faults += _faults(flat, again, turned | inside_out, shell, topology, nesting)
    faults += _size(points)
    closed = not len(topology.open)
    return Surface(
        name=part.name,
        points=points,
        triangles=triangles,
        shell=shell,
        wetted=wetted,
        plated=wetted & ~part.masked,
        show=part.show,
        sides=sides,
        closed=closed,
        volume=nesting.volume if closed else float("nan"),
        faults=tuple(faults),
    )


def _closed(
    points: NDArray[np.float64], triangles: NDArray[np.int32], topology: Topology, faults: list[MeshFault]
) -> tuple[NDArray[np.float64], NDArray[np.int32], Topology]:
    """The mesh with points welded that lie on open edges and all but coincide."""
    rim = np.unique(topology.edges[topology.open])
    size = float(np.linalg.norm(np.ptp(points, axis=0)))
    substitute = weld.close_gaps(points, rim, size)
    if (substitute == np.arange(len(points))).all():
        return points, triangles, topology
    faces = np.flatnonzero((substitute[triangles] != triangles).any(axis=1)).astype(np.int32)
    points, triangles = weld.welded(points, substitute[triangles])
    closed = Topology.of(triangles, len(points))
    sentence = (
        f"{len(topology.open) - len(closed.open)} open edges closed once points nearer than a ten-millionth of"
        " the size were taken as one; your model is unchanged. Merge by distance to mend it for good."
    )
    faults.append(MeshFault("welded points", sentence, faces))
    return points, triangles, closed


def _degenerate(points: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(m,) triangles without area."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return ~np.cross(b - a, c - a).any(axis=1)


def _repeated(triangles: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(m,) triangles whose three points an earlier triangle has already."""
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    middle = triangles.sum(axis=1, dtype=np.int64) - low - high
    order = np.lexsort((high, middle, low))
    same = np.ones(len(order) - 1, dtype=bool)
    for column in (low, middle, high):
        same &= column[order[1:]] == column[order[:-1]]
    repeated = np.zeros(len(triangles), dtype=bool)
    repeated[order[1:][same]] = True  # lexsort is stable: the earliest stays
    return repeated


def _faults(
    flat: NDArray[np.bool_],
    again: NDArray[np.bool_],
    turned: NDArray[np.bool_],
    shell: NDArray[np.int32],
    topology: Topology,
    nesting: Nesting,
) -> list[MeshFault]:
    open_faces = np.unique(topology.edge_faces[topology.open, 0])
    many = np.unique(topology.edge_faces[topology.extra])
    enclosed = np.flatnonzero(nesting.enclosed[shell])
    overlapping = np.flatnonzero(nesting.overlapping[shell])
    count = int(nesting.enclosed.sum())
    told = [
        (
            "open edges", open_faces,
            f"The surface has {len(topology.open)} open edges (it is not watertight): its area is counted as it"
            " stands, but it has no volume, so weight and floating cannot be told. Fill the holes.",
        ),
        (
            "crowded edges", many,
            f"{len(topology.extra)} edges are shared by more than two faces (non-manifold): area inside such a"
            " join is counted although no liquid touches it. Join the pieces into one body.",
        ),
        (
            "turned faces", np.flatnonzero(turned),
            f"{int(turned.sum())} faces look inward (normals inside out); they are turned for the computation"
            " only. Recalculate the normals to mend the model.",
        ),
        (
            "enclosed shells", enclosed,
            f"{count} {'shell lies' if count == 1 else 'shells lie'} wholly inside another: no liquid gets there,"
            " so that surface is not counted. If liquid should, give the hollow an opening.",
        ),
        (
            "overlapping shells", overlapping,
            "Bodies run into each other: the surface inside the overlap is counted although no liquid touches it"
            f" (about {100 * nesting.overlap:.0f} % of the area). Join them into one body (boolean union).",
        ),
        (
            "repeated faces", np.flatnonzero(again),
            f"{int(again.sum())} faces stand twice; the second is not counted. Merge by distance.",
        ),
        (
            "degenerate faces", np.flatnonzero(flat),
            f"{int(flat.sum())} faces have no area; they change nothing.",
        ),
    ]  # fmt: skip
    return [MeshFault(kind, sentence, np.asarray(faces, np.int32)) for kind, faces, sentence in told if len(faces)]


def _size(points: NDArray[np.float64]) -> list[MeshFault]:
    """A question where the part is unlikely to be meant at this size."""
    longest = float(np.ptp(points, axis=0).max())
    if SMALL <= longest <= LARGE:
        return []
    likely = [name for name, unit in LENGTH.items() if SMALL <= longest * unit / MM <= LARGE and unit != MM]
    hint = f" If the file is in {likely[0]}, say so in the unit." if likely else " Check the unit and the scale."
    sentence = f"The part is {longest / MM:.4g} mm long: is that meant?{hint}"
    return [MeshFault("size", sentence, np.zeros(0, np.int32))]
