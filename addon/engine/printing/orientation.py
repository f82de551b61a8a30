"""Print orientation: the sanding effort left by layer steps and supports, for candidate directions.

Candidates are the direction set, the model's axes, its large flat faces laid on the bed, and directions spread over
the sphere. Each costs the volume that is to be sanded away or filled where it shows: half of a step's height over its
area (`steps.remaining_step`), and one layer where a support has touched. Docs: theory-printing.md.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..filled import filled
from ..geometry.attitude import around, sphere
from ..geometry.frames import unit
from ..geometry.quantiles import weighted_quantiles
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..progress import Progress, Step
from ..settings.part import Print
from . import steps
from .places import spread

Array = NDArray[np.float64]

# downward part of a normal beyond which a face wants support (common practice)
MIN_OVERHANG_COS = np.cos(np.radians(45.0))
MIN_LEVEL_UNDERSIDE_COS = np.cos(np.radians(15.0))  # in the bath: bubbles cling (as in trapping)
SPREAD_DIRECTIONS = 48
FLAT_DIRECTIONS = 12
REFINEMENT_ANGLE_RAD = np.radians(9.0)  # rad, refinement around the best: half the spacing of the spread directions
SAME_DIRECTION_COS = np.cos(np.radians(3.0))
NORMAL_CELLS_PER_UNIT = 50  # of a normal's components from 0 to 1: normals of one cell are of one flat face
MAX_TRIED_FACES = 40_000  # larger meshes are ranked by places spread over the surface
MAX_RANKED = 5
SUPPORT_RAYS = 4_000
HIDDEN_MARK_WEIGHT = 0.1  # of a support mark that does not show: it is broken off, not sanded
MIN_SAVED_EFFORT_SHARE = 0.1  # of the effort: saving from which another way up is suggested


@dataclass(frozen=True, eq=False)
class Direction:
    """One way up on the printer. up : (3,) unit, model axes

    median, p95 : m, of the steps over what shows, as printed
    rough_area : m2 that shows with steps above `steps.MIN_SANDED_STEP_M` under filler, coat and deposit
    overhang_area : m2 that a support touches from below; landing_area : m2 of the part that it stands on, nan where
    nobody looked; bed_area : m2 that lies on the bed; height : m
    rough_undersides : m2 with steps or support marks that in the bath face down nearly level: bubbles cling twice
    effort : m3 to sand away or to fill where it shows, with support marks
    """

    up: Array
    median: float
    p95: float
    rough_area: float
    overhang_area: float
    landing_area: float
    bed_area: float
    height: float
    rough_undersides: float
    effort: float

    @property
    def support_area(self) -> float:
        """m2 of the part that supports touch, above and below."""
        return self.overhang_area + self.landing_area


@dataclass(frozen=True, eq=False)
class Orientation:
    """ranked : the best ways up, least effort first; as_set : the one that is set; sanding : what that leaves to do"""

    ranked: tuple[Direction, ...]
    as_set: Direction
    sanding: steps.Sanding

    @property
    def better(self) -> Direction | None:
        """A way up that saves a good part of the effort; None where the one that is set is as good."""
        best = self.ranked[0]
        return best if best.effort < (1.0 - MIN_SAVED_EFFORT_SHARE) * self.as_set.effort else None


@dataclass(frozen=True, eq=False)
class _Faces:
    """The faces or places used for ranking. normal : (n, 3); corners : (n, 3, 3) m; area, visible : (n,) m2 that each
    stands for;
    growth : (n,) m; bath : (n,) whether it faces down nearly level in the bath"""

    normal: Array
    corners: Array
    area: Array
    visible: Array
    growth: Array
    bath: NDArray[np.bool_]


def search(
    surface: Surface, tracer: Tracer, printing: Print, growth: Array, bath_up: NDArray[np.float64]
) -> Progress[Orientation]:
    """Rank the ways up on the printer.

    growth : (m,) m of coat and deposit; bath_up : (3,) the way up in the bath
    Raises InputError where nothing is plated.
    Cost: some eighty passes over at most `MAX_TRIED_FACES` places, some over all faces and some thousand rays.
    """
    surface.check_plated()
    whole = _faces(surface, growth, unit(bath_up))
    sample = _sample(surface, whole)
    candidates = _candidates(surface, unit(printing.up))
    tried = []
    for number, up in enumerate(candidates):
        if number % 8 == 0:
            yield Step(
                0.7 * number / len(candidates),
                filled("print direction {number} of {count}", number=number + 1, count=len(candidates)),
            )
        tried.append(_evaluate(sample, surface.points, up, printing))
    order = _best_first(tried)
    candidates += [near for k in order[:3] for near in around(candidates[k], REFINEMENT_ANGLE_RAD)]
    tried += [_evaluate(sample, surface.points, up, printing) for up in candidates[len(tried) :]]
    order = _best_first(tried)
    yield Step(0.8, "measuring the best print directions")
    exact = [
        _with_landing_area(surface, tracer, _evaluate(whole, surface.points, candidates[k], printing))
        for k in (0, *order)
    ]
    as_set = exact[0]
    ranked = sorted(exact, key=lambda direction: direction.effort)[:MAX_RANKED]
    return Orientation(tuple(ranked), as_set, steps.sanding(surface, printing, growth, unit(bath_up)))


def _best_first(tried: list[Direction]) -> list[int]:
    """The best of those that were tried beside the way up that is set, which is the first."""
    return sorted(range(1, len(tried)), key=lambda k: (round(tried[k].effort * 1e15), k))[:MAX_RANKED]


def _faces(surface: Surface, growth: Array, bath_up: Array) -> _Faces:
    wetted = np.flatnonzero((surface.area > 0) & surface.wetted)
    normal = surface.normal[wetted]
    under = normal @ bath_up < -MIN_LEVEL_UNDERSIDE_COS
    area, visible = surface.area[wetted], surface.visible_area[wetted]
    return _Faces(normal, surface.corners[wetted], area, visible, growth[wetted], under)


def _sample(surface: Surface, faces: _Faces) -> _Faces:
    """The faces themselves, or places spread over them where they are many."""
    if len(faces.area) <= MAX_TRIED_FACES:
        return faces
    face, place = spread(faces.corners, faces.area, MAX_TRIED_FACES)
    area = np.full(len(face), float(faces.area.sum()) / len(face))
    visible = area * faces.visible[face] / faces.area[face]
    corners = np.repeat(place[:, None], 3, axis=1)
    return _Faces(faces.normal[face], corners, area, visible, faces.growth[face], faces.bath[face])


def _candidates(surface: Surface, own: Array) -> list[Array]:
    """The way up that is set, the axes, large flat faces on the bed, and directions spread over the sphere."""
    cells = np.round(NORMAL_CELLS_PER_UNIT * surface.normal).astype(np.intp) + NORMAL_CELLS_PER_UNIT
    place = np.ravel_multi_index(tuple(cells.T), (2 * NORMAL_CELLS_PER_UNIT + 1,) * 3)
    area = np.bincount(place, surface.area)
    first = np.zeros(len(area), dtype=np.intp)
    first[place] = np.arange(len(place))
    flat = np.argsort(-area, kind="stable")[:FLAT_DIRECTIONS]
    laid = [-surface.normal[first[k]] for k in flat if area[k] > 0 and surface.normal[first[k]].any()]
    axes = [sign * axis for axis in np.eye(3)[::-1] for sign in (1.0, -1.0)]
    candidates = [own]
    for up in [*axes, *laid, *sphere(SPREAD_DIRECTIONS)]:
        if max(float(up @ other) for other in candidates) < SAME_DIRECTION_COS:
            candidates.append(unit(up))
    return candidates


def _evaluate(faces: _Faces, points: Array, up: Array, printing: Print) -> Direction:
    """One way up, without the area that its supports stand on."""
    along = faces.normal @ up
    rise = np.abs(along)
    height = points @ up
    bed = float(height.min())
    on_bed = (faces.corners @ up).max(axis=1) < bed + printing.layer
    hangs = (along < -MIN_OVERHANG_COS) & ~on_bed
    remaining = steps.remaining_step(rise, printing.layer, printing.filler, faces.growth)
    step = steps.step_height(rise, printing.layer)
    rough = remaining > steps.MIN_SANDED_STEP_M
    shown = faces.visible > 0
    marks = float(faces.visible[hangs].sum() + HIDDEN_MARK_WEIGHT * faces.area[hangs & ~shown].sum())
    median, p95 = weighted_quantiles(step, faces.visible, (0.5, 0.95))
    return Direction(
        up,
        float(median),
        float(p95),
        float(faces.visible[rough].sum()),
        float(faces.area[hangs].sum()),
        float("nan"),
        float(faces.area[on_bed & (along < -steps.MIN_LEVEL_COS)].sum()),
        float(height.max()) - bed,
        float(faces.area[faces.bath & (hangs | rough)].sum()),
        0.5 * float(remaining @ faces.visible) + printing.layer * marks,
    )


def _with_landing_area(surface: Surface, tracer: Tracer, direction: Direction) -> Direction:
    """The direction with the area that its supports stand on: by rays straight down from the overhangs."""
    along = surface.normal @ direction.up
    bed = float((surface.points @ direction.up).min())
    high = (surface.corners @ direction.up).max(axis=1) - bed
    hangs = np.where((along < -MIN_OVERHANG_COS) & surface.wetted & (high > surface.lift), surface.area, 0.0)
    if not hangs.any():
        return replace(direction, landing_area=0.0)
    face, place = spread(surface.corners, hangs, SUPPORT_RAYS)
    down = np.broadcast_to(-direction.up, place.shape)
    far, _ = tracer.first_hit(place + surface.lift * surface.normal[face], down)
    stands = (far >= 0) & (along[far] > 0.05)
    level = -along[face] * float(hangs.sum()) / SUPPORT_RAYS  # m2 of each, seen from above
    return replace(direction, landing_area=float((level[stands] / along[far[stands]]).sum()))
