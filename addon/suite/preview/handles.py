"""Handles in the viewport: the tip of the arrow that is up in the bath, and the level of the liquid in its tank.

A drag sets the setting behind it and is one step of undo. Wires, vents, tank and anodes are objects, dragged as such.
"""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

import bpy
import numpy as np
from bpy_extras.view3d_utils import region_2d_to_origin_3d, region_2d_to_vector_3d
from mathutils import Matrix, Vector

from ...engine.reporting.filled import filled
from ...engine.units import MM
from ..draw import overlay, overlay_setup, overlay_tank
from ..figures import figure
from ..language import localized
from ..scene import roles, settings
from ..scene.capture import meters_per_unit

ROUND = 24  # corners of a handle
SIZE = 0.09  # of a handle, in Blender's size of gizmos
UP_INK, LEVEL_INK, BRIGHT = (0.35, 0.75, 1.0), (0.35, 0.65, 0.95), (1.0, 1.0, 1.0)


def on_sphere(origin: Vector, way: Vector, center: Vector, tip: Vector) -> Vector:
    """The unit direction from a center to where a ray meets the sphere through `tip`; beside it, to its outline.

    Of the two places where the ray meets it, the one nearer to the tip.
    """
    across = way.normalized()
    radius = (tip - center).length
    beside = origin - center - across * (origin - center).dot(across)
    if beside.length >= radius:
        return beside.normalized()
    depth = (radius**2 - beside.length_squared) ** 0.5
    points = (beside - depth * across, beside + depth * across)
    return min(points, key=lambda axis: (axis - (tip - center)).length).normalized()


def along_line(origin: Vector, way: Vector, foot: Vector, axis: Vector) -> float:
    """How far from its foot, in lengths of `axis`, a line comes nearest to a ray; nan where the two are parallel."""
    u, v, between = axis, way, origin - foot
    uu, uv, vv = u.dot(u), u.dot(v), v.dot(v)
    slant = uu * vv - uv * uv
    if slant <= 1e-9 * uu * vv:
        return float("nan")
    return (between.dot(u) * vv - between.dot(v) * uv) / slant


class _Handle:
    """Base of gizmos beside bpy.types.Gizmo; each adds `place`, `value`, `put`, `dragged` and `header_text`."""

    color: Any
    matrix_basis: Any
    matrix_world: Any
    title = ""
    _before: Any = None
    _shape: Any = None

    def setup(self) -> None:
        """The shape: a disc that faces the viewer."""
        turn = np.linspace(0.0, 2 * np.pi, ROUND, endpoint=False)
        rim = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
        fan = np.stack([0 * rim, rim, np.roll(rim, -1, axis=0)], axis=1).reshape(-1, 3)
        self._shape = self.new_custom_shape("TRIS", fan.tolist())  # type: ignore[attr-defined]  # beside a Gizmo

    def draw(self, context: bpy.types.Context) -> None:
        """The disc, at the size of a handle."""
        self.draw_custom_shape(self._shape, matrix=self._facing(context))  # type: ignore[attr-defined]  # beside a Gizmo

    def draw_select(self, context: bpy.types.Context, select_id: int) -> None:
        """The same, to be picked."""
        self.draw_custom_shape(self._shape, matrix=self._facing(context), select_id=select_id)  # type: ignore[attr-defined]  # beside a Gizmo

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """A drag begins."""
        self._before = self.value(context)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event, _tweak: set[str]) -> set[str]:
        """The mouse moves."""
        spot = event.mouse_region_x, event.mouse_region_y
        origin = region_2d_to_origin_3d(context.region, context.region_data, spot)
        self.dragged(context, origin, region_2d_to_vector_3d(context.region, context.region_data, spot))
        context.area.header_text_set(localized(self.header_text(context)))
        return {"RUNNING_MODAL"}

    def exit(self, context: bpy.types.Context, cancel: bool) -> None:
        """End the drag: store it as one undo step, or restore the old value."""
        context.area.header_text_set(None)
        if cancel:
            self.put(context, self._before)
        else:
            bpy.ops.ed.undo_push(message=localized(self.title))

    def _facing(self, context: bpy.types.Context) -> Matrix:
        turn = context.region_data.view_rotation.to_matrix().to_4x4()
        return self.matrix_world @ turn @ Matrix.Scale(SIZE, 4)

    @abstractmethod
    def place(self, context: bpy.types.Context) -> Vector | None:
        """Where the handle stands in the scene; None where there is nothing to drag."""

    @abstractmethod
    def value(self, context: bpy.types.Context) -> Any:
        """The setting as it is."""

    @abstractmethod
    def put(self, context: bpy.types.Context, value: Any) -> None:
        """Set it."""

    @abstractmethod
    def dragged(self, context: bpy.types.Context, origin: Vector, way: Vector) -> None:
        """Set it to what a ray from the eye points at."""

    @abstractmethod
    def header_text(self, context: bpy.types.Context) -> str:
        """The header's text during the drag."""


