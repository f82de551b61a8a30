"""The copy beside the part: it shows a way up, wired, with the level of the liquid and the gas that stays.

It belongs to no part and is not rendered, but it may be turned by hand. Its look is cached here while the file is
open; its way up is stored on its objects, so that undo covers both.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import ArrayLike, NDArray

from ...engine.hanging.pose import Pose, pose, wire_segments
from ...engine.study import Study
from ..scene import meshes, roles, viewing
from ..scene.capture import meters_per_unit
from ..scene.roles import MARK
from ..session import State, StudyRecord, session
from . import orientation

KIND = "platewright_preview_as"  # and what it is: BODY, WIRES or LEVEL
BODY, WIRES, LEVEL = "body", "wires", "level"
GAP = 0.25  # of the part's size, between the part and the copy
UPRIGHT = 1e-4  # a way up that differs by less is the same
MAX_CACHED_LOOKS = 8


@dataclass(eq=False)
class Look:
    """What stands there of one way up, and then as it is turned by hand.

    study : gas and liquid with the way `up` (3,); middle : (3,) meters, the point of the part that is the copy's origin
    """

    pose: Pose
    study: Study
    up: NDArray[np.float64]
    middle: NDArray[np.float64]


@dataclass(eq=False)
class _LooksCache(State):
    looks: dict[tuple[str, int], Look] = field(default_factory=dict)  # key of the hanging, way up from 0


def shown(scene: bpy.types.Scene) -> int:
    """Which way up the copy shows, from 1; 0 if there is none."""
    return next((int(o[MARK]) for o in scene.objects if o.get(MARK)), 0)


def clear(scene: bpy.types.Scene) -> None:
    """Remove the copy with its meshes."""
    for o in [o for o in scene.objects if roles.of(o) == roles.COPY]:
        mesh: Any = o.data
        bpy.data.objects.remove(o)
        if not mesh.users:
            bpy.data.meshes.remove(mesh)


def piece(scene: bpy.types.Scene, kind: str) -> bpy.types.Object | None:
    """The object of the look that is of a kind."""
    return next((o for o in scene.objects if roles.of(o) == roles.COPY and o.get(KIND) == kind), None)


def way_up(o: bpy.types.Object) -> NDArray[np.float64]:
    """(3,) the way up that the copy is turned to, in the part's axes."""
    return np.array(o.matrix_world.to_quaternion().to_matrix())[2]


def stand(context: bpy.types.Context, record: StudyRecord, number: int) -> Look:
    """Put the copy beside the part, in one of the ways up that were found."""
    clear(context.scene)
    study, scale = record.study, 1.0 / meters_per_unit(context.scene)
    surface, part = study.surface, study.part
    suggestion = study.results.hanging.suggestions[number]
    used, place = np.unique(part.triangles, return_inverse=True)
    points, middle = part.points[used], surface.bounds.mean(axis=0)
    stood = pose(points, suggestion, study.job)
    spot = middle.copy()
    spot[0] = surface.bounds[1, 0] + GAP * surface.size + 0.5 * stood.size[0]
    at = spot * scale + session.shift(context)
    name = f"{part.name}, position {number + 1}"
    mesh = meshes.new(name, (points - middle) * scale, place.reshape(-1, 3).astype(np.int32))
    body = _add(context, mesh, number, BODY, at + (stood.turn @ middle - stood.middle) * scale)
    body.rotation_euler = Matrix(stood.turn.tolist()).to_euler()
    _add(context, _lines(f"{name}, wires", wire_segments(stood.contacts, stood.ends) * scale), number, WIRES, at)
    _add(context, _outline(f"{name}, level", stood.level * scale), number, LEVEL, at)
    context.view_layer.update()
    look = Look(stood, orientation.studied(record, suggestion.up), suggestion.up, middle)
    looks = session.state(_LooksCache).looks
    looks[_key(study, number)] = look
    while len(looks) > MAX_CACHED_LOOKS:
        del looks[next(iter(looks))]
    return look


