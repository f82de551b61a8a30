"""The roles of objects: the tank, an anode, a shield, a thief, a wire, a copy of the part on its rack. All
others may be the part.

The role is a property of the object. Objects hidden in the viewport do not count, as with the part.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine.settings.part import Wire
from ...engine.units import MM
from .. import language
from . import scene_units
from .capture import meters_per_unit

NONE = "NONE"
COPY = "COPY"  # of the part, beside it
MARK = "platewright_preview"  # on a copy and what goes with it: which way up it shows, from 1
BORE = "platewright_bore"  # on the wireframe of a hole that can be cut: as HOLE
HOLE = "platewright_hole"  # on a marker of a vent or a drain of ours: the next ones replace it
TANK, ANODE, SHIELD, THIEF, WIRE, RACKED = KINDS = ("TANK", "ANODE", "SHIELD", "THIEF", "WIRE", "RACKED")
ITEMS = [
    (NONE, "None", "Not in the tank, or the part itself", "BLANK1", 0),
    (TANK, "Tank", "The vessel: its bounding box is the inside", "MESH_CUBE", 1),
    (ANODE, "Anode", "Delivers the current; a sheet works on both sides", "MESH_PLANE", 2),
    (SHIELD, "Shield", "Insulator that keeps current away; it needs a thickness", "SNAP_FACE", 3),
    (THIEF, "Thief", "Takes current as the part does, so that edges get less", "MOD_WIREFRAME", 4),
    (WIRE, "Wire", "Where a wire is attached to the part", "PINNED", 5),
    (RACKED, "Copy of the Part", "Plated beside the part; shares its mesh", "MOD_ARRAY", 6),
]


class PLATEWRIGHT_PG_object(bpy.types.PropertyGroup):
    """Platewright's properties of an object."""

    role: bpy.props.EnumProperty(
        name="Role in Tank", description="What the object is in the tank", items=ITEMS, translation_context=language.OWN
    )
    pad: bpy.props.FloatProperty(
        name="Contact Size (mm)",
        description="Diameter of the contact",
        default=Wire.pad / MM,
        min=0.1,
        max=100.0,
        precision=1,
    )
    pad_in_scene_units: scene_units.twin("pad", "mm", 0, "Contact Size", "Diameter of the contact")


@dataclass(frozen=True, eq=False)
class Inside:
    """The inside of a tank. turn : (3, 3) rows are its axes in the scene; origin : (3,) middle of its floor;
    size : (3,). Meters."""

    turn: NDArray[np.float64]
    origin: NDArray[np.float64]
    size: NDArray[np.float64]

    def of(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points of the scene (..., 3), meters, in tank coordinates."""
        return (points - self.origin) @ self.turn.T

    def size_mm(self) -> list[float]:
        """Length, width and height in mm, rounded to a micrometer."""
        return np.round(self.size / MM, 3).tolist()


def of(o: bpy.types.Object | None) -> str:
    """The role of an object, or "" for none."""
    if o is not None and o.get(MARK):
        return COPY
    role = getattr(o, "platewright", None)  # the command line works without the panels' properties
    return "" if role is None or role.role == NONE else role.role


def every(scene: bpy.types.Scene, *kinds: str) -> list[bpy.types.Object]:
    """The visible objects with a role, or with one of these, by name."""
    objects = [o for o in scene.objects if of(o) in (kinds or KINDS) and o.visible_get()]
    return sorted(objects, key=lambda o: o.name_full)


def tank(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The tank; the first of them where there are several."""
    tanks = every(scene, TANK)
    return tanks[0] if tanks else None


def inside(o: bpy.types.Object, scene: bpy.types.Scene) -> Inside:
    """The box round an object along its own axes, as the inside of a tank."""
    matrix = np.array(o.matrix_world, dtype=np.float64)
    scale = np.linalg.norm(matrix[:3, :3], axis=0)
    corners = np.array([list(corner) for corner in o.bound_box])
    low, high = corners.min(axis=0), corners.max(axis=0)
    floor = np.array([*(0.5 * (low + high))[:2], low[2]])
    meters = meters_per_unit(scene)
    turn = (matrix[:3, :3] / np.where(scale > 0, scale, 1.0)).T
    return Inside(turn, meters * (matrix[:3, :3] @ floor + matrix[:3, 3]), meters * scale * (high - low))


def signature(scene: bpy.types.Scene) -> tuple[Any, ...]:
    """A signature that changes when an object in the tank is moved, renamed or gets another role."""
    return tuple(
        (o.name, o.platewright.role, o.platewright.pad, *(value for row in o.matrix_world for value in row))
        for o in every(scene)
    )


def register() -> None:
    bpy.utils.register_class(PLATEWRIGHT_PG_object)
    bpy.types.Object.platewright = bpy.props.PointerProperty(type=PLATEWRIGHT_PG_object)


def unregister() -> None:
    del bpy.types.Object.platewright
    bpy.utils.unregister_class(PLATEWRIGHT_PG_object)
