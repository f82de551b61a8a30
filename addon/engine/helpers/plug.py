"""Tapered plugs for round holes that waste current and metal, and the current distribution with the plugs in.

A hole deeper than it is wide plates only near its mouth: its walls draw current, and its bottom sets the thinnest
figure of the part. A plug that is pushed in once the coat is dry keeps bath and current out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..coat.spread import Losses
from ..errors import InputError
from ..field import solve as field_room
from ..field.result import Field
from ..filled import filled
from ..mesh.part import Part
from ..mesh.surface import Surface
from ..mesh.tracer import FirstHit
from ..printing import cylinders
from ..printing.cylinders import Cylinder
from ..progress import Progress
from ..settings import tables
from ..settings.job import Job
from ..units import GRAM_PER_ML, MM, mm
from .lattice import Array
from .printed import check_plastic, volume_of
from .turned import frustum

MIN_DEPTH_RATIO = 1.0  # depth over diameter, from which a hole hardly plates inside (blind holes: from memory)
THIN_SHARE = 0.5  # of the mean deposit: a hole that gets less wastes current
MIN_SHARE = 0.005  # of the plated area: smaller holes are not worth a plug
MIN_DIAMETER, MAX_DIAMETER = 2 * MM, 20 * MM  # wider ones are hollows of the design: common practice, no source
TAPER = 1 / 20  # of the diameter, along the axis: holds itself, as a machine's taper does (Morse, from memory)
OUTSIDE = 6 * MM  # length outside a hole of nominal size: reserve for going deeper, and grip
BOTTOM_GAP = 0.5 * MM
MIN_INSIDE, MAX_INSIDE = 2 * MM, 12 * MM
ROUND_HOLE = 0.97 * 2 * np.pi  # radians of the circle that a hole covers
AT_MOUTH = 0.02  # of the diameter, from the hole's end to where rays begin
ALIKE = 1.01  # times the radius, within which faces are of the hole


@dataclass(frozen=True, eq=False)
class Plug:
    """A plug in place. Meters, the part's axes.

    points : (v, 3); triangles : (m, 3) outward, closed; mouth, axis : (3,) middle of the hole's mouth, and out of it
    hole : diameter that a gauge finds, coated; depth : of the hole; tip, top : diameters at its ends
    inside : length in the hole
    volume : m3; mass : kg; plastic : name; area, share : m2 of plated area that it shuts off, and of the whole
    """

    points: Array
    triangles: NDArray[np.int32]
    mouth: Array
    axis: Array
    hole: float
    depth: float
    tip: float
    top: float
    inside: float
    volume: float
    mass: float
    plastic: str
    area: float
    share: float


@dataclass(frozen=True, eq=False)
class Plugs:
    """plugs : the largest area first; faces : (m,) bool, triangles of the part that they shut off"""

    plugs: tuple[Plug, ...]
    faces: NDArray[np.bool_]

    @property
    def corners(self) -> Array:
        """(n, 3, 3) m, the triangles of all."""
        return np.concatenate([plug.points[plug.triangles] for plug in self.plugs])


@dataclass(frozen=True)
class Plugged:
    """The current distribution with the plugs in. thinnest_before, thinnest : m of deposit

    current_before, current : A of all cathodes
    """

    thinnest_before: float
    thinnest: float
    current_before: float
    current: float


def find(
    surface: Surface, tracer: FirstHit, job: Job, field: Field | None, holes: Sequence[Cylinder] | None = None
) -> Plugs:
    """A plug for every round hole that wastes current: blind, deeper than wide, thin where that is known.

    holes : the round faces of the part, where they are known
    Raises InputError where there is none, or the bath softens the plastic.
    """
    plastic = check_plastic(job, "plugs")
    plugs, shut = [], np.zeros(len(surface.triangles), dtype=bool)
    for hole in cylinders.find(surface) if holes is None else holes:
        plugged_hole = _plug(surface, tracer, hole, job.coat.thickness, plastic)
        if plugged_hole is None:
            continue
        plug, faces = plugged_hole
        if _useless(surface, field, faces):
            plugs.append(plug)
            shut |= faces
    if not plugs:
        raise InputError(
            filled(
                "{name}: no plug is needed: no blind round hole of {least} to {most} mm, deeper than wide,"
                " takes current for nothing; mask other hollows ({part.mask})",
                name=surface.name,
                least=mm(MIN_DIAMETER),
                most=mm(MAX_DIAMETER),
            )
        )
    return Plugs(tuple(sorted(plugs, key=lambda plug: -plug.area)), shut)


def _useless(surface: Surface, field: Field | None, faces: NDArray[np.bool_]) -> bool:
    """Whether the hole plates poorly for its area: by the field, or by its depth where there is none."""
    area = surface.plated_area
    if not area[faces].sum() > MIN_SHARE * area.sum():
        return False
    if field is None:
        return True
    mean = float(area @ field.thickness) / float(area.sum())
    return float(area[faces] @ field.thickness[faces]) < THIN_SHARE * mean * float(area[faces].sum())


def _plug(
    surface: Surface, tracer: FirstHit, hole: Cylinder, coat: float, plastic: str
) -> tuple[Plug, NDArray[np.bool_]] | None:
    """The plug of a blind hole with the triangles that it shuts off; None where it is none that can be plugged."""
    if not hole.hollow or hole.coverage < ROUND_HOLE or not MIN_DIAMETER <= hole.gauge <= MAX_DIAMETER:
        return None
    if surface.show[hole.faces].any():
        return None
    ways = np.array([hole.axis, -hole.axis])
    start = hole.center + (0.5 * hole.length - AT_MOUTH * hole.diameter) * ways
    _, free = tracer.first_hit(start, ways)
    _, back = tracer.first_hit(start, -ways)
    end = int(np.argmax(free))
    depth = float(back[end]) + AT_MOUTH * hole.diameter
    blind = np.isfinite(back[end]) and free[1 - end] < hole.diameter
    inside = length_inside(depth, hole.gauge)
    if not blind or depth < MIN_DEPTH_RATIO * hole.gauge or inside is None:
        return None
    if free[end] < inside + 2 * OUTSIDE:
        return None  # blocked: there is no way in
    out, mouth = ways[end], hole.center + 0.5 * hole.length * ways[end]
    size = hole.gauge - 2 * coat
    tip, top = size - TAPER * inside, size + TAPER * OUTSIDE
    points, triangles = frustum(mouth - inside * out, out, (tip, top), inside + OUTSIDE)
    faces = _within(surface, mouth, out, ALIKE * hole.diameter / 2, depth)
    area = float(surface.plated_area[faces].sum())
    volume = volume_of(points - points[0], triangles)
    density = tables.plastic(plastic)["density_g_mL"] * GRAM_PER_ML
    share = area / max(float(surface.plated_area.sum()), 1e-300)
    plug = Plug(
        points, triangles, mouth, out, size, depth, tip, top, inside, volume, density * volume, plastic, area, share
    )
    return plug, faces


def length_inside(depth: float, gauge: float) -> float | None:
    """m that a plug goes into a hole; None where that is too shallow to hold it."""
    inside = min(depth - BOTTOM_GAP - OUTSIDE, max(gauge, MIN_INSIDE), MAX_INSIDE)
    if inside < MIN_INSIDE:  # in a shallow hole the plug may not go deeper than intended
        inside = min(depth - BOTTOM_GAP, MIN_INSIDE)
    return None if inside < MIN_INSIDE else inside


def _within(surface: Surface, mouth: Array, out: Array, radius: float, depth: float) -> NDArray[np.bool_]:
    """(m,) triangles that lie in a hole: all of their corners within its radius and under its mouth."""
    away = surface.points - mouth
    height = away @ out
    across = np.linalg.norm(away - np.outer(height, out), axis=1)
    slack = (ALIKE - 1.0) * radius
    inside = (across <= radius) & (height <= slack) & (height >= -depth - radius)
    below = height < -slack
    return np.asarray(inside[surface.triangles].all(axis=1) & below[surface.triangles].any(axis=1))


def run(
    surface: Surface, job: Job, plugs: Plugs, alone: Field, bodies: Mapping[str, Part], wire_drop: Losses | None
) -> Progress[Plugged]:
    """Solve again with the plugged faces masked, and compare. alone : without plugs, the same settings"""
    masked = replace(surface, plated=surface.plated & ~plugs.faces)
    field = yield from field_room.run(masked, job, meshes=bodies, wire_drop=wire_drop)
    return Plugged(alone.thickness_spread.min, field.thickness_spread.min, alone.current, field.current)
