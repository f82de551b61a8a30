"""One click for another anode: a plate at the 3D cursor."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Matrix

from ...engine.reporting.filled import filled
from ...engine.tank.body import Role, plate
from ...engine.units import MM
from ..draw.rows import inputs
from ..language import localized
from ..scene import roles, scene_units
from ..scene.capture import meters_per_unit
from .measure import in_object_mode
from .tank import standing

UPRIGHT = (0.0, -1.0, 0.0)  # the way that it faces


class PLATEWRIGHT_OT_anode(bpy.types.Operator):
    """Add an anode: an upright plate at the 3D cursor, which you can move, rotate and scale"""

    bl_idname = "platewright.anode"
    bl_label = "Add Anode"
    bl_options = {"REGISTER", "UNDO"}

    width: bpy.props.FloatProperty(name="Width (mm)", description="Width of the plate", default=80.0, min=1.0, max=1e4)
    height: bpy.props.FloatProperty(
        name="Height (mm)", description="Height of the plate", default=120.0, min=1.0, max=1e4
    )
    width_in_scene_units: scene_units.twin("width", "mm", 0, "Width", "Width of the plate")
    height_in_scene_units: scene_units.twin("height", "mm", 0, "Height", "Height of the plate")

    def draw(self, _context: bpy.types.Context) -> None:
        inputs(self.layout, self.properties, "width", "height")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return in_object_mode(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene, units = context.scene, 1.0 / meters_per_unit(context.scene)
        body = plate("Anode", Role.ANODE, np.zeros(3), np.array(UPRIGHT), self.width * MM, self.height * MM)
        tank = roles.tank(scene)
        into = tank.users_collection[0] if tank is not None and tank.users_collection else scene.collection
        o = standing(into, "Anode", body.points * units, body.triangles, roles.ANODE)
        o.matrix_world = Matrix.Translation(scene.cursor.location)
        o.display_type = "WIRE"
        if tank is not None:
            o.parent, o.matrix_parent_inverse = tank, tank.matrix_world.inverted()
        self.report(
            {"INFO"},
            localized(
                filled("{name}: {width} x {height} mm", name=o.name, width=f"{self.width:g}", height=f"{self.height:g}")
            ),
        )
        return {"FINISHED"}


CLASSES = (PLATEWRIGHT_OT_anode,)
