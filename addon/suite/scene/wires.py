"""Wires as empties on the part: made on a face, kept on the surface while the user drags them."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...engine.mesh.surface import Surface
from ...engine.units import MM
from . import roles, shape
from .capture import Capture, meters_per_unit

SHOWN = 0.15  # of the part's size: length of the arrow


@dataclass(frozen=True, eq=False)
class Contact:
    """Where a wire is to touch the part. face : of the surface; point : (3,) scene units; pad : m, diameter"""

    face: int
    point: NDArray[np.float64]
    pad: float


def place(context: bpy.types.Context, capture: Capture, surface: Surface, contact: Contact) -> bpy.types.Object:
    """A wire on a face of the part.

    It is the child of the object that it touches, and a constraint holds it to that object's surface.
    """
    o = bpy.data.objects.new("Wire", None)
    o.platewright.role, o.platewright.pad = roles.WIRE, contact.pad / MM
    o.empty_display_type, o.empty_display_size = "SINGLE_ARROW", SHOWN * surface.size / meters_per_unit(context.scene)
    context.scene.collection.objects.link(o)
    o.location, o.rotation_mode = contact.point.tolist(), "QUATERNION"
    o.rotation_quaternion = Vector(surface.normal[contact.face].tolist()).to_track_quat("Z", "Y")
    touched = _touched(context, capture, contact.face)
    if touched is not None:
        o.parent, o.matrix_parent_inverse = touched, touched.matrix_world.inverted()
        hold(o, touched)
    context.view_layer.update()
    return o


def hold(o: bpy.types.Object, touched: bpy.types.Object, along: bool = True) -> None:
    """Keep an object on another's surface while the user drags it. along : turned as the surface is"""
    if touched.type == "MESH" and not touched.is_instancer:
        held = o.constraints.new("SHRINKWRAP")
        held.name, held.target, held.shrinkwrap_type = "On the part", touched, "NEAREST_SURFACE"
        if along:
            held.use_track_normal, held.track_axis = True, "TRACK_Z"


def remove_all(scene: bpy.types.Scene) -> None:
    """Take all wires out of the scene."""
    for o in [o for o in scene.objects if roles.of(o) == roles.WIRE]:
        bpy.data.objects.remove(o)


def _touched(context: bpy.types.Context, capture: Capture, face: int) -> bpy.types.Object | None:
    """The object of the scene that a triangle of the part came from."""
    piece = next(piece for piece in capture.pieces if piece.start <= face < piece.stop)
    return shape.by_id(context.view_layer).get(piece.session)
