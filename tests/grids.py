"""Parts and gas on a grid of cells: exact shapes to test on, and a flood of cells as an independent oracle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from models import Model

Cells = NDArray[np.bool_]


def blocks(solid: Cells) -> Model:
    """The surface of a grid of unit cells, wound outward, points shared wherever cells touch."""
    padded = np.pad(solid, 1)
    squares = []
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        for sign in (1, -1):
            at = np.argwhere(padded & ~np.roll(padded, -sign, axis))
            at[:, axis] += sign == 1
            corners = np.repeat(at[:, None], 4, axis=1)
            corners[:, (1, 2), u] += 1
            corners[:, (2, 3), v] += 1
            squares.append(corners[:, ::sign])
    corners = np.concatenate(squares)
    points, place = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    a, b, c, d = place.reshape(-1, 4).T
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return points - 1.0, faces.astype(np.int32)


def without_voids(solid: Cells) -> Cells:
    """The same with every hollow filled that has no way out."""
    label, _ = ndimage.label(np.pad(~solid, 1))
    return (label != label[0, 0, 0])[1:-1, 1:-1, 1:-1]


def trapped(solid: Cells) -> Cells:
    """Cells outside the solid from which gas cannot rise (up is the last axis), layer by layer from the top.

    Gas of a layer is free if, through cells of this layer and those above, it reaches the outside. Cells touch
    by their faces only. The pieces of each layer are joined through those of the layer above it.
    """
    liquid = np.pad(~solid, 1, constant_values=True)
    label, _ = ndimage.label(liquid)
    liquid &= label == label[0, 0, -1]
    shut = np.zeros_like(liquid)
    above, pieces = np.zeros(liquid.shape[:2], dtype=np.int64), 0
    for layer in range(liquid.shape[2] - 1, -1, -1):
        here, count = ndimage.label(liquid[:, :, layer])
        touching = (above > 0) & (here > 0)
        pairs = above[touching] - 1, pieces + here[touching] - 1
        graph = sparse.coo_matrix((np.ones(touching.sum()), pairs), shape=(pieces + count,) * 2)
        _, joined = csgraph.connected_components(graph, directed=False)
        above = np.where(here > 0, joined[pieces + here - 1] + 1, 0)
        pieces = int(above.max())
        shut[:, :, layer] = liquid[:, :, layer] & (above != above[0, 0])
    return shut[1:-1, 1:-1, 1:-1]


def filled(model: Model, cell: float) -> Cells:
    """The cells whose middle lies inside a closed model, by counting crossings of vertical rays (trimesh, embree)."""
    import trimesh

    points, faces = model
    low = points.min(axis=0) - cell
    nx, ny, nz = (np.ceil(np.ptp(points, axis=0) / cell) + 2).astype(int)
    # a little off the middle, so that no ray runs along an edge
    x, y = np.meshgrid(np.arange(nx) + 0.5003, np.arange(ny) + 0.5007, indexing="ij")
    starts = low + cell * np.stack([x.ravel(), y.ravel(), np.full(nx * ny, -1.0)], axis=1)
    mesh = trimesh.Trimesh(points, faces, process=False)
    up = np.tile([0.0, 0.0, 1.0], (len(starts), 1))
    places, ray, _ = mesh.ray.intersects_location(starts, up, multiple_hits=True)
    crossing = np.zeros((nx * ny, nz), dtype=np.int8)
    level = np.ceil((places[:, 2] - low[2]) / cell - 0.5).astype(int).clip(0, nz - 1)
    np.add.at(crossing, (ray, level), 1)
    return (np.cumsum(crossing, axis=1) % 2 == 1).reshape(nx, ny, nz)
