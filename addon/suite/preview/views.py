"""The viewports while a map is shown: solid shading in the colors of the attribute, and back as it was.

Shading belongs to the window and is no part of undo, so what is shown follows the scene's own note of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...engine.mesh.surface import Surface
from ..draw import maps, overlay
from ..draw.maps import Drawing
from ..scene import settings
from ..session import State, session

OURS: dict[str, Any] = {
    "type": "SOLID",
    "light": "FLAT",
    "color_type": "VERTEX",
    "show_cavity": False,
    "show_shadows": True,  # faint: they show the shape, and the colors still match the legend
    "shadow_intensity": 0.25,
    "show_xray": False,
}
AROUND = 1.6  # how far to stand off, over the extent of what is looked at
MIN_VIEWED_SHARE = 0.6  # of the part's size: so much is seen about a small place, to know where it is
CLEAR_OF_PART = 0.8  # of the part's size: how far the eye stands off the box round it
HIDDEN = 0.05  # of a place that is seen: below it, what hides it is thinned out
XRAY_ALPHA = 0.5


@dataclass(eq=False)
class _ShadingBefore(State):
    of: dict[str, dict[str, Any]] = field(default_factory=dict)  # viewport -> its shading before ours


def enter(context: bpy.types.Context, drawing: Drawing) -> None:
    """Show the colors in every viewport, with the legend and the lines."""
    before = session.state(_ShadingBefore).of
    if not before:
        before.update(json.loads(settings.of(context.scene).view_before or "{}"))
    for name, space in _viewports(context):
        if name not in before:
            before[name] = {key: getattr(space.shading, key) for key in OURS}
        for key, value in OURS.items():
            setattr(space.shading, key, value)
    settings.of(context.scene).view_before = json.dumps(before)
    overlay.show(drawing)


def leave(context: bpy.types.Context) -> None:
    """Give every viewport its shading back, as far as it still is what we set."""
    before = session.state(_ShadingBefore).of
    before.update(json.loads(settings.of(context.scene).view_before or "{}"))
    for name, space in _viewports(context):
        for key, value in reversed(before.get(name, {}).items()):
            if getattr(space.shading, key) == OURS[key] or key == "show_xray":
                setattr(space.shading, key, value)
    before.clear()
    if settings.of(context.scene).view_before:
        settings.of(context.scene).view_before = ""
    overlay.clear()


def look(
    space: bpy.types.SpaceView3D, surface: Surface, faces: NDArray[np.int32], scale: float, shift: NDArray[np.float64]
) -> None:
    """Look at some faces from their outer side. scale : scene units in a meter; shift : (3,) scene units, added"""
    corners = surface.corners[faces].reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    outward = surface.normal[faces].T @ surface.area[faces]
    region = space.region_3d
    region.view_location = (scale * (low + high) / 2 + shift).tolist()
    region.view_distance = scale * max(1.6 * float(np.linalg.norm(high - low)), 0.15 * surface.size)
    if np.linalg.norm(outward) > 0.1 * surface.area[faces].sum():
        region.view_rotation = Vector(outward.tolist()).to_track_quat("Z", "Y")


def look_along(
    space: bpy.types.SpaceView3D,
    surface: Surface,
    faces: NDArray[np.int32],
    way: NDArray[np.float64],
    scale: float,
    shift: NDArray[np.float64],
) -> None:
    """Look at some faces from a direction, with what is about them. way : (3,) from the faces to the eye; the rest as
    for `look`"""
    corners = surface.corners[faces].reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = (low + high) / 2
    box = np.array(
        [[x, y, z] for x in surface.bounds[:, 0] for y in surface.bounds[:, 1] for z in surface.bounds[:, 2]]
    )
    outside = float(((box - middle) @ way).max()) + CLEAR_OF_PART * surface.size  # the eye does not stand in a hollow
    extent = max(AROUND * float(np.linalg.norm(high - low)), MIN_VIEWED_SHARE * surface.size, outside)
    _stand(space, scale * middle + shift, scale * extent)
    space.region_3d.view_rotation = Vector(way.tolist()).to_track_quat("Z", "Y")


def look_at_whole(space: bpy.types.SpaceView3D, surface: Surface, scale: float, shift: NDArray[np.float64]) -> None:
    """Look at the whole part, from where it is looked at now."""
    low, high = surface.bounds
    _stand(space, scale * (low + high) / 2 + shift, AROUND * scale * surface.size)


def look_at_objects(space: bpy.types.SpaceView3D, objects: Iterable[bpy.types.Object]) -> None:
    """Look at objects as they stand, from where they are looked at now."""
    corners = np.array([(o.matrix_world @ Vector(c))[:] for o in objects for c in o.bound_box])
    if len(corners):
        low, high = corners.min(axis=0), corners.max(axis=0)
        _stand(space, (low + high) / 2, AROUND * float(np.linalg.norm(high - low)))


def _stand(space: bpy.types.SpaceView3D, middle: NDArray[np.float64], distance: float) -> None:
    """Stand off a point of the scene by a distance, with clipping that leaves the part to be seen."""
    region = space.region_3d
    if region.view_perspective == "CAMERA":
        region.view_perspective = "PERSP"
    region.view_location, region.view_distance = middle.tolist(), distance
    space.clip_start = min(space.clip_start, 0.01 * distance)
    space.clip_end = max(space.clip_end, 100.0 * distance)


def see_through(space: bpy.types.SpaceView3D, on: bool) -> None:
    """Thin the walls out that hide a place, or no longer."""
    space.shading.show_xray, space.shading.xray_alpha = on, XRAY_ALPHA


def _viewports(context: bpy.types.Context) -> Iterator[tuple[str, bpy.types.SpaceView3D]]:
    """Every 3D viewport that is open, under a name that outlives a save."""
    for window in context.window_manager.windows:
        for number, area in enumerate(window.screen.areas):
            if area.type == "VIEW_3D":
                yield f"{window.screen.name} {number}", area.spaces.active


@bpy.app.handlers.persistent
def undone(*_rest: object) -> None:
    """After undo and redo: show what the scene says is shown."""
    context = bpy.context
    shown, kept = settings.of(context.scene).shown, session.find(context)
    if not shown:
        leave(context)
    elif kept is not None and maps.MAPS[shown].analysis in kept.study.results.names:
        enter(context, maps.draw(shown, kept.study))
