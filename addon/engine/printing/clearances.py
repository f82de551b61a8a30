"""Walls that get too thin in a print-size copy, and gaps closed by coat and deposit: by rays into and off the surface.

Places are spread over the plated surface evenly by area. A wall or a gap is met where the far side faces back, nearly
square to the ray: the point of a wedge is neither. Docs: theory-printing.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..findings import Code, Finding, Quantity, Severity, spot
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..units import MM
from .places import spread

Array = NDArray[np.float64]

MIN_SAMPLES, MAX_SAMPLES = 2_000, 60_000  # rays each way
MAX_FACING_COS = -0.95  # cosine: the far side faces back; beyond 18 degrees it is an edge
MIN_PRINTED_WALL_M = 0.4 * MM  # one line of a common nozzle (common practice, no source)
MIN_PRINTED_GAP_M = 0.05 * MM  # a narrower one prints shut, as folds of a scan do (common practice, no source)
MIN_FINDING_AREA_M2 = 10 * MM**2  # m2, least area of a finding: less is an edge or a burr
MAX_LISTED_PLACES = 8


@dataclass(frozen=True, eq=False)
class Separation:
    """What stands between two faces, and how much of it the layers leave. Meters, m2.

    remaining : the least that is left, inf where nothing is met; distance : what is there in the model, at that place
    area : plated surface where too little is left; places : (k, 3) the worst of it
    """

    remaining: float
    distance: float
    area: float
    places: Array


@dataclass(frozen=True, eq=False)
class Clearances:
    """wall, gap : what is met; closed : (k,) triangles in gaps that the layers close"""

    wall: Separation
    gap: Separation
    closed: NDArray[np.intp]


def measure(surface: Surface, tracer: Tracer, layer: Array) -> Clearances:
    """layer : (m,) m of coat and deposit on each triangle. Cost: two rays a place."""
    total = float(surface.plated_area.sum())
    if not total > 0:
        nothing = Separation(np.inf, np.inf, 0.0, np.zeros((0, 3)))
        return Clearances(nothing, nothing, np.zeros(0, dtype=np.intp))
    count = min(MAX_SAMPLES, MIN_SAMPLES + 8 * len(surface.area))
    face, place = spread(surface.corners, surface.plated_area, count)
    normal, area_each = surface.normal[face], total / count
    twice = np.tile(face, 2)  # both ways in one call, because setting up a tracer is expensive
    left, across = _remaining(surface, tracer, twice, np.tile(place, (2, 1)), np.concatenate([-normal, normal]), layer)
    (wall, gap), (thick, wide) = left.reshape(2, -1), across.reshape(2, -1)
    gap = np.where(wide < MIN_PRINTED_GAP_M, np.inf, gap)
    if not surface.closed:
        wall = np.full(count, np.inf)
    thin, shut = wall < MIN_PRINTED_WALL_M, gap <= 0
    return Clearances(
        _separation(place, wall, thick, thin, area_each),
        _separation(place, gap, wide, shut, area_each),
        np.unique(face[shut]),
    )


def findings(surface: Surface, clearances: Clearances) -> tuple[Finding, ...]:
    """Findings on closing gaps and thin walls larger than a burr."""
    findings = []
    gap, wall = clearances.gap, clearances.wall
    if gap.area >= MIN_FINDING_AREA_M2:
        spoilt = gap.area / float(surface.plated_area.sum())
        findings.append(
            Finding(
                Code.GAP_CLOSES,
                Severity.SPOILS,
                {Quantity.GAP: gap.distance, Quantity.THICKNESS: gap.distance - gap.remaining, Quantity.AREA: gap.area},
                places=tuple(spot(place) for place in gap.places),
                faces=clearances.closed,
                spoilt_share=spoilt,
            )
        )
    if wall.area >= MIN_FINDING_AREA_M2:
        quantities = {
            Quantity.WALLS: wall.distance,
            Quantity.THICKNESS: wall.distance - wall.remaining,
            Quantity.WIDTH: MIN_PRINTED_WALL_M,
            Quantity.AREA: wall.area,
        }
        places = tuple(spot(place) for place in wall.places)
        findings.append(Finding(Code.WALL_THIN, Severity.COSTS, quantities, places=places))
    return tuple(findings)


def _separation(place: Array, left: Array, distance: Array, too_small: NDArray[np.bool_], area: float) -> Separation:
    """area : m2 that each place stands for"""
    least = int(left.argmin())
    return Separation(
        float(left[least]), float(distance[least]), area * int(too_small.sum()), _worst_places(place, left, too_small)
    )


def _remaining(
    surface: Surface, tracer: Tracer, face: NDArray[np.intp], place: Array, toward: Array, layer: Array
) -> tuple[Array, Array]:
    """(n,) m between each place and the far side when both have their layers, and as modeled; inf where none faces
    back."""
    lift = surface.lift
    far, distance = tracer.first_hit(place + lift * toward, toward)
    met = (
        (far >= 0)
        & surface.wetted[far]
        & (np.einsum("ij,ij->i", surface.normal[face], surface.normal[far]) < MAX_FACING_COS)
    )
    both = layer[face] + np.where(surface.plated[far], layer[far], 0.0)
    distance = np.where(met, distance + lift, np.inf)
    return distance - both, distance


def _worst_places(place: Array, left: Array, too_small: NDArray[np.bool_]) -> Array:
    """(k, 3) the worst places that are bad, none within a tenth of all of them of another."""
    faces = np.flatnonzero(too_small)
    faces = faces[np.argsort(left[faces], kind="stable")]
    places: list[Array] = []
    apart = 0.1 * float(np.ptp(place, axis=0).max())
    for point in place[faces[: 64 * MAX_LISTED_PLACES]]:
        if len(places) < MAX_LISTED_PLACES and all(np.linalg.norm(point - place) > apart for place in places):
            places.append(point)
    return np.array(places).reshape(-1, 3)
