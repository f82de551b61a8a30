"""A real model: the bunny of the Stanford 3D Scanning Repository, as the wheel of pymeshfix carries it."""

from __future__ import annotations

from functools import cache
from importlib.resources import as_file, files

import numpy as np
import pymeshfix
import trimesh

from models import Model

SIZE = 0.06  # m: the longest side, as of a printed part


@cache
def bunny() -> Model:
    """As scanned: about 100,000 triangles, with holes below and in the base. Meters."""
    with as_file(files("pymeshfix") / "examples" / "StanfordBunny.ply") as path:
        scan = trimesh.load_mesh(path, process=False)
    points = np.asarray(scan.vertices, dtype=np.float64)
    return points * (SIZE / np.ptp(points, axis=0).max()), np.asarray(scan.faces, dtype=np.int32)


@cache
def coarse_bunny() -> Model:
    """The same on a grid of 1.5 mm: some thousand irregular triangles, with edges of three and more."""
    points, triangles = bunny()
    _, first, place = np.unique(np.round(points / 1.5e-3), axis=0, return_index=True, return_inverse=True)
    triangles = place.reshape(-1)[triangles]
    triangles = triangles[(triangles != np.roll(triangles, 1, axis=1)).all(axis=1)]
    once = np.unique(np.sort(triangles, axis=1), axis=0, return_index=True)[1]
    return points[first], triangles[once].astype(np.int32)


@cache
def mended_bunny() -> Model:
    """The same with its holes filled by pymeshfix: closed."""
    points, triangles = pymeshfix.clean_from_arrays(*bunny())
    return np.asarray(points, dtype=np.float64), np.asarray(triangles, dtype=np.int32)


@cache
def coarse_mended_bunny() -> Model:
    """The coarse one with its holes filled and its edges of three undone by pymeshfix: closed."""
    points, triangles = pymeshfix.clean_from_arrays(*coarse_bunny())
    return np.asarray(points, dtype=np.float64), np.asarray(triangles, dtype=np.int32)


def dirty_bunny(shells: int = 278, seed: int = 7) -> Model:
    """The coarse bunny as a bad scan has it, about 5 dm2: drops that hover off it, sit in it by half or wholly, round
    and flat as a leaf, a quarter of them inside out; some flakes of itself, 0.1 to 1 mm off; doubled faces; holes.
    Meters.
    """
    random = np.random.default_rng(seed)
    points, triangles = coarse_bunny()
    points = points * 2.4
    middle = points[triangles].mean(axis=1)
    a, b, c = points[triangles].swapaxes(0, 1)
    cross = np.cross(b - a, c - a)
    normal = cross / np.maximum(np.linalg.norm(cross, axis=1), 1e-30)[:, None]
    kept = np.ones(len(triangles), dtype=bool)
    kept[random.choice(len(triangles), 12, replace=False)] = False
    twice = triangles[random.choice(len(triangles), 40, replace=False)]
    ball = trimesh.creation.icosphere(1, 1.0)
    found = [(points, np.concatenate([triangles[kept], twice]))]
    for number, seat in enumerate(random.choice(len(triangles), shells, replace=False)):
        height = random.uniform(1e-4, 1e-3) * random.choice([-1.0, 1.0])
        if number % 14 == 0:
            near = np.linalg.norm(middle - middle[seat], axis=1) < 2.5e-3
            used, place = np.unique(triangles[near & (normal @ normal[seat] > 0.5)], return_inverse=True)
            found.append((points[used] + height * normal[seat], place.reshape(-1, 3)))
            continue
        drop = np.asarray(ball.vertices) * random.uniform(2e-4, 1.5e-3)
        flat = random.uniform(0.1, 1.0)
        drop = drop - (1.0 - flat) * (drop @ normal[seat])[:, None] * normal[seat]
        faces = np.asarray(ball.faces)
        found.append((drop + middle[seat] + height * normal[seat], faces[:, ::-1] if number % 4 == 3 else faces))
    starts = np.cumsum([0] + [len(some) for some, _ in found[:-1]])
    faces = np.concatenate([some + start for (_, some), start in zip(found, starts, strict=True)])
    return np.concatenate([some for some, _ in found]), faces.astype(np.int32)
