"""Round regions of a surface: bores and shafts, by growing regions over facets whose normals turn smoothly.

A region's facets look away from one axis where their normals lie in one plane: the axis is the null direction of the
normals' covariance. The circle across it is the least-squares one of I. Kasa, IEEE Trans. Instrum. Meas. 25 (1976) 8
(as N. Chernov's code describes it, read: good from half a circle on), through the corners: a tessellated cylinder has
its corners on the true circle, its flats inside it.
Where a bore runs into a fillet or a wall without an edge, its faces are first told apart by the direction in which the
surface does not bend: the largest eigenvector of the edges' curvature tensor (D. Cohen-Steiner and J.-M. Morvan,
Proc. Symp. Computational Geometry (2003) 312; abstract read). Docs: theory-printing.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import basis
from ..linalg.labels import connected
from ..mesh.surface import Surface

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

MAX_FACET_ANGLE_RAD = np.radians(35.0)  # between facets of one region: a circle of eleven sides or more
MAX_NORMAL_TILT_SINE = np.sin(np.radians(2.0))  # of the normals' plane: rms of their part along the axis
MIN_NORMAL_VARIANCE = 0.12  # of the normals' covariance, in its second direction: less is a strip
MAX_RADIAL_ERROR_SHARE = 0.01  # of the radius, rms
MIN_COVERAGE_RAD = np.radians(200.0)  # rad of the circle: closed all round, excluding fillets and halves
MIN_FILLED_SHARE = 0.6  # of the cylinder between its ends that the region's facets cover
MIN_FACES = 12  # two triangles a facet, of what is held all round
MIN_BORE_LENGTH_DIAMETERS, MIN_SHAFT_LENGTH_DIAMETERS = 0.05, 0.25  # diameters: a shorter shaft is the rim of a disk
MAX_SEEDS = 64  # smooth regions that are no cylinder as a whole: pieces examined, the largest first
MAX_MINOR_CURVATURE_SHARE = 0.25  # of the largest bend, in the direction along a cylinder
MIN_AXIS_COS = np.cos(np.radians(15.0))  # between neighbors of one piece
# of the faces, share that belongs to a cylinder already found
MAX_GROWN_RADIAL_ERROR_SHARE, MAX_GROWN_TILT_SINE = 0.02, np.sin(np.radians(5.0))
MAX_INSIDE_GAUGE_SHARE = 0.02  # of the facets' area that may stand closer to the axis than a gauge finds


@dataclass(frozen=True, eq=False)
class Cylinder:
    """A round region. Meters.

    center : (3,) the middle of its axis; axis : (3,) unit, its largest part positive
    diameter : of the circle through the corners; gauge : what a pin or a ring gauge finds: across the flats of a bore,
    across the corners of a shaft
    length : along the axis; coverage : radians of the circle; hollow : whether the surface looks at its axis
    faces : (k,) triangles
    """

    center: Array
    axis: Array
    diameter: float
    gauge: float
    length: float
    coverage: float
    hollow: bool
    faces: Indices


@dataclass(frozen=True, eq=False)
class SmoothEdges:
    """The edges between two facets that turn smoothly into each other.

    faces : (e, 2); angle : (e,) radians, positive where the surface bulges; direction : (e, 3) unit; length : (e,) m
    """

    faces: Indices
    angle: Array
    direction: Array
    length: Array

    def regions(self, count: int) -> tuple[NDArray[np.int32], int]:
        """The connected pieces of `count` triangles, as `connected`."""
        return connected(count, self.faces[:, 0], self.faces[:, 1])


@dataclass(frozen=True, eq=False)
class _Circles:
    """One a region: axis (r, 3), middle (r, 3) on it, radius (r,), error (r,) rms of the radius over the radius"""

    axis: Array
    middle: Array
    radius: Array
    error: Array


def smooth_edges(surface: Surface) -> SmoothEdges:
    """The edges over which a region may grow. O(edges)."""
    topology = surface.topology
    pairs = topology.edge_faces
    usable = surface.wetted & (surface.area > 0)
    smooth = np.flatnonzero((pairs[:, 1] >= 0) & usable[pairs[:, 0]] & usable[pairs[:, 1]])
    smooth = smooth[
        np.einsum("ij,ij->i", *(surface.normal[pairs[smooth, k]] for k in (0, 1))) >= np.cos(MAX_FACET_ANGLE_RAD)
    ]
    faces = pairs[smooth].astype(np.intp)
    a, b = (surface.normal[faces[:, k]] for k in (0, 1))
    angle = 2.0 * np.arcsin(np.clip(0.5 * np.linalg.norm(b - a, axis=1), 0.0, 1.0))
    apart = surface.centroid[faces[:, 1]] - surface.centroid[faces[:, 0]]
    angle *= np.where(np.einsum("ij,ij->i", apart, a) <= 0, 1.0, -1.0)
    ends = surface.points[topology.edges[smooth]]
    along = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(along, axis=1)
    along /= np.maximum(length, 1e-300)[:, None]
    return SmoothEdges(faces, angle, along, length)


def find(surface: Surface, bends: SmoothEdges | None = None) -> list[Cylinder]:
    """Bores and shafts, the largest area first. O(faces) and some passes a region that is not round as a whole."""
    bends = smooth_edges(surface) if bends is None else bends
    label, count = bends.regions(len(surface.area))
    cylinders, round_ones = [], np.zeros(count, dtype=bool)
    for region, faces in _round_regions(surface, label, count):
        cylinder = fit_cylinder(surface, faces)
        if cylinder is not None:
            cylinders.append(cylinder)
            round_ones[region] = True
    cylinders += _partial_cylinders(surface, bends, label, round_ones)
    return sorted(cylinders, key=lambda cylinder: -float(surface.area[cylinder.faces].sum()))


def fit_cylinder(surface: Surface, faces: Indices) -> Cylinder | None:
    """The cylinder of a region; None where it is none."""
    if len(faces) < MIN_FACES:
        return None
    circles = _circles(surface, np.zeros(len(faces), dtype=np.int32), 1, faces)
    axis, middle, radius = circles.axis[0], circles.middle[0], float(circles.radius[0])
    if not circles.error[0] < MAX_RADIAL_ERROR_SHARE:
        return None
    u, v = basis(axis)
    corners = surface.corners[faces].reshape(-1, 3) - middle
    height = corners @ axis
    length = float(np.ptp(height))
    coverage = _covered_angle(np.arctan2(corners @ v, corners @ u))
    area, normal = surface.area[faces], surface.normal[faces]
    out = surface.centroid[faces] - middle
    out -= np.outer(out @ axis, axis)
    inner = np.einsum("ij,ij->i", normal, out)  # m from the axis to each facet's plane, positive on a shaft
    hollow = bool(area @ inner < 0)
    one_sided = area[(inner < 0) == hollow].sum() > 0.99 * area.sum()
    filled = float(area.sum()) / (coverage * radius * length) if length > 0 else 0.0
    least = MIN_BORE_LENGTH_DIAMETERS if hollow else MIN_SHAFT_LENGTH_DIAMETERS
    if coverage < MIN_COVERAGE_RAD or filled < MIN_FILLED_SHARE or not one_sided or length < 2 * least * radius:
        return None
    order = np.argsort(np.abs(inner))
    within = np.searchsorted(np.cumsum(area[order]), MAX_INSIDE_GAUGE_SHARE * area.sum())
    flats = 2 * float(np.abs(inner[order[within]]))
    center = middle + 0.5 * (height.min() + height.max()) * axis
    gauge = min(flats, 2 * radius) if hollow else 2 * radius
    return Cylinder(center, axis, 2 * radius, gauge, length, coverage, hollow, faces)


def _covered_angle(angle: Array) -> float:
    """Radians of a circle that points at these angles stand round, gaps as of one facet between them."""
    angle = np.sort(angle)
    gap = float(np.max(np.diff(angle, append=angle[0] + 2 * np.pi)))
    return 2 * np.pi if gap <= 1.05 * MAX_FACET_ANGLE_RAD else 2 * np.pi - gap


def _round_regions(surface: Surface, label: NDArray[np.int32], count: int) -> list[tuple[int, Indices]]:
    """(region, its faces) of the regions whose normals lie in a plane and whose corners stand on a circle."""
    size = np.bincount(label, minlength=count)
    faces = np.flatnonzero((size[label] >= MIN_FACES) & (surface.area > 0))
    labels, place = np.unique(label[faces], return_inverse=True)
    if not len(labels):
        return []
    circles = _circles(surface, place.reshape(-1).astype(np.int32), len(labels), faces)
    fitting = np.flatnonzero(circles.error < 3 * MAX_RADIAL_ERROR_SHARE)
    order = np.argsort(place.reshape(-1), kind="stable")
    ends = np.searchsorted(place.reshape(-1)[order], np.arange(len(labels) + 1))
    return [(int(labels[k]), faces[order[ends[k] : ends[k + 1]]]) for k in fitting]


def _circles(surface: Surface, label: NDArray[np.int32], count: int, faces: Indices) -> _Circles:
    """The least-squares circle of each region; an error of inf where its normals lie in no plane.

    label : (k,) region of each of `faces` (k,)
    """
    area, normal = surface.area[faces], surface.normal[faces]

    def gathered(values: Array) -> Array:
        return np.asarray(np.bincount(label, values, count), dtype=np.float64)

    whole = np.maximum(gathered(area), 1e-300)
    spread = np.empty((count, 3, 3))
    for i, j in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)):
        spread[:, i, j] = spread[:, j, i] = gathered(area * normal[:, i] * normal[:, j]) / whole
    value, vector = np.linalg.eigh(spread)
    axis = vector[:, :, 0]
    axis = axis * np.where(np.take_along_axis(axis, np.abs(axis).argmax(axis=1)[:, None], 1) < 0, -1.0, 1.0)
    flat = (value[:, 0] <= MAX_NORMAL_TILT_SINE**2) & (value[:, 1] >= MIN_NORMAL_VARIANCE)
    u, v = vector[:, :, 1], vector[:, :, 2]
    hopeful = flat[label]
    faces, label, area = faces[hopeful], label[hopeful], area[hopeful]
    middle = np.stack([gathered(area * surface.centroid[faces, k]) / whole for k in range(3)], axis=1)
    rows = np.zeros((count, 3, 3))
    right = np.zeros((count, 3))
    corner_x, corner_y = [], []
    for k in range(3):
        apart = surface.corners[faces, k] - middle[label]
        x, y = np.einsum("ij,ij->i", apart, u[label]), np.einsum("ij,ij->i", apart, v[label])
        corner_x.append(x)
        corner_y.append(y)
        square = x * x + y * y
        columns = (x, y, np.ones_like(x))
        for i, column in enumerate(columns):
            right[:, i] += gathered(area * column * square)
            for j, other in enumerate(columns):
                rows[:, i, j] += gathered(area * column * other)
    size = np.sqrt(np.maximum(np.trace(rows[:, :2, :2], axis1=1, axis2=2) / (3 * whole), 1e-300))
    size = np.where(flat, size, 1.0)
    scale = np.stack([size, size, np.ones_like(size)], axis=1)
    rows = rows / (scale[:, :, None] * scale[:, None, :] * 3 * whole[:, None, None])
    flat &= np.linalg.det(rows) > 1e-9
    rows[~flat] = np.eye(3)
    half_x, half_y, remainder = (
        np.linalg.solve(rows, (right / (scale * 3 * whole[:, None]))[:, :, None])[:, :, 0] / scale
    ).T
    x0, y0 = 0.5 * half_x, 0.5 * half_y
    radius = np.sqrt(np.maximum(remainder + x0**2 + y0**2, 1e-300))
    miss = sum(
        gathered(area * (np.hypot(x - x0[label], y - y0[label]) - radius[label]) ** 2)
        for x, y in zip(corner_x, corner_y, strict=True)
    )
    error = np.where(flat, np.sqrt(miss / (3 * whole)) / radius, np.inf)
    return _Circles(axis, middle + x0[:, None] * u + y0[:, None] * v, radius, error)


def _partial_cylinders(
    surface: Surface, bends: SmoothEdges, label: NDArray[np.int32], assigned: NDArray[np.bool_]
) -> list[Cylinder]:
    """Cylinders within smooth regions that are none as a whole: a bore with rounded rims, a shaft with a round end."""
    size = np.bincount(label, minlength=len(assigned))
    open_ = ~assigned & (size >= 2 * MIN_FACES)
    edge = np.flatnonzero(open_[label[bends.faces[:, 0]]])
    if not len(edge):
        return []
    axis, ruled = _rulings(surface, bends, edge)
    a, b = bends.faces[edge].T
    turn = np.abs(np.einsum("ij,ij->i", axis[a], axis[b]))
    same = ruled[a] & ruled[b] & (turn >= MIN_AXIS_COS)
    piece, count = connected(len(surface.area), a[same], b[same])
    regions = _round_regions(surface, np.where(ruled, piece, count).astype(np.int32), count + 1)
    seeds = [faces for region, faces in regions if region != count]
    seeds.sort(key=lambda faces: -float(surface.area[faces].sum()))
    cylinders: list[Cylinder] = []
    free = np.ones(len(surface.area), dtype=bool)
    for faces in seeds[:MAX_SEEDS]:
        if not free[faces].all():
            continue
        cylinder = _grow(surface, bends, np.flatnonzero(free & (label == label[faces[0]])), faces)
        if cylinder is not None:
            cylinders.append(cylinder)
            free[cylinder.faces] = False
    return cylinders


def _rulings(surface: Surface, bends: SmoothEdges, edge: Indices) -> tuple[Array, NDArray[np.bool_]]:
    """(m, 3) the direction in which each triangle's surface does not bend, and whether it bends across it alone."""
    count = len(surface.area)
    weight, direction = bends.angle[edge] * bends.length[edge], bends.direction[edge]
    a, b = bends.faces[edge].T
    tensor = np.zeros((count, 3, 3))
    for i, j in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)):
        part = weight * direction[:, i] * direction[:, j]
        own = np.bincount(a, part, count) + np.bincount(b, part, count)
        ring = own + np.bincount(a, own[b], count) + np.bincount(b, own[a], count)
        tensor[:, i, j] = tensor[:, j, i] = ring
    faces = np.unique(bends.faces[edge])
    value, vector = np.linalg.eigh(tensor[faces])
    most = np.abs(value).argmax(axis=1)
    rank = np.sort(np.abs(value), axis=1)
    axis, ruled = np.zeros((count, 3)), np.zeros(count, dtype=bool)
    axis[faces] = np.take_along_axis(vector, most[:, None, None], axis=2)[:, :, 0]
    across = np.abs(np.einsum("ij,ij->i", axis[faces], surface.normal[faces]))
    ruled[faces] = (rank[:, 1] < MAX_MINOR_CURVATURE_SHARE * rank[:, 2]) & (rank[:, 2] > 0) & (across < 0.2)
    return axis, ruled


def _grow(surface: Surface, bends: SmoothEdges, faces: Indices, seed: Indices) -> Cylinder | None:
    """The cylinder of a piece with all the faces about it that lie on it. faces : (k,) those that may belong to it"""
    circles = _circles(surface, np.zeros(len(seed), dtype=np.int32), 1, seed)
    axis, middle, radius = circles.axis[0], circles.middle[0], circles.radius[0]
    out = surface.corners[faces] - middle
    out -= (out @ axis)[:, :, None] * axis
    off = np.abs(np.linalg.norm(out, axis=2) - radius).max(axis=1)
    lies = (off < MAX_GROWN_RADIAL_ERROR_SHARE * radius) & (np.abs(surface.normal[faces] @ axis) < MAX_GROWN_TILT_SINE)
    on = np.zeros(len(surface.area), dtype=bool)
    on[faces[lies]] = True
    both = on[bends.faces].all(axis=1)
    piece, _ = connected(len(surface.area), *bends.faces[both].T)
    whole = np.flatnonzero(on & (piece == np.bincount(piece[seed]).argmax()))
    fitted = fit_cylinder(surface, whole)
    return fitted if fitted is not None and fitted.coverage >= 2 * np.pi else None  # an arc belongs to a ring or a ball
