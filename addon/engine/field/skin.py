"""The wetted surface of the part for the field, in triangles no finer than panels need."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..mesh.surface import Surface
from ..progress import Progress
from ..tank.body import Role
from .coarsen import STARS_OVER_WANTED, Coarse, coarsen, coarsen_roughly
from .pieces import Array, Ints, area


@dataclass(frozen=True, eq=False)
class Skin:
    """Triangles in model coordinates, normals into the liquid.

    corners : (k, 3, 3); role : (k,) PART where plated, else INSULATOR
    loose : (k,) number of a shell with open edges, which is a sheet or a body with holes; 0 where closed
    sides : (k,) how many the liquid touches, by what the user says of sheets
    rows : (m',) wetted triangles of the surface; coarse : how they became the skin
    """

    surface: Surface
    corners: Array
    role: NDArray[np.int8]
    loose: Ints
    sides: NDArray[np.int8]
    rows: Ints
    coarse: Coarse


def reduced(surface: Surface, size: float, most: int) -> Progress[Coarse | None]:
    """The wetted surface with most edges shorter than `size` (m) collapsed, in some times `most` triangles: what skins
    of several sizes start from; None where it has no more than that.
    """
    rows = _wetted(surface)
    if len(rows) <= STARS_OVER_WANTED * most:
        return None
    even = np.full(len(surface.points), size)
    label = _label(surface)[rows]
    return (yield from coarsen_roughly(surface.points, surface.triangles[rows], label, even, most))


def skin(surface: Surface, size: Array, most: int, start: Coarse | None = None) -> Progress[Skin]:
    """The wetted surface with edges shorter than `size` (v,) collapsed, meters at its points, in at most about `most`
    triangles.

    start : of the same surface by `reduced`, with edges no longer than those wanted
    """
    torn = np.zeros(int(surface.shell.max()) + 1, dtype=bool)
    torn[surface.shell[surface.topology.edge_faces[surface.topology.open, 0]]] = True
    loose = np.where(torn[surface.shell], surface.shell.astype(np.intp) + 1, 0)
    role, rows = _role(surface), _wetted(surface)
    start = start or Coarse.none(surface.triangles[rows], len(surface.points))
    label = _label(surface)[rows[start.origin]]
    coarse = start.then((yield from coarsen(surface.points, start.triangles, label, size, most)))
    corners = surface.points[coarse.triangles]
    proper = area(corners) > 1e-9 * float(size.min()) ** 2
    if not proper.all():
        coarse = replace(coarse, triangles=coarse.triangles[proper], origin=coarse.origin[proper])
        corners = corners[proper]
    origin = rows[coarse.origin]
    return Skin(surface, corners, role[origin], loose[origin], surface.sides[origin], rows, coarse)


def _wetted(surface: Surface) -> Ints:
    return np.flatnonzero(surface.wetted & (surface.area > 0))


def _role(surface: Surface) -> NDArray[np.int8]:
    return np.where(surface.plated, Role.PART, Role.INSULATOR).astype(np.int8)


def _label(surface: Surface) -> Ints:
    """(m,) one number for triangles between which no line is kept."""
    return 2 * _role(surface).astype(np.intp) + surface.sides
