"""Openness: the cosine-weighted share of the hemisphere above a face that sees open bath past the part, the view
factor to the surroundings.

It is a quick preview of shielding, not a thickness, which the field gives.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..findings import Code
from ..geometry.frames import frame
from ..geometry.quantiles import weighted_quantiles
from ..linalg.blas import one_thread
from ..mesh.rays import ParallelRays
from ..mesh.surface import Surface
from ..progress import Progress, Step
from .depth import OWN_MARGIN_PIXELS, DepthBuffers

MAX_HIDDEN_OPENNESS = 0.2  # what the middle of the bottom of a hole sees that is as deep as it is wide
DIRECTION_SETS = 2  # independent sets of directions, whose scatter gives the error
MIN_RAYS = 16  # rays a face, on however large a mesh
MAX_TOTAL_RAYS = 16_000_000  # rays in all
MAX_EXACT_FACES = 4_000  # up to this many faces use rays; more use depth buffers
GOLDEN_ANGLE_RAD = np.pi * (3.0 - 5.0**0.5)


Vectors = NDArray[np.float64]
Ways = tuple[NDArray[np.intp], NDArray[np.intp]]


@dataclass(frozen=True, eq=False)
class Openness:
    """What each face sees of the open bath. Statistics weigh faces by their wetted area.

    openness : (m,) 0..1, nan on faces that are not wetted; on a sheet wetted on both sides, the worse side
    hidden : (m,) bool, sheltered: openness below `MAX_HIDDEN_OPENNESS`
    rays : directions looked along from each side of a face, on average
    error : standard error of `openness`, root mean square over the faces that see part of the bath
    minimum, p5, median : 0..1, percentiles as in `weighted_quantiles`
    hidden_area : m2
    """

    openness: NDArray[np.float64]
    hidden: NDArray[np.bool_]
    rays: int
    error: float
    minimum: float
    p5: float
    median: float
    hidden_area: float


def survey(surface: Surface, *, rays: int = 64, seed: int = 0, budget: int = MAX_TOTAL_RAYS) -> Progress[Openness]:
    """Look out from the middle of every wetted face.

    rays : directions above each face; fewer, but at least `MIN_RAYS`, where all faces together would need more
        than `budget` rays: the error says what that costs.

    All faces share the directions, spread evenly over the sphere, each with the opposite one: so the rays of one
    direction are parallel and need no host's ray caster, what is drawn for it serves the opposite one, the error is
    that of several times as many random rays, and neighbors differ by what they see, not by noise. Linear in faces.
    More than `MAX_EXACT_FACES` faces are seen through depth buffers: an outline is then as fine as about one face, and
    on an open surface gaps below half a face may be lost.
    """
    wetted = np.flatnonzero(surface.wetted)
    both = np.flatnonzero(surface.wetted & (surface.sides == 2))
    face = np.append(wetted, both)
    normal = np.vstack([surface.normal[wetted], -surface.normal[both]])
    origin = surface.centroid[face] + surface.lift * normal
    rays = int(min(rays, max(MIN_RAYS, budget // max(len(face), 1))))
    view = (_Rays if len(wetted) <= MAX_EXACT_FACES else _Buffers)(surface, wetted, origin, seed)
    sets = _directions(rays, seed)
    seen, whole = np.zeros((2, len(face)))  # sums of cosines: of open directions, and of all
    first, second = np.zeros((2, len(face)))  # sums of the shares by set, and of their squares
    finished_rays, total = 0, sum(len(each) for each in sets)
    for directions in sets:
        open_part, all_part = np.zeros((2, len(face)))
        for direction in directions:
            yield Step(finished_rays / total, "looking for shielded faces")
            with one_thread():
                cosine = normal @ direction
                ways = np.flatnonzero(cosine > 0), np.flatnonzero(cosine < 0)
                cosine = np.abs(cosine)
                all_part += cosine
                for above, blocked in zip(ways, view.blocked(direction, ways, cosine), strict=True):
                    clear = above[~blocked]
                    open_part[clear] += cosine[clear]
            finished_rays += 1
        share = np.divide(open_part, all_part, out=np.zeros(len(face)), where=all_part > 0)
        first += share
        second += share**2
        seen += open_part
        whole += all_part
    share = np.divide(seen, whole, out=np.zeros(len(face)), where=whole > 0)
    variance = np.maximum(second / DIRECTION_SETS - (first / DIRECTION_SETS) ** 2, 0.0) / (DIRECTION_SETS - 1)
    partly = (share > 0) & (share < 1)
    error = float(np.sqrt(variance[partly].mean())) if partly.any() else 0.0
    openness = np.full(len(surface.triangles), np.nan)
    openness[wetted] = share[: len(wetted)]
    openness[both] = np.minimum(openness[both], share[len(wetted) :])
    return _summary(surface, openness, rays, error)


class _View(ABC):
    """The triangles that may stand in the way.

    On a closed surface a ray that leaves the liquid enters the solid: only faces that look against it count.
    Where bodies overlap, or the surface is open, a ray may start on the wrong side, and all faces count.
    """

    def __init__(self, surface: Surface, wetted: NDArray[np.intp], origin: Vectors, seed: int) -> None:
        self._points, self._triangles = surface.points, surface.triangles[wetted]
        self._normal = surface.normal[wetted]
        self._sound = surface.closed and all(fault.code != Code.SHELLS_OVERLAP for fault in surface.faults)
        self._origin, self._random = origin, np.random.default_rng(seed)

    @abstractmethod
    def blocked(self, direction: Vectors, ways: Ways, cosine: Vectors) -> Sequence[NDArray[np.bool_]]:
        """Whether something is in the way: (n,) along a direction of the faces that look that way, and (k,) against
        it of those that look the other. ways : of both the numbers; cosine : (m,) of all faces' normals, above 0"""


