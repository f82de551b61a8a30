"""A printed helper that stands in the tank: mesh, weight and clearances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from ..chemistry.cautions import SOFTENING_MARGIN_K, softening
from ..errors import InputError
from ..filled import filled
from ..geometry.triangles import bisected, longest_edges
from ..mesh.tracer import Tracer
from ..settings import tables
from ..settings.job import Job
from ..tank.body import Body, Pose, Role, clipped
from ..units import GRAM_PER_ML, MM, in_mm
from .lattice import Array

SAMPLE_M = 1.5 * MM  # between points whose distance from the part is taken
MIN_WALL = 1.2 * MM  # the least wall of a printer's usual nozzle: common practice, no source
GROOVE_FIT = 0.4 * MM  # of a wire in its groove
USUAL_WIRE = 0.8 * MM


@dataclass(frozen=True, eq=False)
class Printed:
    """A helper that stands in the tank, SI, tank coordinates.

    points : (v, 3); triangles : (m, 3) outward; bodies : closed ones that it is made of
    flat : (3,) unit, the way that points up while it is printed; plastic : name; volume : m3; mass : kg
    clearance, wire_clearance : m to the nearest copy of the part, and to its wires, straight up through the bath (over
        it they are led past); inf for none
    floats : whether the bath lifts it, so that it is tied to what it stands on
    sway : m of deflection, None: not computed; pose : of the part whose faces are colored
    gas : m3 that it and the part keep together beyond the part alone
    """

    points: Array
    triangles: NDArray[np.int32]
    bodies: int
    flat: Array
    plastic: str
    volume: float
    mass: float
    clearance: float
    wire_clearance: float
    floats: bool
    sway: float | None
    pose: Pose
    gas: float = 0.0

    @property
    def on_part(self) -> Array:
        """(m, 3, 3) triangles in the part's axes."""
        return (self.points[self.triangles] - self.pose.shift) @ self.pose.turn

    @property
    def bounds(self) -> Array:
        """(2, 3) m, tank."""
        return np.array([self.points.min(axis=0), self.points.max(axis=0)])


def check_plastic(job: Job, helper: str) -> str:
    """The plastic to print it in: the part's. Raises InputError where the bath would soften it. helper : what is
    printed"""
    name, warmth = job.part.material, job.bath.temperature
    if warmth >= softening(name) - SOFTENING_MARGIN_K:
        if job.is_metal:  # naming another plastic would make the part itself of it
            softens = "{what}: {plastic} softens in this bath; do without, or make it by hand of a harder plastic"
            raise InputError(filled(softens, what=helper, plastic=name))
        fit = [plastic for plastic in tables.names("plastics") if softening(plastic) - SOFTENING_MARGIN_K > warmth]
        if not fit:
            harder = "{what}: {plastic} softens in this bath; set {part.material} to a harder plastic"
            raise InputError(filled(harder, what=helper, plastic=name))
        plastics = reduce(lambda items, last: filled("{items} or {last}", items=items, last=last), fit)
        softens = "{what}: {plastic} softens in this bath; set {part.material} to {plastics}"
        raise InputError(filled(softens, what=helper, plastic=name, plastics=plastics))
    return name


def modulus(job: Job) -> float:
    """Pa, of the plastic."""
    return float(tables.plastic(job.part.material)["modulus_GPa"]) * 1e9


def volume_of(points: Array, triangles: NDArray[np.int32]) -> float:
    """m3 inside closed triangles; of some that are open at one level, taken from a point on it."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def of(
    job: Job,
    helper: str,
    meshes: Sequence[tuple[Array, NDArray[np.int32]]],
    flat: Array,
    sway: float | None,
    part: tuple[Tracer, Sequence[Pose], Array],
) -> Printed:
    """A helper of these bodies, measured.

    helper : its name, for errors
    part : its ray tracer, the poses of its copies, and where wires touch it (k, 3) in its axes
    Raises InputError where a copy or a wire is nearer than `hanger.clearance_mm`.
    """
    tracer, poses, wires = part
    starts = np.cumsum([0] + [len(points) for points, _ in meshes])
    points = np.concatenate([points for points, _ in meshes])
    triangles = np.concatenate([faces + start for (_, faces), start in zip(meshes, starts[:-1], strict=True)])
    sample = sampled(points[triangles], SAMPLE_M)
    off = min(float(tracer.nearest((sample - pose.shift) @ pose.turn).min()) for pose in poses)
    upright = np.concatenate([pose.of(wires.reshape(-1, 3)) for pose in poses])
    wet = sample[sample[:, 2] < job.tank.level]
    apart = min((_from_upright(wet, up) for up in upright), default=np.inf) if len(wet) else np.inf
    wanted = job.hanger.clearance
    if off < wanted or apart < wanted:
        whom = "the part" if off < wanted else "a wire"
        raise InputError(
            filled(
                "{what}: it comes nearer to {whom} than {wanted}; lower {hanger.clearance_mm}, or move the part"
                " ({place.centre_mm})",
                what=helper,
                whom=whom,
                wanted=in_mm(wanted),
            )
        )
    volume = volume_of(points, triangles)
    density = float(tables.plastic(job.part.material)["density_g_mL"]) * GRAM_PER_ML
    lift = job.bath.density * under(points, triangles, job.tank.level)
    mass = density * volume
    return Printed(
        points,
        triangles.astype(np.int32),
        len(meshes),
        flat,
        job.part.material,
        volume,
        mass,
        off,
        float(apart),
        bool(mass < lift),
        sway,
        poses[0],
    )


def under(points: Array, triangles: NDArray[np.int32], level: float) -> float:
    """m3 of a closed body below a level."""
    if points[:, 2].min() >= level:
        return 0.0
    wet = clipped(Body("", Role.INSULATOR, points.copy(), triangles), level)
    return volume_of(wet.points - (0.0, 0.0, level), wet.triangles)


def _from_upright(points: Array, foot: Array) -> float:
    """m from points (n, 3) to the line that goes straight up from a place."""
    below = np.maximum(foot[2] - points[:, 2], 0.0)
    return float(np.sqrt(((points[:, :2] - foot[:2]) ** 2).sum(axis=1) + below**2).min())


def sampled(corners: Array, apart: float) -> Array:
    """(k, 3) points of triangles (m, 3, 3), none further from the next than about `apart`: corners of halved ones."""
    samples = [corners.reshape(-1, 3)]
    while len(corners):
        longest, start = longest_edges(corners)
        long = longest > apart
        corners = bisected(corners[long], start[long])
        samples.append(corners[: len(corners) // 2, 1])
    points = np.concatenate(samples)
    return points[np.unique(np.round(points / (apart / 8)).astype(np.int64), axis=0, return_index=True)[1]]
