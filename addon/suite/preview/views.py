"""The viewports while a map is shown: solid shading in the colors of the attribute, and back as it was.

Shading belongs to the window and is no part of undo, so what is shown follows the scene's own note of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
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
}


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
            if getattr(space.shading, key) == OURS[key]:
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
