"""Several parts in the tank at once: a row of copies of the part."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ...engine.reporting.filled import filled
from ...engine.units import MM
from ..draw.rows import inputs
from ..language import localized
from ..scene import roles, scene_units
from ..scene.capture import meters_per_unit
from ..scene.roles import Inside
from ..session import StudyRecord, session
from .view import measured, record_of

APART = 1.5  # of the part's width, default spacing from middle to middle: common practice, no source


class PLATEWRIGHT_OT_rack(bpy.types.Operator):
    """Add copies of the part in a row along the tank. They share its mesh; move and rotate them as you like"""

    bl_idname = "platewright.rack"
    bl_label = "Add Rack"
    bl_options = {"REGISTER", "UNDO"}

    count: bpy.props.IntProperty(
        name="Number of Parts",
        description="How many hang in the tank, with the part itself; 1 removes the copies",
        default=3,
        min=1,
        max=24,
    )
    spacing: bpy.props.FloatProperty(
        name="Spacing (mm)",
        description="From center to center; 0: one and a half times the width",
        default=0.0,
        min=0.0,
        soft_max=1000.0,
    )
    spacing_in_scene_units: scene_units.twin(
        "spacing", "mm", 0, "Spacing", "From center to center; 0: one and a half times the width"
    )
    centre: bpy.props.BoolProperty(
        name="Center Tank",
        description="Move the tank and what stands in it, so that the row hangs in its middle",
        default=True,
    )

    def draw(self, _context: bpy.types.Context) -> None:
        inputs(self.layout, self.properties, "count", "spacing")
        self.layout.prop(self, "centre")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not measured(cls, context):
            return False
        if roles.tank(context.scene) is None:
            cls.poll_message_set(localized("Add a tank first"))
            return False
        if len(session.objects(context)) != 1:
            cls.poll_message_set(localized("Only a part of one object can have copies; join its objects"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        record, (part,) = record_of(context), session.objects(context)
        if record.moved:
            self.report(
                {"ERROR"},
                localized(
                    filled("{name}: it has changed since it was checked; press Check Again first", name=part.name)
                ),
            )
            return {"CANCELLED"}
        tank = roles.tank(context.scene)
        assert tank is not None
        inside = roles.inside(tank, context.scene)
        along = inside.turn[int(np.argmax(inside.size[:2]))]
        wide = float(np.ptp(_points(record) @ along))
        step = self.spacing * MM or APART * wide
        _clear(part, context.scene)
        session.choose(context, [part])
        steps = [(k + 1) // 2 * (1 if k % 2 else -1) for k in range(1, self.count)]
        for k in steps:
            _hang(part, Vector((k * step / record.meters * along).tolist()), context.scene)
        if self.centre and steps:
            _centre(tank, inside, np.mean([0, *steps]) * step, record, context)
        context.view_layer.update()
        return self._report_length(record, inside, along, wide + (self.count - 1) * step, step)

    def _report_length(
        self, record: StudyRecord, inside: Inside, along: NDArray[np.float64], length: float, step: float
    ) -> set[str]:
        room = float(inside.size[int(np.argmax(inside.size[:2]))])
        if length > room:
            self.report(
                {"WARNING"},
                localized(
                    filled(
                        "The row of {count} is {length} mm long, the tank {room} mm inside: hang them closer, or make"
                        " the tank longer",
                        count=self.count,
                        length=f"{length / MM:.4g}",
                        room=f"{room / MM:.4g}",
                    )
                ),
            )
        elif self.count == 1:
            self.report({"INFO"}, localized(filled("{name} hangs alone", name=record.study.part.name)))
        else:
            self.report(
                {"INFO"},
                localized(
                    filled(
                        "{count} parts in a row, {step} mm from center to center",
                        count=self.count,
                        step=f"{step / MM:.4g}",
                    )
                ),
            )
        return {"FINISHED"}


def _points(record: StudyRecord) -> NDArray[np.float64]:
    surface = record.study.surface
    return surface.points[np.unique(surface.triangles)]


def _clear(part: bpy.types.Object, scene: bpy.types.Scene) -> None:
    """Remove existing copies."""
    for o in [o for o in scene.objects if roles.of(o) == roles.RACKED and o.data == part.data]:
        bpy.data.objects.remove(o)


def _hang(part: bpy.types.Object, shift: Vector, scene: bpy.types.Scene) -> None:
    o: Any = part.copy()
    o.name, o.platewright.role = f"{part.name}, copy", roles.RACKED
    for room in part.users_collection:
        room.objects.link(o)
    o.matrix_world = Matrix.Translation(shift) @ part.matrix_world
    o.select_set(False)


def _centre(
    tank: bpy.types.Object, inside: Inside, off: float, record: StudyRecord, context: bpy.types.Context
) -> None:
    """Shift the tank along its length so that the middle of the row is its own. off : m of that middle from the
    part's"""
    axis = int(np.argmax(inside.size[:2]))
    low, high = (getattr(_points(record) @ inside.turn[axis], name)() for name in ("min", "max"))
    middle = 0.5 * (low + high) + float(session.shift(context) @ inside.turn[axis]) * record.meters + off
    gap = (middle - float(inside.origin @ inside.turn[axis])) / meters_per_unit(context.scene)
    tank.matrix_world = Matrix.Translation((gap * inside.turn[axis]).tolist()) @ tank.matrix_world


CLASSES = (PLATEWRIGHT_OT_rack,)
