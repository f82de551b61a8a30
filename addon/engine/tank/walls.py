"""Walls and floor of a tank that is not a box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..errors import InputError
from ..filled import filled
from ..geometry.solid_angle import winding
from ..linalg.labels import connected
from ..mesh.surface import Surface
from ..mesh.topology import Topology
from ..settings.tank import Tank
from ..units import in_mm
from .body import Body, Role, clipped

FLOOR_CELLS_A_SIDE = 16  # a round tank's floor is 16 x 16 cells, its wall 64 sided


def model_of(name: str, file: str, loaded: Mapping[str, Surface]) -> Surface:
    """The model that a body or tank names. Raises InputError where it names none, or one that is not at hand."""
    if not file:
        raise InputError(filled("{name}: name the file of its mesh", name=name))
    if file not in loaded:
        raise InputError(filled("{name}: {path}: the model is not at hand; check the name", name=name, path=file))
    return loaded[file]


def walls_of(tank: Tank, loaded: Mapping[str, Surface]) -> Body | None:
    """The walls and floor of a round tank or of a mesh, up to the level; None where none are needed.

    Raises InputError where a mesh does not hold the liquid.
    """
    if tank.shape == "cylinder":
        return _round(tank.size[0] / 2, tank.level)
    if tank.shape != "mesh":
        return None
    model = model_of("tank", tank.file, loaded)
    body = Body(filled("the tank"), Role.INSULATOR, model.points, model.triangles, wall=True)
    rim = body.bounds[1, 2]
    if rim < tank.level * (1 - 1e-6):
        raise InputError(
            filled(
                "{tank.level_mm}: the liquid stands {level} above the rim of {path}",
                level=in_mm(tank.level - rim),
                path=tank.file,
            )
        )
    body = clipped(body, tank.level)
    topology = Topology.of(body.triangles, len(body.points))
    ends = body.points[topology.edges[topology.open]]
    leaks = int((ends[:, :, 2] < tank.level - 1e-6 * np.ptp(body.points)).any(axis=1).sum())
    if leaks or not len(ends):
        why = (
            "tank: {path}: the mesh does not hold the liquid: it has {count} open edges below the level; close it, or"
            " lower the level"
            if leaks
            else "tank: {path}: the mesh does not hold the liquid: it has no opening at the level; close it, or lower"
            " the level"
        )
        raise InputError(filled(why, path=tank.file, count=leaks))
    return _inner(body, topology, tank)


def _inner(body: Body, topology: Topology, tank: Tank) -> Body:
    """Of a vessel with thickness its inner skin, wound into the liquid."""
    a, b = topology.edge_faces[topology.edge_faces[:, 1] >= 0].T
    label, count = connected(len(body.triangles), a, b)
    skins = []
    for i in range(count):
        skin = body.triangles[label == i]
        corners = body.points[skin]
        mirrored = corners[:, ::-1] * (1.0, 1.0, -1.0) + (0.0, 0.0, 2.0 * tank.level)
        low, high = corners.reshape(-1, 3).min(axis=0), corners.reshape(-1, 3).max(axis=0)
        probe = np.append(0.5 * (low + high)[:2], tank.level)
        turns = winding(probe[None], np.concatenate([corners, mirrored]))[0]
        if abs(turns) > 0.5:
            skins.append((float(np.prod((high - low)[:2])), skin if turns < 0 else skin[:, ::-1]))
    if not skins:
        raise InputError(
            filled("tank: {path}: the mesh does not enclose the liquid; use the inside of the vessel", path=tank.file)
        )
    return replace(body, triangles=np.ascontiguousarray(min(skins, key=lambda skin: skin[0])[1]))


def _round(radius: float, level: float) -> Body:
    """Wall and floor of a round tank as a polygon of the same area, wound into the liquid."""
    k = FLOOR_CELLS_A_SIDE
    sides = 4 * k
    radius *= float(np.sqrt(2 * np.pi / sides / np.sin(2 * np.pi / sides)))
    u, v = np.meshgrid(np.linspace(-1, 1, k + 1), np.linspace(-1, 1, k + 1), indexing="ij")
    wide = np.abs(u) >= np.abs(v)  # a square's rings drawn into circles, cell for cell
    r = np.where(wide, u, v)
    share = np.divide(np.where(wide, v, u), r, out=np.zeros_like(r), where=r != 0) * np.pi / 4
    x = r * np.where(wide, np.cos(share), np.sin(share))
    y = r * np.where(wide, np.sin(share), np.cos(share))
    floor = np.stack([radius * x, radius * y, np.zeros_like(x)], axis=-1).reshape(-1, 3)
    cell = np.arange((k + 1) ** 2).reshape(k + 1, k + 1)
    a, b, c, d = cell[:-1, :-1], cell[1:, :-1], cell[1:, 1:], cell[:-1, 1:]
    bottom = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    rim = np.concatenate([cell[:-1, 0], cell[-1, :-1], cell[:0:-1, -1], cell[0, :0:-1]])
    rows = max(1, round(level / (2.0 * np.pi * radius / sides)))  # square cells: slivers make poor panels
    rings = np.vstack([rim, len(floor) + np.arange(rows * sides).reshape(rows, sides)])
    low, high = rings[:-1], rings[1:]
    after, above = np.roll(low, -1, axis=1), np.roll(high, -1, axis=1)
    side = np.stack([low, above, after, low, high, above], axis=-1).reshape(-1, 3)
    heights = [(0.0, 0.0, level * (k + 1) / rows) for k in range(rows)]
    points = np.vstack([floor, *(floor[rim] + height for height in heights)])
    return Body(filled("the tank"), Role.INSULATOR, points, np.vstack([bottom, side]).astype(np.int32), wall=True)
