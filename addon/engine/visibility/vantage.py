"""The best viewpoint on some faces of a part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..geometry.attitude import sphere
from ..mesh.surface import Surface
from ..mesh.tracer import Tracer

MAX_SAMPLED_FACES, TRIED_DIRECTIONS = 64, 96


def vantage(surface: Surface, tracer: Tracer, faces: NDArray[np.integer]) -> tuple[NDArray[np.float64], float]:
    """The direction (3,), unit, from the faces to the eye that sees most of them, and how much: 1 where all of their
    area is seen square on, 0 where the part itself hides it from everywhere.

    faces : (k,) triangles, k > 0. The largest `MAX_SAMPLED_FACES` stand for all. Orthographic; costs one ray each and
    direction.
    """
    ways = sphere(TRIED_DIRECTIONS)
    score = seen_along(surface, tracer, faces, ways)
    best = int(score.argmax())
    return ways[best], float(score[best])


def seen_along(
    surface: Surface, tracer: Tracer, faces: NDArray[np.integer], ways: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(d,) how much of some faces an eye in each direction sees, as `vantage` counts it.

    ways : (d, 3) unit, toward the eye
    """
    chosen = faces[np.argsort(-surface.area[faces], kind="stable")[:MAX_SAMPLED_FACES]]
    area, normal = surface.area[chosen], surface.normal[chosen]
    facing = np.clip(normal @ ways.T, 0.0, None)  # (k, d)
    origin = surface.centroid[chosen] + surface.lift * normal
    first_face, _ = tracer.first_hit(np.repeat(origin, len(ways), axis=0), np.tile(ways, (len(chosen), 1)))
    seen = facing * (first_face.reshape(facing.shape) < 0)
    score: NDArray[np.float64] = area @ seen / max(float(area.sum()), 1e-300)
    return score