class _Rays(_View):
    """Each ray against each triangle in its way: exact, and quick for few faces."""

    def blocked(self, direction: Vectors, ways: Ways, cosine: Vectors) -> Sequence[NDArray[np.bool_]]:
        blocked = []
        for way, above in zip((direction, -direction), ways, strict=True):
            triangles = self._triangles
            if self._sound:
                triangles = triangles[self._normal @ way < 0]
            blocked.append(ParallelRays(self._points, triangles, way).blocked(self._origin[above]))
        return blocked


class _Buffers(_View):
    """One depth buffer a direction: its cost is that of the faces, whatever the rays meet."""

    def __init__(self, surface: Surface, wetted: NDArray[np.intp], origin: Vectors, seed: int) -> None:
        super().__init__(surface, wetted, origin, seed)
        self._buffers = DepthBuffers(self._points, self._triangles, self._normal)
        self._start = self._buffers.scaled(origin)

    def blocked(self, direction: Vectors, ways: Ways, cosine: Vectors) -> Sequence[NDArray[np.bool_]]:
        shift = self._random.uniform(-0.5, 0.5, 2)
        # a triangle drawn from its front lies level with its neighbors but for their bend
        margin = 0.0 if self._sound else OWN_MARGIN_PIXELS
        return [
            buffer.blocked(np.take(self._start, above, axis=0), cosine[above].astype(np.float32), margin)
            for buffer, above in zip(self._buffers.both_ways(frame(direction), shift, self._sound), ways, strict=True)
        ]


def _directions(rays: int, seed: int) -> list[NDArray[np.float64]]:
    """`DIRECTION_SETS` sets of unit vectors, `rays` together, each with the opposite ones evenly over the sphere, and
    turned at random."""
    random = np.random.default_rng(seed)
    sets = []
    for count in np.diff(np.linspace(0, rays, DIRECTION_SETS + 1).round().astype(int)):
        place = np.arange(count) + 0.5
        height, turn = 1.0 - place / count, GOLDEN_ANGLE_RAD * place
        radius = np.sqrt(1.0 - height**2)
        spiral = np.stack([radius * np.cos(turn), radius * np.sin(turn), height], axis=1)
        matrix, upper = np.linalg.qr(random.normal(size=(3, 3)))
        sets.append(spiral @ (matrix * np.sign(np.diag(upper))))
    return sets


def _summary(surface: Surface, openness: NDArray[np.float64], rays: int, error: float) -> Openness:
    p5, median = weighted_quantiles(openness, surface.wet_area, (0.05, 0.5))
    hidden = openness < MAX_HIDDEN_OPENNESS
    return Openness(
        openness=openness,
        hidden=hidden,
        rays=rays,
        error=error,
        minimum=float(np.nanmin(openness)),
        p5=float(p5),
        median=float(median),
        hidden_area=float(surface.wet_area[hidden].sum()),
    )
