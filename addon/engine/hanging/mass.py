"""Mass and displacement of a print, and the points through which weight and buoyancy act.

The printed wall is the part of the solid that lies within the wall's thickness of any surface (a true
offset by distance: a thin rib is solid, a corner is not counted twice). Its volume and first moment
are integrated over points of a jittered grid, each tested with one ray and one nearest distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer
from ..units import MM

SAMPLE_CELLS = 120_000  # grid cells over the bounding box: wall volumes are then accurate to about 0.2 %


@dataclass(frozen=True, eq=False)
class Body:
    """The print as it goes into the bath: masses in kg, volumes in m3, points (3,) in model meters."""

    plastic: float  # kg of plastic, walls and infill
    coat: float  # kg of dry coat
    centre: NDArray[np.float64]  # of mass, coat included
    solid: float  # m3 inside the surface that is not a sealed void
    wall: float  # m3 of that which is printed wall
    air: float  # m3 of air in the infill and in sealed voids, which would fill if the wall leaked
    displaced: float  # m3 displaced, with sealed voids and coat
    buoyancy: NDArray[np.float64]  # (3,) centre of that volume
    void: float = 0.0  # m3 of sealed voids in the model, in `air` and `displaced` as well

    @property
    def mass(self) -> float:
        """kg, plastic and coat."""
        return self.plastic + self.coat


@dataclass(frozen=True)
class Printed:
    """How the part is made. walls : m, thickness of the printed shell; infill : 0..1 inside it

    plastic_density, coat_density : kg/m3; coat_thickness : m
    """

    walls: float
    infill: float
    plastic_density: float
    coat_thickness: float = 0.0
    coat_density: float = 0.0


def weigh(
    surface: Surface,
    tracer: Tracer,
    *,
    walls: float,
    infill: float,
    plastic_density: float,
    coat_thickness: float = 0.0,
    coat_density: float = 0.0,
    seed: int = 0,
) -> Body:
    """Mass and displacement of a print.

    walls : m, thickness of the printed shell; infill : 0..1 inside it
    plastic_density, coat_density : kg/m3; coat_thickness : m

    Raises InputError where the surface is open (it holds no volume) or the plastic has no density.
    """
    if not surface.closed:
        raise InputError(
            filled(
                "{name}: the mesh is open, so it has no volume to weigh; close the holes (the mesh check"
                " selects them) or give both sides of the wall a thickness",
                name=surface.name,
            )
        )
    if not plastic_density > 0:
        raise InputError(filled("{part.material}: the plastic's density must be above zero; choose another material"))
    displaced, buoyancy = moments(surface.corners[surface.wetted])
    solid, centre = moments(surface.corners)
    solid = min(solid, displaced)
    core, core_centre = (0.0, centre)
    if infill < 1.0:
        core, core_centre = _core(surface, tracer, walls, solid, seed)
    wall = solid - core
    plastic = plastic_density * (wall + infill * core)
    moment = solid * centre - (1.0 - infill) * core * core_centre
    skin = surface.plated_area
    coat = coat_density * coat_thickness * float(skin.sum())
    shell = coat_thickness * skin  # m3 of coat on each triangle: it displaces bath as well
    total = plastic_density * moment + coat_density * (shell @ surface.centroid)
    coated = displaced + float(shell.sum())
    return Body(
        plastic=plastic,
        coat=coat,
        centre=total / (plastic + coat),
        solid=solid,
        wall=wall,
        air=(1.0 - infill) * core + displaced - solid,
        displaced=coated,
        buoyancy=(displaced * buoyancy + shell @ surface.centroid) / coated,
        void=displaced - solid,
    )


def moments(corners: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Volume (m3) and centroid (3,) enclosed by closed triangles (m, 3, 3), by the divergence theorem.

    The sums are taken about the middle of the corners, so that a part far from the origin loses no digits.
    Raises InputError where they enclose none.
    """
    origin = corners.reshape(-1, 3).mean(axis=0)
    a, b, c = (corners - origin).transpose(1, 0, 2)
    six = np.einsum("ij,ij->i", a, np.cross(b, c))
    volume = six.sum() / 6.0
    if not volume > 0:
        raise InputError("the surface encloses no volume; check that its faces point outward")
    return float(volume), origin + (six @ (a + b + c)) / (24.0 * volume)


def _core(surface: Surface, tracer: Tracer, walls: float, solid: float, seed: int) -> tuple[float, NDArray[np.float64]]:
    """Volume and centroid of the solid that lies deeper than the walls.

    The share of interior points is scaled by the exact volume, which removes most of the noise.
    """
    points = sample_points(surface.bounds, seed)
    up = np.broadcast_to([0.0, 0.0, 1.0], points.shape)
    face, _ = tracer.first_hit(points, up)
    inside = face >= 0
    inside[inside] = surface.normal[face[inside], 2] > 0
    points = points[inside]
    if not len(points):  # thinner than the grid everywhere: all wall
        return 0.0, np.zeros(3)
    deep = tracer.nearest(points) > walls
    if not deep.any():
        return 0.0, np.zeros(3)
    return float(solid * deep.mean()), points[deep].mean(axis=0)


def sample_points(bounds: NDArray[np.float64], seed: int) -> NDArray[np.float64]:
    """One random point in each cell of a grid over the bounds, cells as near cubes as they come."""
    low, high = bounds
    span = np.maximum(high - low, 1e-3 * MM)
    split = np.ones(3, dtype=bool)  # a side thinner than a cell gets one cell, and the others share the samples
    for _ in range(3):
        cell = (span[split].prod() / SAMPLE_CELLS) ** (1 / split.sum())
        thin = split & (span < cell)
        if not thin.any():
            break
        split &= ~thin
    shape = np.where(split, np.ceil(span / cell), 1).astype(int)
    index = np.stack(np.meshgrid(*map(np.arange, shape), indexing="ij"), axis=-1).reshape(-1, 3)
    return low + (index + np.random.default_rng(seed).random(index.shape)) * (span / shape)
