"""The masked regions of a part: their shape, and whether a printed mask can reach them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..geometry.triangles import bisected, longest_edges
from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..printing import cylinders
from ..printing.cylinders import Cylinder
from ..units import MM
from .lattice import Array
from .printed import sampled

Flags = NDArray[np.bool_]

MIN_COVERAGE_RAD = 0.97 * 2 * np.pi  # radians of the circle that a shaft or a bore covers
MAX_BORDER_STEP_M = 0.5 * MM  # along the axis, that a border runs off square: common practice, no source
MAX_OUT_OVER_RADIUS = 1.02  # times the radius: points farther out are not part of the cylinder
SAMPLE_M = 0.5 * MM  # between points of the part that could be in the way


@dataclass(frozen=True, eq=False)
class Border:
    """A line between masked faces and others.

    loop : (k,) points of the surface in order, none where the line branches; points : (k, 3) m
    """

    loop: NDArray[np.intp]
    points: Array

    def along(self, round_face: Cylinder) -> tuple[float, float]:
        """Its lowest and highest place on the axis, m from the cylinder's middle."""
        height = (self.points - round_face.center) @ round_face.axis
        return float(height.min()), float(height.max())

    def is_square_to(self, round_face: Cylinder) -> bool:
        """Whether it runs around the axis at one height."""
        low, high = self.along(round_face)
        return high - low <= MAX_BORDER_STEP_M


@dataclass(frozen=True, eq=False)
class Region:
    """A connected region of masked faces.

    surface : of the part; faces : (m,) bool; round_faces : the shafts and bores in it, the largest first
    """

    surface: Surface
    faces: Flags
    round_faces: tuple[Cylinder, ...]

    @cached_property
    def borders(self) -> tuple[Border, ...]:
        """The borders of the region."""
        return tuple(_borders(self.surface, self.faces))

    @cached_property
    def area(self) -> float:
        """m2"""
        return float(self.surface.area[self.faces].sum())

    @cached_property
    def place(self) -> Array:
        """(3,) the middle of the face nearest to the middle of all."""
        area, centroid = self.surface.area[self.faces], self.surface.centroid[self.faces]
        away = np.linalg.norm(centroid - area @ centroid / area.sum(), axis=1)
        return np.asarray(centroid[int(away.argmin())])

    @cached_property
    def points(self) -> Array:
        """(k, 3) m, its corners."""
        return np.asarray(self.surface.points[np.unique(self.surface.triangles[self.faces])])

    def lies_within(self, round_face: Cylinder) -> bool:
        """Whether no corner of it stands out from a cylinder's radius."""
        return bool(_radius(self.points, round_face).max() <= MAX_OUT_OVER_RADIUS * round_face.diameter / 2)

    def in_the_way(self, round_face: Cylinder, radius: float) -> tuple[Array, Array]:
        """Points of the other faces within a radius of the axis: their distances from it, and heights from the
        cylinder's middle, m."""
        surface, axis = self.surface, round_face.axis
        others = np.flatnonzero(~self.faces & (surface.area > 0))
        corners = surface.corners[others] - round_face.center
        across = corners - (corners @ axis)[:, :, None] * axis
        reach = np.linalg.norm(across - across.mean(axis=1, keepdims=True), axis=2).max(axis=1)
        near = np.linalg.norm(across.mean(axis=1), axis=1) - reach <= radius
        points = _near_axis(corners[near], axis, radius)
        height = points @ axis
        away = np.linalg.norm(points - np.outer(height, axis), axis=1)
        inside = away <= radius
        return away[inside], height[inside]


def _near_axis(corners: Array, axis: Array, radius: float) -> Array:
    """(k, 3) points `SAMPLE_M` apart on triangles (n, 3, 3) about an axis through the origin: large ones are halved,
    and only halves near the axis are kept."""
    done = []
    while len(corners):
        longest, start = longest_edges(corners)
        small = longest <= 4 * radius
        done.append(corners[small])
        corners = bisected(corners[~small], start[~small])
        across = corners - (corners @ axis)[:, :, None] * axis
        middle = across.mean(axis=1)
        reach = np.linalg.norm(across - middle[:, None], axis=2).max(axis=1)
        corners = corners[np.linalg.norm(middle, axis=1) - reach <= radius]
    near = np.concatenate(done) if done else np.zeros((0, 3, 3))
    return sampled(near, SAMPLE_M) if len(near) else np.zeros((0, 3))


def _radius(points: Array, round_face: Cylinder) -> Array:
    away = points - round_face.center
    return np.asarray(np.linalg.norm(away - np.outer(away @ round_face.axis, round_face.axis), axis=1))


def regions(surface: Surface) -> list[Region]:
    """The masked regions, the largest first. O(faces) and a pass a region."""
    masked = surface.wetted & ~surface.plated & (surface.area > 0)
    pairs = surface.topology.edge_faces
    both = (pairs >= 0).all(axis=1) & masked[pairs].all(axis=1)
    label, _ = connected(len(masked), *pairs[both].T)
    round_faces = cylinders.find(replace(surface, wetted=masked)) if masked.any() else []
    masked_regions = [
        Region(
            surface,
            faces,
            tuple(face for face in round_faces if face.coverage >= MIN_COVERAGE_RAD and faces[face.faces[0]]),
        )
        for faces in (masked & (label == number) for number in np.unique(label[masked]))
    ]
    return sorted(masked_regions, key=lambda region: -region.area)


def _borders(surface: Surface, faces: Flags) -> Iterator[Border]:
    """The lines around a region."""
    pairs = surface.topology.edge_faces
    own = (pairs >= 0) & faces[pairs]
    edges = surface.topology.edges[own[:, 0] != own[:, 1]]
    used, place = np.unique(edges, return_inverse=True)
    ends = place.reshape(-1, 2)
    label, count = connected(len(used), *ends.T)
    for line in range(count):
        loop = _in_order(ends[label[ends[:, 0]] == line])
        yield Border(used[loop], surface.points[used[label == line]])


def _in_order(edges: NDArray[np.intp]) -> NDArray[np.intp]:
    """(k,) the points of a closed line of edges (k, 2) one after the other; none where it is no such line."""
    count = np.bincount(edges.reshape(-1))
    if (count[count > 0] != 2).any():
        return np.zeros(0, dtype=np.intp)
    at: dict[int, list[int]] = {}
    for a, b in edges.tolist():
        at.setdefault(a, []).append(b)
        at.setdefault(b, []).append(a)
    before, current = edges[0].tolist()
    loop = [before]
    while current != loop[0]:
        loop.append(current)
        before, current = current, next(end for end in at[current] if end != before)
    return np.array(loop)
