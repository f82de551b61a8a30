"""The surface used by all computations: the captured triangles, welded and turned outward."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..findings import Finding
from ..geometry.triangles import Measures, bounds, measure
from .topology import Topology


@dataclass(frozen=True, eq=False)
class Surface:
    """A repaired copy of a part, row for row: triangle i here is triangle i of the part.

    points : (v, 3) float64, meters, welded: one point a place
    triangles : (m, 3) int32 into points, turned so that the normal points out of the solid
    shell : (m,) int32, the connected piece that a triangle belongs to
    wetted : (m,) bool: false on degenerate and repeated triangles and on enclosed shells
    plated : (m,) bool: wetted, and not masked by the user
    show : (m,) bool: a face that shows
    sides : (m,) int8: how many sides the liquid touches: 1, or 2 on a sheet that the user says is one
    """

    name: str
    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    shell: NDArray[np.int32]
    wetted: NDArray[np.bool_]
    plated: NDArray[np.bool_]
    show: NDArray[np.bool_]
    sides: NDArray[np.int8]
    closed: bool
    volume: float  # m3 of solid plastic, sealed voids taken off; nan where the surface is open
    faults: tuple[Finding, ...] = ()

    @cached_property
    def corners(self) -> NDArray[np.float64]:
        """(m, 3, 3) meters."""
        return self.points[self.triangles]

    @cached_property
    def _measures(self) -> Measures:
        return measure(self.points, self.triangles)

    @property
    def area(self) -> NDArray[np.float64]:
        """(m,) m2 of one side of each triangle."""
        return self._measures.area

    @property
    def normal(self) -> NDArray[np.float64]:
        """(m, 3) unit outward normals; zero on degenerate triangles."""
        return self._measures.normal

    @cached_property
    def wet_area(self) -> NDArray[np.float64]:
        """(m,) m2 that the liquid touches: area x sides where wetted, else zero."""
        return self.area * self.sides * self.wetted

    @cached_property
    def plated_area(self) -> NDArray[np.float64]:
        """(m,) m2 that takes deposit."""
        return self.wet_area * self.plated

    @cached_property
    def plated_total(self) -> float:
        """m2 of the whole plated area. Raises InputError where nothing is plated."""
        self.check_plated()
        return float(self.plated_area.sum())

    def check_plated(self) -> None:
        """Raises InputError where nothing takes deposit."""
        if not float(self.plated_area.sum()) > 0:
            raise InputError(
                filled("{name}: nothing is plated: every face is masked or enclosed; unmask some faces", name=self.name)
            )

    @cached_property
    def topology(self) -> Topology:
        """The edges, and which triangles meet at them; repeated and collapsed triangles are left out."""
        return Topology.of(self.triangles, len(self.points))

    def know(self, topology: Topology, measures: Measures) -> None:
        """Store what the inspection has computed already."""
        vars(self).update(topology=topology, _measures=measures)

    @cached_property
    def centroid(self) -> NDArray[np.float64]:
        """(m, 3) meters."""
        return self.corners.mean(axis=1)

    @property
    def used_points(self) -> NDArray[np.float64]:
        """(k, 3) meters, the points that a triangle uses."""
        used = np.zeros(len(self.points), dtype=bool)
        used[self.triangles] = True
        return self.points if used.all() else self.points[used]

    @cached_property
    def bounds(self) -> NDArray[np.float64]:
        """(2, 3) meters: lowest and highest coordinate of the used points."""
        return bounds(self.used_points)

    @cached_property
    def size(self) -> float:
        """Diagonal of the bounding box, meters."""
        low, high = self.bounds
        return float(np.linalg.norm(high - low))

    @cached_property
    def visible_area(self) -> NDArray[np.float64]:
        """(m,) m2 that is plated and shows: of show faces where any are marked, else of all that is plated."""
        shown = np.where(self.show, self.plated_area, 0.0)
        return shown if shown.any() else self.plated_area

    def visible_share(self, spoilt: NDArray[np.float64] | NDArray[np.bool_]) -> float:
        """Share 0..1 of the visible plated area, for (m,) shares of each triangle."""
        whole = float(self.visible_area.sum())
        return min(float(self.visible_area @ spoilt) / whole, 1.0) if whole > 0 else 0.0

    @cached_property
    def lift(self) -> float:
        """Offset of a ray's origin from its own face: above single precision, below any feature."""
        return 2e-5 * self.size
