"""Wires as empties on the part: made on a face, kept on the surface while the user drags them."""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...engine.units import MM
from .. import session, versions
from ..session import Kept
from . import roles

SHOWN = 0.15  # of the part's size: length of the arrow


def place(
    context: bpy.types.Context, kept: Kept, face: int, point: Sequence[float] | NDArray[np.float64], pad: float
) -> bpy.types.Object:
    """A wire on a face of the part. point : (3,) meters, as captured; pad : m, diameter

    It is the child of the object that it touches, and a constraint holds it to that object's surface.
    """
    surface = kept.study.surface
    assert surface is not None
    o = bpy.data.objects.new("Wire", None)
    o.platewright.role, o.platewright.pad = roles.WIRE, pad / MM
    o.empty_display_type, o.empty_display_size = "SINGLE_ARROW", SHOWN * surface.size / kept.meters
    context.scene.collection.objects.link(o)
    stands = Vector((np.asarray(point) / kept.meters + session.shift(context)).tolist())
    o.location, o.rotation_mode = stands, "QUATERNION"
    o.rotation_quaternion = Vector(surface.normal[face].tolist()).to_track_quat("Z", "Y")
    touched = _touched(context, kept, face)
    if touched is not None:
        o.parent, o.matrix_parent_inverse = touched, touched.matrix_world.inverted()
        if touched.type == "MESH" and not touched.is_instancer:
            held = o.constraints.new("SHRINKWRAP")
            held.name, held.target, held.shrinkwrap_type = "On the part", touched, "NEAREST_SURFACE"
            held.use_track_normal, held.track_axis = True, "TRACK_Z"
    context.view_layer.update()
    return o


def remove_all(scene: bpy.types.Scene) -> None:
    for o in [o for o in scene.objects if roles.of(o) == roles.WIRE]:
        bpy.data.objects.remove(o)


def _touched(context: bpy.types.Context, kept: Kept, face: int) -> bpy.types.Object | None:
    """The object of the scene that a triangle of the part came from."""
    piece = next(piece for piece in kept.capture.pieces if piece.start <= face < piece.stop)
    return next((o for o in session.objects(context) if versions.session_id(o) == piece.session), None)
