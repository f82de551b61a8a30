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
