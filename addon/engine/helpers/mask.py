"""Printed masks: caps over the masked ends of shafts, tapered plugs for masked bores.

A mask keeps the coat off in the spray and the bath off in the tank. Caps have the same clearance all around; plugs are
tapers, as `plug` makes them. All other regions are covered by hand, and reported.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..printing.cylinders import Cylinder
from ..settings import tables
from ..settings.job import Job
from ..units import GRAM_PER_ML, MM, mm
from . import plug
from .lattice import Array
from .masked import MAX_BORDER_STEP_M, Border, Flags, Region, regions
from .printed import MIN_WALL, SAMPLE_M, check_plastic, sampled, volume_of
from .turned import SIDES, frustum, turned

MIN_PRINTED_DIAMETER_M = 2 * MM  # a smaller one does not print: common practice, no source
MAX_RIM_GAP_M = 1 * MM  # of a cap's rim over a fillet or a shoulder; what it leaves open is lacquered
CORNER_OVER_FLAT = 1 / np.cos(np.pi / SIDES)  # radius to the corners over radius to the flats


class Form(StrEnum):
    """How a mask covers."""

    CAP = "cap"
    PLUG = "plug"


class Why(StrEnum):
    """Why no printed mask covers a region."""

    FREE_FORM = "free-form"
    RING = "ring"
    UNEVEN = "uneven-edge"
    NARROW = "narrow"
    BLOCKED = "blocked"


REASONS = {
    Why.FREE_FORM: "it is neither the end of a shaft nor a bore",
    Why.RING: "it is a ring around a shaft, over which no cap goes",
    Why.UNEVEN: "its edge does not run square around the axis",
    Why.NARROW: filled("it is narrower than {least} mm", least=mm(MIN_PRINTED_DIAMETER_M)),
    Why.BLOCKED: "the part leaves no way to put a mask on",
}


@dataclass(frozen=True, eq=False)
class Mask:
    """A mask in place. Meters, the part's axes.

    points : (v, 3); triangles : (m, 3) outward, closed
    faces : (n,) bool, triangles of the part that it covers; border : around them; rings : of its skin beyond, from the
        border to its end on the axis, as of `turned` from `place`
    place, axis : (3,) middle of the edge that it ends at, and the way it is pulled off
    diameter : of the shaft, or that a gauge finds in the bore; outer : the mask's own, the thick end of a plug's
    length : over or in the part; clearance : all around a cap, 0 for a plug, which jams
    volume : m3; mass : kg; plastic : name
    area : m2 of masked faces that it covers; open : m2 of them that its rim stands off from
    """

    form: Form
    points: Array
    triangles: NDArray[np.int32]
    faces: Flags
    border: Border
    rings: tuple[tuple[float, float], ...]
    place: Array
    axis: Array
    diameter: float
    outer: float
    length: float
    clearance: float
    volume: float
    mass: float
    plastic: str
    area: float
    open: float


@dataclass(frozen=True, eq=False)
class ByHand:
    """A masked region that no printed mask covers. place : (3,) m on it; area : m2"""

    place: Array
    area: float
    why: Why


@dataclass(frozen=True, eq=False)
class Masks:
    """masks, by_hand : the largest area first; gas : m3 that they and the part keep together beyond the part alone"""

    masks: tuple[Mask, ...]
    by_hand: tuple[ByHand, ...]
    gas: float = 0.0

    @property
    def corners(self) -> Array:
        """(n, 3, 3) m, the triangles of all."""
        return np.concatenate([mask.points[mask.triangles] for mask in self.masks])


def find(surface: Surface, tracer: Tracer, job: Job) -> Masks:
    """A mask for every masked region that a cap or plugs cover.

    Raises InputError where nothing is masked, no mask fits, the mesh is open, or the bath softens the plastic.
    """
    plastic = check_plastic(job, "masks")
    if not surface.closed:
        raise InputError(
            filled(
                "{name}: masks need a closed mesh, and this one has holes; close them, or use stop-off lacquer or tape",
                name=surface.name,
            )
        )
    masks: list[Mask] = []
    by_hand: list[ByHand] = []
    for region in regions(surface):
        results = _masks(region, tracer, plastic, job.hanger.cap_clearance)
        why = next((result for result in results if isinstance(result, Why)), None)
        if why is None:
            masks += [result for result in results if isinstance(result, Mask)]
        else:
            by_hand.append(ByHand(region.place, region.area, why))
    if not masks and not by_hand:
        raise InputError(
            filled(
                "{name}: no mask is needed: no face is masked; give the mesh a face attribute ({part.mask})",
                name=surface.name,
            )
        )
    if not masks:
        raise InputError(
            filled(
                "{name}: no printed mask fits: {why}; use stop-off lacquer or tape",
                name=surface.name,
                why=REASONS[by_hand[0].why],
            )
        )
    return Masks(tuple(sorted(masks, key=lambda mask: -mask.area)), tuple(by_hand))


def _masks(region: Region, tracer: Tracer, plastic: str, clearance: float) -> list[Mask | Why]:
    """The masks of a region, or why there are none. clearance : m, all around a cap"""
    fitting = [face for face in region.round_faces if region.lies_within(face)]
    if not fitting or not 1 <= len(region.borders) <= 2:
        return [Why.FREE_FORM]
    body = max(fitting, key=lambda face: face.gauge)
    if body.gauge < MIN_PRINTED_DIAMETER_M:
        return [Why.NARROW]
    if not body.hollow and len(region.borders) == 2:
        return [Why.RING]
    if not all(len(border.loop) and border.is_square_to(body) for border in region.borders):
        return [Why.UNEVEN]
    if body.hollow:
        return [_plug(region, tracer, body, border, plastic, clearance) for border in region.borders]
    return [_cap(region, tracer, body, region.borders[0], plastic, clearance)]


def _cap(region: Region, tracer: Tracer, shaft: Cylinder, border: Border, plastic: str, clearance: float) -> Mask | Why:
    """The cap over the end of a shaft, or why there is none."""
    ends = border.along(shaft)
    way = 1.0 if sum(ends) < 0 else -1.0
    axis = way * shaft.axis
    own = (region.points - shaft.center) @ axis
    edge, top = min(way * end for end in ends), float(own.max())
    if own.min() < edge - MAX_BORDER_STEP_M:
        return Why.FREE_FORM
    radius = shaft.gauge / 2 + clearance
    outer = radius + MIN_WALL
    away, height = region.in_the_way(replace(shaft, axis=axis), CORNER_OVER_FLAT * outer + clearance)
    high = height[away > shaft.gauge / 2 + clearance / 2]
    rim = max(edge, float(high.max()) + clearance) if len(high) else edge
    length = top - rim + clearance
    if rim > edge + MAX_RIM_GAP_M or length < MIN_WALL:
        return Why.BLOCKED
    start = shaft.center + rim * axis
    inside, outside, ends_at = CORNER_OVER_FLAT * radius, CORNER_OVER_FLAT * outer, length + MIN_WALL
    points, triangles = turned(start, axis, [(inside, length), (inside, 0.0), (outside, 0.0), (outside, ends_at)])
    if float(tracer.nearest(sampled(points[triangles], SAMPLE_M)).min()) < 0.9 * clearance:
        return Why.BLOCKED
    volume = volume_of(points - points[0], triangles)
    return Mask(
        form=Form.CAP,
        points=points,
        triangles=triangles,
        faces=region.faces,
        border=border,
        rings=((outside, 0.0), (outside, ends_at)),
        place=start,
        axis=axis,
        diameter=shaft.gauge,
        outer=2 * outer,
        length=length,
        clearance=clearance,
        volume=volume,
        mass=_mass(volume, plastic),
        plastic=plastic,
        area=region.area,
        open=2 * np.pi * (shaft.gauge / 2) * (rim - edge),
    )


def _plug(region: Region, tracer: Tracer, bore: Cylinder, border: Border, plastic: str, clearance: float) -> Mask | Why:
    """The plug for one mouth of a bore, or why there is none."""
    ends = border.along(bore)
    way = 1.0 if sum(ends) > 0 else -1.0
    out = way * bore.axis
    mouth = bore.center + max(way * end for end in ends) * out
    into = mouth - plug.AT_MOUTH * bore.diameter * out
    depth = float(tracer.first_hit(into[None], -out[None])[1][0]) + plug.AT_MOUTH * bore.diameter
    free = float(tracer.first_hit(into[None], out[None])[1][0])
    through = len(region.borders) == 2
    inside = plug.length_inside(min(depth, bore.length / 2) if through else depth, bore.gauge)
    if inside is None or free < inside + 2 * plug.OUTSIDE:
        return Why.BLOCKED
    tip, top = bore.gauge - plug.TAPER * inside, bore.gauge + plug.TAPER * plug.OUTSIDE
    away, height = region.in_the_way(bore, top / 2 + clearance)
    if (way * height > max(way * end for end in ends) + MAX_BORDER_STEP_M).any():
        return Why.BLOCKED
    length = inside + plug.OUTSIDE
    points, triangles = frustum(mouth - inside * out, out, (tip, top), length)
    volume = volume_of(points - points[0], triangles)
    return Mask(
        form=Form.PLUG,
        points=points,
        triangles=triangles,
        faces=region.faces,
        border=border,
        rings=((top / 2, plug.OUTSIDE),),
        place=mouth,
        axis=out,
        diameter=bore.gauge,
        outer=top,
        length=inside,
        clearance=0.0,
        volume=volume,
        mass=_mass(volume, plastic),
        plastic=plastic,
        area=region.area / len(region.borders),
        open=0.0,
    )


def _mass(volume: float, plastic: str) -> float:
    """kg of a solid print of so many m3."""
    return float(tables.plastic(plastic)["density_g_mL"]) * GRAM_PER_ML * volume
