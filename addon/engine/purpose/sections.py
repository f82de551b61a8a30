"""The part as a beam of two materials: areas and second moments of its real cross-sections, plastic and deposit.

A cut across the axis gives each triangle that it meets one segment of the outline. Area and moments of what the
outline encloses are sums over its segments (Green's theorem), whichever way they are strung together; those of the
deposit are sums over a strip along them, thicker where the surface leans.

Bending is Euler and Bernoulli's, with E times the moments
of both materials added about their common neutral axis (transformed section). Docs: theory-purpose.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import basis
from ..mesh.surface import Surface

Array = NDArray[np.float64]

STATIONS = 48
OFF_MIDDLE = 0.137  # of a station: no cut then runs along the edges of a usual model
MIN_LEAN = 0.05  # sine of surface and axis below which a face lies in the cut


@dataclass(frozen=True, eq=False)
class Outline:
    """One cut: start, end : (s, 2) m, the solid on their left; out : (s, 2) unit; face : (s,) triangles

    lean : (s,) 0..1, sine of surface and axis: a layer looks thicker in the cut by its inverse
    """

    start: Array
    end: Array
    out: Array
    face: NDArray[np.intp]
    lean: Array

    @property
    def length(self) -> Array:
        """(n,) m of each segment."""
        return np.asarray(np.linalg.norm(self.end - self.start, axis=1))


@dataclass(frozen=True, eq=False)
class Moments:
    """Of a section: area m2; first (2,) m3; second (2, 2) m4, of u^2, uv, v^2 about the origin"""

    area: float
    first: Array
    second: Array


@dataclass(frozen=True, eq=False)
class Beam:
    """The cuts along one axis. step : m between them; length : m; axis : (3,) unit"""

    outlines: tuple[Outline, ...]
    step: float
    axis: Array

    @property
    def length(self) -> float:
        """m, from the first cut to the last, with half a step at either end."""
        return self.step * len(self.outlines)


def cut(surface: Surface, axis: Array | None = None, stations: int = STATIONS) -> Beam:
    """The cuts across an axis, by default the longest side of the part's box. O(m) a cut."""
    if axis is None:
        axis = np.eye(3)[int(np.ptp(surface.bounds, axis=0).argmax())]
    u, v = basis(axis)
    middle = surface.bounds.mean(axis=0)
    along = (surface.points - middle) @ axis
    low, high = float(along[surface.triangles].min()), float(along[surface.triangles].max())
    step = (high - low) / stations
    across = (surface.points - middle) @ np.stack([u, v], axis=1)
    cuts = [
        _outline(surface, along - (low + (k + 0.5 + OFF_MIDDLE) * step), across, np.stack([u, v]))
        for k in range(stations)
    ]
    return Beam(tuple(cuts), step, axis)


def _outline(surface: Surface, height: Array, across: Array, frame: Array) -> Outline:
    """The segments at height zero of the triangles that reach both sides of it."""
    above = height[surface.triangles] > 0
    face = np.flatnonzero(above.any(axis=1) & ~above.all(axis=1) & surface.wetted & (surface.area > 0))
    corners, over = surface.triangles[face], above[face]
    alone = np.where(over.sum(axis=1) == 1, over.argmax(axis=1), (~over).argmax(axis=1))  # on its side of the cut
    tip = corners[np.arange(len(face)), alone]
    ends = []
    for turn in (1, 2):
        other = corners[np.arange(len(face)), (alone + turn) % 3]
        share = height[tip] / (height[tip] - height[other])
        ends.append(across[tip] + share[:, None] * (across[other] - across[tip]))
    out = surface.normal[face] @ frame.T
    lean = np.linalg.norm(out, axis=1)
    out = out / np.maximum(lean, 1e-12)[:, None]
    first, second = ends
    way = np.einsum("ij,ij->i", second - first, np.stack([-out[:, 1], out[:, 0]], axis=1))
    start = np.where((way >= 0)[:, None], first, second)
    end = np.where((way >= 0)[:, None], second, first)
    return Outline(start, end, out, face, np.maximum(lean, MIN_LEAN))


def solid(outline: Outline) -> Moments:
    """Moments of the area that the outline encloses."""
    p, q = outline.start, outline.end
    twice = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    first = (twice[:, None] * (p + q)).sum(axis=0) / 6
    square = np.einsum("i,ix->x", twice, p * p + p * q + q * q) / 12
    mixed = twice @ (p[:, 0] * q[:, 1] + 2 * p[:, 0] * p[:, 1] + 2 * q[:, 0] * q[:, 1] + q[:, 0] * p[:, 1]) / 24
    return Moments(0.5 * float(twice.sum()), first, np.array([[square[0], mixed], [mixed, square[1]]]))


