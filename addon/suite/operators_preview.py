"""The ranked ways up, one after another, on a copy beside the part: turned, wired, with the level of the liquid.

The part itself stays as it is. The copy is no part of anything: it cannot be picked, is not rendered, and goes when
a way up is taken or the look is ended.
"""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from numpy.typing import ArrayLike

from ..engine.hang.pose import Pose, pose
from . import session
from .capture import metres_per_unit
from .operators import ready
from .session import Kept

MARK = "platewright_preview"  # on every object of the look: which way up it shows, from 1
GAP = 0.25  # of the part's size, between the part and the copy


def shown(scene: bpy.types.Scene) -> int:
    """Which way up the copy shows, from 1; 0 if there is none."""
    return next((int(o[MARK]) for o in scene.objects if o.get(MARK)), 0)


def clear(scene: bpy.types.Scene) -> None:
    """Take the copy away, with its meshes."""
    for o in [o for o in scene.objects if o.get(MARK)]:
        mesh: Any = o.data
        bpy.data.objects.remove(o)
        if not mesh.users:
            bpy.data.meshes.remove(mesh)


class PLATEWRIGHT_OT_preview(bpy.types.Operator):
    """Look at this way up on a copy beside the part, with its wires and the level of the liquid. The part stays"""

    bl_idname = "platewright.preview"
    bl_label = "Look at This Way Up"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(name="Number", description="Which of the suggestions, from 0; -1: the next", min=-1)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set("Leave Edit mode first")
            return False
        if not ready(cls, context):
            return False
        kept = session.find(context)
        if kept is None or "hanging" not in kept.study.results:
            cls.poll_message_set("Look for ways up first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        kept, scene = session.find(context), context.scene
        assert kept is not None
        found = kept.study.results["hanging"].suggestions
        number = shown(scene) if self.number < 0 else self.number
        number %= len(found)
        clear(scene)
        _stand(context, kept, number)
        self.report({"INFO"}, f"{number + 1} of {len(found)}: {'; '.join(found[number].reasons)}")
        return {"FINISHED"}


class PLATEWRIGHT_OT_preview_end(bpy.types.Operator):
    """Take the copy away"""

    bl_idname = "platewright.preview_end"
    bl_label = "End the Look"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not shown(context.scene):
            cls.poll_message_set("No way up is looked at")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        clear(context.scene)
        return {"FINISHED"}


def _stand(context: bpy.types.Context, kept: Kept, number: int) -> None:
    """The copy and its lines, on the part's right."""
    study, scale = kept.study, 1.0 / metres_per_unit(context.scene)
    surface = study.surface
    assert surface is not None
    used, place = np.unique(surface.triangles, return_inverse=True)
    seen = pose(surface.points[used], study.results["hanging"].suggestions[number], study.job)
    low, high = surface.bounds
    spot = 0.5 * (low + high)
    spot[0] = high[0] + GAP * surface.size + 0.5 * seen.size[0]
    at = spot * scale + session.shift(context)
    name = f"{study.part.name}, way up {number + 1}"
    _add(context, name, number, at, seen.points * scale, triangles=place.reshape(-1, 3))
    points, edges = _lines(seen)
    _add(context, f"{name}, wire and level", number, at, points * scale, edges=edges)


def _lines(seen: Pose) -> tuple[Any, Any]:
    """Wires, and the outline of the liquid's surface with a cross through it."""
    corners = len(seen.level)
    round_about = np.stack([np.arange(corners), np.roll(np.arange(corners), -1)], axis=1)
    across = np.array([[0, corners // 2], [corners // 4, 3 * corners // 4]]) if corners else np.zeros((0, 2), dtype=int)
    wires = corners + np.arange(2 * len(seen.wires)).reshape(-1, 2)
    points = np.concatenate([seen.level, seen.wires.reshape(-1, 3)])
    return points, np.concatenate([round_about, across, wires]).astype(int)


def _add(
    context: bpy.types.Context,
    name: str,
    number: int,
    at: ArrayLike,
    points: Any,
    edges: Any = None,
    triangles: Any = None,
) -> None:
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(
        points.tolist(), [] if edges is None else edges.tolist(), [] if triangles is None else triangles.tolist()
    )
    made = bpy.data.objects.new(name, mesh)
    made[MARK] = number + 1
    made.location = tuple(np.asarray(at).tolist())
    made.hide_select = made.hide_render = True
    context.scene.collection.objects.link(made)


classes = (PLATEWRIGHT_OT_preview, PLATEWRIGHT_OT_preview_end)
register, unregister = bpy.utils.register_classes_factory(classes)
