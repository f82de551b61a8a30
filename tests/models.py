"""Plain models to test on, each closed and wound outward, as (points (v, 3), triangles (m, 3)).

Lengths are whatever the caller says; the engine's are meters. `part` joins models into one Part.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from addon.engine.mesh.part import Part

Model: TypeAlias = tuple[NDArray[np.float64], NDArray[np.int32]]


def part(*models: Model, name: str = "model", **marks: object) -> Part:
    """The models side by side in one Part; keywords: masked, show."""
    return Part.of(name, *joined(*models), **marks)


def joined(*models: Model) -> Model:
    """One model of several, points not shared."""
    starts = np.cumsum([0] + [len(points) for points, _ in models[:-1]])
    faces = [faces + start for (_, faces), start in zip(models, starts, strict=True)]
    return np.vstack([points for points, _ in models]), np.vstack(faces).astype(np.int32)


def moved(model: Model, shift: ArrayLike = (0, 0, 0), turn: ArrayLike | None = None, scale: float = 1.0) -> Model:
    """Scaled, then turned by a 3 x 3 rotation, then shifted."""
    points, faces = model
    matrix = np.eye(3) if turn is None else np.asarray(turn)
    return scale * points @ matrix.T + np.asarray(shift, dtype=float), faces


def inside_out(model: Model) -> Model:
    """The same triangles wound the other way."""
    points, faces = model
    return points, faces[:, ::-1].copy()


def rotation(seed: int) -> NDArray[np.float64]:
    """A 3 x 3 rotation, uniform over all."""
    matrix, upper = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    matrix = matrix * np.sign(np.diag(upper))
    return matrix * np.sign(np.linalg.det(matrix))


def split(model: Model) -> Model:
    """Each triangle in four, by the middles of its edges; the shape stays the same."""
    points, faces = model
    edges = np.sort(np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    unique, place = np.unique(edges, axis=0, return_inverse=True)
    ab, bc, ca = len(points) + place.reshape(3, -1)
    a, b, c = faces.T
    four = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1)
    return np.vstack([points, points[unique].mean(axis=1)]), four.reshape(-1, 3).astype(np.int32)


def box(size: ArrayLike = (1, 1, 1), cells: ArrayLike = (1, 1, 1)) -> Model:
    """An axis-parallel box from the origin to `size`, each side cut into cells."""
    size, cells = np.asarray(size, dtype=float), np.asarray(cells)
    sides = []
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        nu, nv = cells[u], cells[v]
        flat, faces = _grid(nu, nv)
        for level in (0, 1):
            points = np.zeros((len(flat), 3))
            points[:, u], points[:, v], points[:, axis] = *(flat / (nu, nv)).T, level
            sides.append((points * size, faces if level else faces[:, ::-1]))
    points, faces = joined(*sides)
    return _welded(points, faces)


def sphere(radius: float = 1.0, level: int = 3) -> Model:
    """A sphere about the origin: an icosahedron split `level` times (20 x 4^level triangles)."""
    g = (1 + 5**0.5) / 2
    corners = [(-1, g, 0), (1, g, 0), (-1, -g, 0), (1, -g, 0), (0, -1, g), (0, 1, g)]
    corners += [(0, -1, -g), (0, 1, -g), (g, 0, -1), (g, 0, 1), (-g, 0, -1), (-g, 0, 1)]
    faces = [(0, 11, 5), (0, 5, 1), (0, 1, 7), (0, 7, 10), (0, 10, 11), (1, 5, 9), (5, 11, 4), (11, 10, 2)]
    faces += [(10, 7, 6), (7, 1, 8), (3, 9, 4), (3, 4, 2), (3, 2, 6), (3, 6, 8), (3, 8, 9), (4, 9, 5)]
    faces += [(2, 4, 11), (6, 2, 10), (8, 6, 7), (9, 8, 1)]
    model: Model = np.array(corners, dtype=float), np.array(faces, dtype=np.int32)
    for _ in range(level):
        model = split(model)
    points, triangles = model
    return radius * points / np.linalg.norm(points, axis=1, keepdims=True), triangles


def torus(ring: float = 2.0, tube: float = 0.5, around: int = 64, across: int = 32) -> Model:
    """A torus about z: `ring` to the middle of the tube, `tube` its radius."""
    angle = np.arange(across) * 2 * np.pi / across
    profile = np.stack([ring + tube * np.cos(angle), tube * np.sin(angle)], axis=1)
    return lathe(np.vstack([profile, profile[:1]]), around)


def cylinder(radius: float = 1.0, height: float = 2.0, around: int = 64, rows: int = 1) -> Model:
    """A solid cylinder on z = 0 about z."""
    return lathe(steps([(0, 0), (radius, 0), (radius, height), (0, height)], rows), around)


def cup(radius: float = 10.0, depth: float = 20.0, wall: float = 1.0, around: int = 64, rows: int = 1) -> Model:
    """A round cup about z: the hollow from z = 0 (its floor) up to its rim at z = depth.

    radius : of the hollow; wall : of the side and of the floor; rows : pieces of each profile line
    """
    outer = radius + wall
    profile = [(0, -wall), (outer, -wall), (outer, depth), (radius, depth), (radius, 0), (0, 0)]
    return lathe(steps(profile, rows), around)


def steps(profile: ArrayLike, rows: int) -> NDArray[np.float64]:
    """The profile with each of its lines cut into `rows` pieces."""
    profile = np.asarray(profile, dtype=float)
    cuts = np.arange(rows)[:, None] / rows
    return np.vstack([*(a + cuts * (b - a) for a, b in pairwise(profile)), profile[-1:]])


def lathe(profile: ArrayLike, around: int = 64) -> Model:
    """A profile of (radius, z) turned about z.

    Closed where the profile starts and ends on the axis, or returns to its start. Walk it with the
    solid on the left: outward from the axis along the bottom, up, and back to the axis.
    """
    profile = np.asarray(profile, dtype=float)
    angle = np.arange(around) * 2 * np.pi / around
    r, z = profile[:, :1], profile[:, 1:]
    rings = np.stack([r * np.cos(angle), r * np.sin(angle), z + 0 * angle], axis=-1)
    row, turn = np.arange(len(profile) - 1)[:, None] * around, np.arange(around)
    after = (turn + 1) % around
    a, b, c, d = row + turn, row + after, row + around + after, row + around + turn
    faces = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    return _welded(rings.reshape(-1, 3), faces)


def plate(size: ArrayLike = (1, 1), cells: ArrayLike = (1, 1)) -> Model:
    """A flat open sheet in the plane z = 0, normal up, from the origin to `size`."""
    flat, faces = _grid(*np.asarray(cells))
    points = np.zeros((len(flat), 3))
    points[:, :2] = flat / np.asarray(cells) * np.asarray(size, dtype=float)
    return points, faces


def _grid(nu: int, nv: int) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Whole-number points of a grid, and its triangles, anticlockwise."""
    i, j = np.meshgrid(np.arange(nu + 1), np.arange(nv + 1), indexing="ij")
    a = (np.arange(nu)[:, None] * (nv + 1) + np.arange(nv)).reshape(-1)
    b, c, d = a + nv + 1, a + nv + 2, a + 1
    faces = np.stack([a, b, c, a, c, d], axis=1).reshape(-1, 3)
    return np.stack([i.reshape(-1), j.reshape(-1)], axis=1).astype(float), faces.astype(np.int32)


def _welded(points: NDArray[np.float64], faces: NDArray[np.int32]) -> Model:
    """Coincident points joined and the triangles dropped that have no area then."""
    rounded = np.round(points / (np.ptp(points, axis=0).max() * 1e-9)).astype(np.int64)
    _, first, place = np.unique(rounded, axis=0, return_index=True, return_inverse=True)
    faces = place.reshape(-1)[faces].astype(np.int32)
    keep = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
    return points[first], faces[keep]