def current(context: bpy.types.Context) -> tuple[bpy.types.Object, Look] | None:
    """The copy and its look; None without a copy, or if its look is no longer cached."""
    record, number, body = session.find(context), shown(context.scene), piece(context.scene, BODY)
    if record is None or body is None or record.study.results.hanging is None:
        return None
    look = session.state(_LooksCache).looks.get(_key(record.study, number - 1))
    return None if look is None else (body, look)


def as_it_stands(o: bpy.types.Object, look: Look) -> bool:
    """Whether the look is that of the way up which the copy is turned to now."""
    return bool(np.abs(way_up(o) - look.up).max() < UPRIGHT)


def turned(context: bpy.types.Context, record: StudyRecord, o: bpy.types.Object, look: Look) -> bool:
    """After the copy was turned or moved by hand: where its wires are now, and its gas.

    Returns whether its way up is another now.
    """
    is_turned = not as_it_stands(o, look)
    if is_turned:
        look.up = way_up(o)
        look.study = orientation.studied(record, look.up)
    wires = piece(context.scene, WIRES)
    if wires is not None:
        scale = 1.0 / meters_per_unit(context.scene)
        on_part = (look.pose.contacts + look.pose.middle) @ look.pose.turn - look.middle
        in_scene = (np.array(o.matrix_world) @ np.column_stack([on_part * scale, np.ones(len(on_part))]).T)[:3].T
        points = wire_segments(in_scene - np.array(wires.matrix_world)[:3, 3], look.pose.ends * scale)
        mesh: Any = wires.data
        mesh.attributes["position"].data.foreach_set("vector", points.astype(np.float32).ravel())
        mesh.update()
    return is_turned


def map_of(context: bpy.types.Context, look: Look) -> str:
    """The map that colors the copy: the map that the part shows, if it is one of gas or liquid, or else gas; "" for
    none."""
    shown_map = viewing.of(context).shown
    if look.study.results.gas is None:
        return ""
    return shown_map if shown_map in orientation.MAPS else orientation.MAPS[0]


def placed(context: bpy.types.Context, o: bpy.types.Object, look: Look) -> Matrix:
    """From the part's own meters to the scene, for what is drawn on the copy."""
    scale = 1.0 / meters_per_unit(context.scene)
    return o.matrix_world @ Matrix.Translation((-look.middle * scale).tolist()) @ Matrix.Scale(scale, 4)


def _key(study: Study, number: int) -> tuple[str, int]:
    return study.keys["hanging"], number


def _lines(name: str, lines: NDArray[np.float64]) -> bpy.types.Mesh:
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(lines.reshape(-1, 3).tolist(), np.arange(2 * len(lines)).reshape(-1, 2).tolist(), [])
    return mesh


def _outline(name: str, corners: NDArray[np.float64]) -> bpy.types.Mesh:
    """The outline of the liquid's surface, with a cross through it."""
    count = len(corners)
    edges = [(k, (k + 1) % count) for k in range(count)]
    edges += [(0, count // 2), (count // 4, 3 * count // 4)] if count else []
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(corners.tolist(), edges, [])
    return mesh


def _add(context: bpy.types.Context, mesh: bpy.types.Mesh, number: int, kind: str, at: ArrayLike) -> bpy.types.Object:
    o = bpy.data.objects.new(mesh.name, mesh)
    o[MARK], o[KIND] = number + 1, kind
    o.location = tuple(np.asarray(at).tolist())
    o.hide_select, o.hide_render = kind != BODY, True
    context.scene.collection.objects.link(o)
    return o


@bpy.app.handlers.persistent
def undone(*_args: object) -> None:
    """After undo, which turns the copy back but not its cached look."""
    copy, record = current(bpy.context), session.find(bpy.context)
    if copy is not None and record is not None and copy[0].mode == "OBJECT":
        turned(bpy.context, record, *copy)
