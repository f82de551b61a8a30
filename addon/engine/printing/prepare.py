"""Preparation before printing and coating: growth, layer steps, sanding, an inset copy to size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError
from ..filled import filled
from ..geometry.frames import unit
from ..geometry.quantiles import weighted_quantiles
from ..mesh.surface import Surface
from ..settings.part import Coat, Print
from ..settings.target import Target
from ..units import MM, UM
from . import steps
from .layer import Layer
from .steps import MIN_LEVEL_COS, MIN_SANDED_STEP_M

MIN_EIGENVALUE_SHARE = 0.02  # share of the largest eigenvalue below which the planes at a vertex do not fix a direction
MAX_MOVE_OVER_OFFSET = 3.0  # a vertex moves no farther than this many times its largest offset


@dataclass(frozen=True, eq=False)
class Preparation:
    """Layer steps and growth, in SI.

    growth : m that every plated surface moves outward, coat and mean deposit together
    staircase : (m,) m, height of the layer steps square to the surface, as printed
    median, p95, maximum : m of `staircase`, by plated area as in `weighted_quantiles`
    rough : (m,) bool, plated faces with steps above `MIN_SANDED_STEP_M`; sanding_area : m2 of them
    step_area_ratio : area of the unsanded steps, taken as square, to that of the smooth surface
    """

    growth: float
    staircase: NDArray[np.float64]
    median: float
    p95: float
    maximum: float
    rough: NDArray[np.bool_]
    sanding_area: float
    step_area_ratio: float

    @property
    def bore_loss(self) -> float:
        """m by which the diameter of a hole shrinks; a shaft grows by as much."""
        return 2 * self.growth

    @property
    def step_thinning(self) -> float:
        """0..1, largest thinning of the deposit by the extra area of unsanded steps; paint and a leveling bath round
        them off."""
        return max(1.0 - 1.0 / self.step_area_ratio, 0.0)  # rounding

    @property
    def thread_growth(self) -> float:
        """m by which the pitch diameter of a 60 degree thread changes: four times (ASME B1.1, section 7)."""
        return 4 * self.growth


@dataclass(frozen=True, eq=False)
class Inset:
    """A copy moved inward so that the finished part is to size.

    points : (v, 3) m, for `Surface.triangles`
    inverted : indices of triangles that the move turned over: walls or gaps thinner than the layer there
    """

    points: NDArray[np.float64]
    inverted: NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class SizedCopy:
    """The copy to print. Meters.

    layer : what its faces are moved inward by, low and high of all but the least and the most 5 % of the plated area
    deviation : how far a face of the plated part may end up inside (below zero) and outside of the model where the
    deposit is thick, for what the current distribution may be off; local : whether by the local thickness
    """

    inset: Inset
    layer: tuple[float, float]
    deviation: tuple[float, float]
    local: bool


def inspect(surface: Surface, printing: Print, target: Target, coat: Coat) -> Preparation:
    """Growth, and the layer steps of each face: c = h |n_z| (Dolenc and Makela, CAD 26 (1994) 119).

    A level face lies within one layer and has no step. O(m).
    """
    rise = np.abs(surface.normal @ unit(printing.up))
    staircase = steps.step_height(rise, printing.layer)
    area = surface.plated_area
    rough = (area > 0) & (staircase > MIN_SANDED_STEP_M)
    run = np.sqrt(np.maximum(0.0, 1.0 - rise**2))
    stepped = np.where(rise < MIN_LEVEL_COS, rise + run, 1.0)
    total = float(area.sum())
    median, p95 = weighted_quantiles(staircase, area, (0.5, 0.95)) if total > 0 else (0.0, 0.0)
    return Preparation(
        growth=target.thickness + coat.thickness,
        staircase=staircase,
        median=float(median),
        p95=float(p95),
        maximum=float(staircase[area > 0].max(initial=0.0)),
        rough=rough,
        sanding_area=float(area[rough].sum()),
        step_area_ratio=float(stepped @ area) / total if total > 0 else 1.0,
    )


def inset(surface: Surface, thickness: ArrayLike) -> Inset:
    """The surface moved inward by a thickness a face, so that the layer brings it back to size.

    thickness : (m,) m or one number, of coat and deposit; faces that are not plated stay where they are.

    Each vertex d solves the least squares of n_f . d = -t_f over its faces, weighted by their angle there, so
    that flat faces, edges and corners land exactly. Where the planes are nearly parallel the shortest d is
    taken. It ignores the far side: where a wall or a gap is thinner than the layer, faces turn over,
    and are returned as `inverted`. O(m), a 3 x 3 eigenproblem a vertex.
    """
    layer = np.where(surface.plated_area > 0, np.broadcast_to(thickness, surface.area.shape), 0.0)
    normal, count = surface.normal, len(surface.points)
    corner = surface.triangles.T.ravel()
    angle = _corner_angles(surface.corners).T

    def gathered(values: NDArray[np.float64]) -> NDArray[np.float64]:
        """(v,) sums over the corners at each vertex of a value a face, weighted by angle."""
        return np.asarray(np.bincount(corner, (angle * values).ravel(), count), dtype=np.float64)

    planes = np.empty((count, 3, 3))
    for i, j in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)):
        planes[:, i, j] = planes[:, j, i] = gathered(normal[:, i] * normal[:, j])
    pull = np.stack([gathered(-layer * normal[:, i]) for i in range(3)], axis=1)
    most = np.zeros(count)
    np.maximum.at(most, corner, np.tile(layer, 3))
    value, vector = np.linalg.eigh(planes)
    firm = value > MIN_EIGENVALUE_SHARE * value[:, -1:]
    inverse = np.divide(1.0, value, out=np.zeros_like(value), where=firm & (value > 0))
    move = np.einsum("vij,vj,vkj,vk->vi", vector, inverse, vector, pull, optimize=True)
    length = np.linalg.norm(move, axis=1)
    move *= np.minimum(1.0, np.divide(MAX_MOVE_OVER_OFFSET * most, length, out=np.ones(count), where=length > 0))[
        :, None
    ]
    points = surface.points + move
    a, b, c = (points[surface.triangles[:, k]] for k in range(3))
    after = np.einsum("ij,ij->i", np.cross(b - a, c - a), normal)
    return Inset(points, np.flatnonzero((after <= 0) & (surface.area > 0)).astype(np.int32))


def to_size(surface: Surface, layer: Layer) -> SizedCopy:
    """The copy to print, so that coat and deposit bring the part to the size of the model.

    Raises InputError where the mesh is open, or a wall or a gap is too thin for it.
    """
    if not surface.closed:
        raise InputError(
            filled(
                "{name}: a print-size copy can only be made of a solid, but the mesh is open at {count} edges;"
                " close it first (the mesh check selects the gaps)",
                name=surface.name,
                count=f"{len(surface.topology.open):,}",
            )
        )
    copy = inset(surface, layer.mean)
    if len(copy.inverted):
        most = float(layer.mean[copy.inverted].max())
        area = float(surface.area[copy.inverted].sum())
        raise InputError(
            filled(
                "{name}: walls, gaps or edges at {count} faces ({area} mm2) are too thin to give way to a"
                " layer of {layer} um; thicken the model there, or ask for less deposit",
                name=surface.name,
                count=len(copy.inverted),
                area=f"{area / MM**2:.3g}",
                layer=f"{most / UM:.0f}",
            )
        )
    plated = np.flatnonzero(surface.plated_area > 0)
    ends = (0.05, 0.95)
    low, high = (
        float(quantile) for quantile in weighted_quantiles(layer.mean[plated], surface.plated_area[plated], ends)
    )
    thick = float(weighted_quantiles(layer.deposit[plated], surface.plated_area[plated], ends)[1])
    off = (layer.span[0] - 1.0) * thick, (layer.span[1] - 1.0) * thick
    return SizedCopy(copy, (low, high), off, layer.local)


def _corner_angles(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m, 3) radians at each corner; zero on degenerate triangles."""
    ahead = np.roll(corners, -1, axis=1) - corners
    behind = np.roll(corners, 1, axis=1) - corners
    across = np.linalg.norm(np.cross(ahead, behind), axis=2)
    return np.arctan2(across, np.einsum("mki,mki->mk", ahead, behind))