class PLATEWRIGHT_GT_up(_Handle, bpy.types.Gizmo):
    """Drag to hang the part another way: the arrow is up in the bath"""

    bl_idname = "PLATEWRIGHT_GT_up"
    title = "Hanging Direction"

    def place(self, context: bpy.types.Context) -> Vector | None:
        record, up = overlay_setup.asked(context), self.value(context)
        if record is None or not any(up):
            return None
        return overlay.carried(context) @ Vector(overlay_setup.arrow(record, np.array(up))[1].tolist())

    def value(self, context: bpy.types.Context) -> Any:
        return tuple(settings.of(context.scene).part.up)

    def put(self, context: bpy.types.Context, value: Any) -> None:
        settings.of(context.scene).part.up = value

    def dragged(self, context: bpy.types.Context, origin: Vector, way: Vector) -> None:
        record, tip = overlay_setup.asked(context), self.place(context)
        if record is None or tip is None:
            return
        carried = overlay.carried(context)
        center = carried @ Vector(record.study.surface.bounds.mean(axis=0).tolist())
        up = carried.to_3x3().inverted() @ on_sphere(origin, way, center, tip)
        self.put(context, tuple(up.normalized()))

    def header_text(self, context: bpy.types.Context) -> str:
        across, deep, high = (f"{length:.2f}" for length in self.value(context))
        return filled("Up in the bath: ({across}, {deep}, {high})", across=across, deep=deep, high=high)


class PLATEWRIGHT_GT_level(_Handle, bpy.types.Gizmo):
    """Drag to fill the tank higher or lower"""

    bl_idname = "PLATEWRIGHT_GT_level"
    title = "Liquid Level"

    def place(self, context: bpy.types.Context) -> Vector | None:
        sheet = overlay_tank.level(context.scene) if overlay_setup.asked(context) is not None else None
        return None if sheet is None else Vector((0.5 * (sheet[0] + sheet[-1])).tolist())

    def value(self, context: bpy.types.Context) -> Any:
        return settings.of(context.scene).tank.level

    def put(self, context: bpy.types.Context, value: Any) -> None:
        settings.of(context.scene).tank.level = value

    def dragged(self, context: bpy.types.Context, origin: Vector, way: Vector) -> None:
        tank, place = roles.tank(context.scene), self.place(context)
        if tank is None or place is None:
            return
        inside = roles.inside(tank, context.scene)
        axis = Vector(inside.turn[2].tolist()) * (MM / meters_per_unit(context.scene))  # of a millimeter
        more = along_line(origin, way, place, axis)
        if np.isfinite(more):
            self.put(context, float(np.clip(self.value(context) + more, 1.0, inside.size_mm()[2])))

    def header_text(self, context: bpy.types.Context) -> str:
        return filled("Liquid level: {depth}", depth=figure(self.value(context), "mm", digits=3))


class PLATEWRIGHT_GGT_setup(bpy.types.GizmoGroup):
    """The handles of the setup, where it is shown"""

    bl_idname = "PLATEWRIGHT_GGT_setup"
    bl_label = "Plating Setup"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options = {"3D", "PERSISTENT", "SHOW_MODAL_ALL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.mode == "OBJECT" and overlay_setup.asked(context) is not None

    def setup(self, _context: bpy.types.Context) -> None:
        """Make the two handles."""
        for name, ink in ((PLATEWRIGHT_GT_up.bl_idname, UP_INK), (PLATEWRIGHT_GT_level.bl_idname, LEVEL_INK)):
            handle = self.gizmos.new(name)
            handle.color, handle.alpha = ink, 0.9
            handle.color_highlight, handle.alpha_highlight = BRIGHT, 1.0

    def draw_prepare(self, context: bpy.types.Context) -> None:
        """Put each where its setting stands now."""
        for handle in self.gizmos:
            where = handle.place(context)
            handle.hide = where is None
            if where is not None:
                handle.matrix_basis = Matrix.Translation(where)


CLASSES = (PLATEWRIGHT_GT_up, PLATEWRIGHT_GT_level, PLATEWRIGHT_GGT_setup)
