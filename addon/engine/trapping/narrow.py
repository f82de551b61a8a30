"""Openings so narrow that the bath may not get in: holes and slots below the capillary scale.

The local width of the liquid is measured by a ray from the surface to the wall across it. Places where it is
below the critical bore are gathered into openings, and how deep each goes tells whether it matters.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..geometry.sampling import R2
from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step
from .gas import critical_bore

SAMPLES_ACROSS_BORE = 6  # a critical bore, along a line
MAX_SAMPLE_POINTS = 200_000  # sample points on a part; a large part is sampled more coarsely
MIN_FACING_COS = np.cos(np.radians(30))  # walls that lean together more than this are a groove, not a gap
# depth over width up to which a recess floods: a design rule for blind holes, from memory
MAX_FLOODING_DEPTH_OVER_WIDTH = 0.5
DIRECTIONS_ACROSS = 12  # directions across the width in which a way out is searched
MAX_MEASURED_PLACES = 150  # places in one opening that its depth is measured at
MAX_SIGHTED_PLACES = 1500  # places that measure how far it extends
NEIGHBOR_SPACINGS = 3.0  # sample points nearer than this are neighbors

Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Opening:
    """A hole or slot that may not flood. Points in meters, in the part's axes.

    kind : "hole" (narrow both ways across) or "slot" (narrow one way)
    width : m from wall to wall, the median; depth : m from its innermost place to the nearest mouth
    area : m2 of its walls; centre, mouth : (3,) in the liquid, the middle and the place nearest to a mouth
    faces : triangles of the part on which it was seen; on a fine mesh not every one
    """

    kind: str
    width: float
    depth: float
    area: float
    centre: Points
    mouth: Points
    faces: NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class NarrowOpenings:
    """The narrow openings, the largest wall area first.

    width : m, the critical bore; spacing : m between sample points: openings smaller than that can be missed
    """

    width: float
    spacing: float
    openings: tuple[Opening, ...]


@dataclass(frozen=True, eq=False)
class _Gaps:
    """Places (k,) where a wall stands across: the triangle, the unit normal, the middle of the gap, its width."""

    face: NDArray[np.intp]
    normal: Points
    middle: Points
    width: NDArray[np.float64]

    def at(self, rows: NDArray[np.intp]) -> _Gaps:
        return _Gaps(self.face[rows], self.normal[rows], self.middle[rows], self.width[rows])


def openings(surface: Surface, tracer: Tracer, *, capillary_length: float) -> Progress[NarrowOpenings]:
    """Holes and slots narrower than the critical bore and deeper than half their width.

    capillary_length : m, of the bath. Cost: one ray a sample point, and some for each point in a narrow place.
    """
    width = critical_bore(capillary_length)
    yield Step(0.0, "looking for narrow openings")
    spacing = max(width / SAMPLES_ACROSS_BORE, float(np.sqrt(surface.wet_area.sum() / MAX_SAMPLE_POINTS)))
    gap = _narrow(surface, tracer, _samples(surface, spacing), width)
    narrow = []
    if len(gap.face):
        piece, count = _pieces(gap.middle, NEIGHBOR_SPACINGS / 2 * spacing)
        order = np.argsort(piece, kind="stable")
        for k, members in enumerate(np.split(order, np.cumsum(np.bincount(piece))[:-1])):
            yield Step(
                0.5 + 0.5 * k / count, filled("measuring narrow opening {number} of {count}", number=k + 1, count=count)
            )
            opening = _measure(tracer, gap.at(members), spacing, width)
            if opening.depth >= MAX_FLOODING_DEPTH_OVER_WIDTH * opening.width:
                narrow.append(opening)
    narrow.sort(key=lambda opening: -opening.area)
    return NarrowOpenings(width, spacing, tuple(narrow))


def _samples(surface: Surface, spacing: float) -> tuple[NDArray[np.intp], Points, Points]:
    """Points spread evenly over the wetted area, with their triangles and normals.

    One point for each `spacing` squared along the list of triangles; within a triangle by an additive
    recurrence (R2 sequence, common practice). A sheet has points on both sides.
    """
    area = np.cumsum(surface.area * surface.wetted)
    count = max(int(area[-1] / spacing**2), 1)
    face = np.searchsorted(area, (np.arange(count) + 0.5) * (area[-1] / count))
    u, v = np.modf(np.arange(count)[:, None] * R2)[0].T
    u, v = np.where(u + v > 1, 1 - u, u), np.where(u + v > 1, 1 - v, v)
    a, b, c = surface.points[surface.triangles[face]].transpose(1, 0, 2)
    points = a + u[:, None] * (b - a) + v[:, None] * (c - a)
    normal = surface.normal[face]
    back = surface.sides[face] == 2
    return (
        np.concatenate([face, face[back]]),
        np.concatenate([points, points[back]]),
        np.concatenate([normal, -normal[back]]),
    )


def _narrow(surface: Surface, tracer: Tracer, samples: tuple[NDArray[np.intp], Points, Points], width: float) -> _Gaps:
    """The samples that have a wall across the liquid, facing them, nearer than `width`."""
    face, points, normal = samples
    lift = surface.lift
    far_side, distance = tracer.first_hit(points + lift * normal, normal)
    facing = -np.einsum("ij,ij->i", normal, surface.normal[far_side])
    facing = np.where(surface.sides[far_side] == 2, np.abs(facing), facing)
    narrow = np.flatnonzero((far_side >= 0) & (distance + lift < width) & (facing > MIN_FACING_COS))
    across = distance[narrow] + lift
    middle = points[narrow] + 0.5 * across[:, None] * normal[narrow]
    return _Gaps(face[narrow], normal[narrow], middle, across)


def _pieces(points: Points, side: float) -> tuple[NDArray[np.int32], int]:
    """Which connected group each point belongs to: points in the same or touching cells of a grid are joined."""
    cell = np.floor((points - points.min(axis=0)) / side).astype(np.int64) + 1
    stride = cell.max() + 2
    keys, place = np.unique(cell @ np.array([stride * stride, stride, 1]), return_inverse=True)
    a, b = [], []
    for step in list(product((-1, 0, 1), repeat=3))[14:]:  # one of each opposite pair
        beside = keys + (step[0] * stride + step[1]) * stride + step[2]
        at = np.minimum(np.searchsorted(keys, beside), len(keys) - 1)
        both = np.flatnonzero(keys[at] == beside)
        a.append(both)
        b.append(at[both])
    label, count = connected(len(keys), np.concatenate(a), np.concatenate(b))
    return label[place.reshape(-1)], count


def _measure(tracer: Tracer, gap: _Gaps, spacing: float, width: float) -> Opening:
    """Size of one opening, from the places in it."""
    measured, sighted = _subsample(gap, MAX_MEASURED_PLACES), _subsample(gap, MAX_SIGHTED_PLACES)
    looks = _sight_directions(measured)
    count, ways = looks.shape[:2]
    free = tracer.first_hit(np.repeat(measured.middle, ways, axis=0), looks.reshape(-1, 3))[1].reshape(count, ways)
    side = 0.5 * width + spacing * np.sqrt(len(gap.face) / len(sighted.face))
    depth = _distance_to_visible_mouth(measured.middle, sighted.middle, looks, free, width, side)
    depth = _shortest_path_to_mouth(
        measured.middle, depth, NEIGHBOR_SPACINGS * spacing * np.sqrt(len(gap.face) / count)
    )
    chord = (free[:, : DIRECTIONS_ACROSS // 2] + free[:, DIRECTIONS_ACROSS // 2 : DIRECTIONS_ACROSS]).min(axis=1)
    return Opening(
        kind="hole" if np.median(chord) < width else "slot",
        width=float(np.median(gap.width)),
        depth=float(depth.max()),
        area=len(gap.face) * spacing**2,
        centre=gap.middle.mean(axis=0),
        mouth=measured.middle[int(depth.argmin())],
        faces=np.unique(gap.face).astype(np.int32),
    )


def _subsample(gap: _Gaps, most: int) -> _Gaps:
    """At most so many of the places, evenly taken."""
    return gap.at(np.linspace(0, len(gap.face) - 1, min(len(gap.face), most)).astype(np.intp))


def _sight_directions(gap: _Gaps) -> Points:
    """(k, ways, 3) directions across each place's width, DIRECTIONS_ACROSS all round, then along the whole opening."""
    least = np.eye(3)[np.abs(gap.normal).argmin(axis=1)]
    u = np.cross(gap.normal, least)
    u /= np.linalg.norm(u, axis=1, keepdims=True)
    v = np.cross(gap.normal, u)
    turn = 2 * np.pi * np.arange(DIRECTIONS_ACROSS)[:, None] / DIRECTIONS_ACROSS
    around = np.cos(turn) * u[:, None] + np.sin(turn) * v[:, None]
    _, _, axes = np.linalg.svd(gap.middle - gap.middle.mean(axis=0), full_matrices=False)
    along = np.broadcast_to(axes[0], (len(u), 1, 3))
    return np.concatenate([around, along, -along], axis=1)