def strip(outline: Outline, thickness: Array, inward: bool = False) -> Moments:
    """Moments of a thin layer along the outline. thickness : (s,) m square to the surface, on it or, inward, under
    it"""
    thick = thickness / outline.lean
    shift = (-0.5 if inward else 0.5) * thick[:, None] * outline.out
    p, q, weight = outline.start + shift, outline.end + shift, thick * outline.length
    first = (0.5 * weight[:, None] * (p + q)).sum(axis=0)
    pairs = p[:, :, None] * p[:, None] + q[:, :, None] * q[:, None]
    pairs += 0.5 * (p[:, :, None] * q[:, None] + q[:, :, None] * p[:, None])
    return Moments(float(weight.sum()), first, np.einsum("i,ixy->xy", weight / 3, pairs))


def plastic(outline: Outline, walls: float, filled: bool) -> Moments:
    """Moments of the print: solid where it is filled or its walls (m) meet, otherwise its walls alone, because infill
    carries little."""
    whole = solid(outline)
    shell = strip(outline, np.full(len(outline.length), walls), inward=True)
    return whole if filled or shell.area >= whole.area else shell


def rigidity(parts: list[tuple[float, Moments]]) -> tuple[float, Array]:
    """N m2, E I of the weaker direction, and (2,) the neutral axis. parts : modulus in Pa and moments of each"""
    stiff, _, axis = principal(parts)
    return float(stiff[0]), axis


@dataclass(frozen=True)
class Bending:
    """Of a cantilever with a load at its end, over its weaker directions. compliance : m/N; strain : 1/N, the plastic's
    largest"""

    compliance: float
    strain: float


def bend(beam: Beam, plain: list[tuple[float, Moments]], metal: float, thickness: Array) -> Bending:
    """plain : the print's modulus and moments at each cut; metal : Pa; thickness : (m,) m of deposit a triangle"""
    compliance, strain = 0.0, 0.0
    for k, (outline, own) in enumerate(zip(beam.outlines, plain, strict=True)):
        stiff, axis = rigidity([own, (metal, strip(outline, thickness[outline.face]))])
        if not stiff > 0:
            continue  # no solid is cut there
        arm = beam.length - (k + 0.5) * beam.step
        compliance += arm**2 * beam.step / stiff
        strain = max(strain, arm * float(np.linalg.norm(outline.start - axis, axis=1).max()) / stiff)
    return Bending(compliance, strain)


@dataclass(frozen=True)
class Yield:
    """Loads across the free end of a cantilever at which a material begins to yield, N. plastic, metal : inf where none
    is cut"""

    plastic: float
    metal: float

    @property
    def limit(self) -> float:
        """N, at which plastic or metal yields first."""
        return min(self.plastic, self.metal)


def first_yield(
    beam: Beam,
    plain: list[tuple[float, Moments]],
    thickness: Array,
    metal: tuple[float, float],
    plastic_strain: float,
) -> Yield:
    """The least loads, along either principal direction of any cut, at which the outermost fibers begin to yield.

    A fiber c off the neutral axis is strained by force x arm x c / E I, whichever its material (transformed section).
    plain : as for `bend`; thickness : (m,) m; metal : modulus in Pa and the strain at which it yields
    """
    yields_at = [np.inf, np.inf]
    modulus, metal_strain = metal
    for k, (outline, own) in enumerate(zip(beam.outlines, plain, strict=True)):
        thick = thickness[outline.face] / outline.lean
        stiff, ways, axis = principal([own, (modulus, strip(outline, thickness[outline.face]))])
        arm = beam.length - (k + 0.5) * beam.step
        outer = outline.start + thick[:, None] * outline.out
        for way, rigid in zip(ways.T, stiff, strict=True):
            if not rigid > 0:
                continue
            for n, (fibers, strain) in enumerate(((outline.start, plastic_strain), (outer[thick > 0], metal_strain))):
                off = float(np.abs((fibers - axis) @ way).max(initial=0.0))
                if off > 0:
                    yields_at[n] = min(yields_at[n], strain * rigid / (arm * off))
    return Yield(*yields_at)


def principal(parts: list[tuple[float, Moments]]) -> tuple[Array, Array, Array]:
    """N m2 of both principal directions (2,), these directions as columns (2, 2), and (2,) the neutral axis."""
    area = sum(modulus * moments.area for modulus, moments in parts)
    if not area > 0:
        return np.zeros(2), np.eye(2), np.zeros(2)
    first = np.sum([modulus * moments.first for modulus, moments in parts], axis=0)
    second = np.sum([modulus * moments.second for modulus, moments in parts], axis=0) - np.outer(first, first) / area
    stiff, ways = np.linalg.eigh(second)
    return np.maximum(stiff, 0.0), ways, first / area


def conductance(beam: Beam, conductivity: float, thickness: Array) -> float:
    """W/K from end to end through the deposit alone; zero where it is interrupted. conductivity : W/(m K)"""
    areas = [
        float((thickness[outline.face] / outline.lean) @ outline.length)
        for outline in beam.outlines
        if len(outline.face)
    ]
    if not areas or min(areas) <= 0:
        return 0.0
    return conductivity / sum(beam.step / area for area in areas)