def _distance_to_visible_mouth(
    middle: Points, others: Points, looks: Points, free: NDArray[np.float64], width: float, side: float
) -> NDArray[np.float64]:
    """(k,) distance of each place from the nearest mouth that it looks out of; inf where it sees none.

    A look leaves by a mouth if it is free for more than `width` past the last of the other places that lie on its
    way, at most `side` off.
    """
    offset = others[None] - middle[:, None]
    apart = np.linalg.norm(offset, axis=2)
    rows = np.arange(len(middle))
    depth = np.full(len(middle), np.inf)
    for way in range(looks.shape[1]):
        ahead = np.einsum("ijx,ix->ij", offset, looks[:, way])
        on_the_way = (apart**2 - ahead**2 < side**2) & (ahead <= free[:, way, None])
        ahead = np.where(on_the_way, ahead, -np.inf)
        last = ahead.argmax(axis=1)
        out = free[:, way] > ahead[rows, last] + width
        depth = np.minimum(depth, np.where(out, apart[rows, last], np.inf))
    return depth


def _shortest_path_to_mouth(middle: Points, depth: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    """The same for places that see no mouth: the shortest way to one over neighbors no further than `reach`.

    Where none leads out, the length of the opening: it winds, and no more is known.
    """
    apart = np.linalg.norm(middle[None] - middle[:, None], axis=2)
    step = np.where(apart <= reach, apart, np.inf)
    while True:
        through = np.minimum(depth, (step + depth).min(axis=1))
        if np.array_equal(through, depth):
            return np.where(np.isinf(depth), apart.max(axis=1), depth)
        depth = through
