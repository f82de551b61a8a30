"""The viewports' state: a map on the part, and the view. Nothing is written to the scene."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import product

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...engine.mesh.surface import Surface
from ...engine.visibility.projected import share_of_picture
from ...engine.visibility.vantage import seen_along
from ..draw import legend, maps, overlay
from ..draw.maps import Drawing
from ..draw.regions import redraw
from ..scene import viewing
from ..scene.capture import meters_per_unit
from ..session import StudyRecord, session

AROUND = 1.6  # viewing distance over the extent of the target
MIN_VIEWED_SHARE = 0.6  # of the part's size: so much is seen about a small place, to know where it is
CLEAR_OF_PART = 0.8  # of the part's size: how far the eye stands off the box round it
MIN_COVERED_SHARE = 0.25  # of the viewport that the sidebar takes: less leaves the middle free enough
DRAWN_WITHIN = 0.1  # s
MIN_MADE_OUT_SHARE = 0.1  # of the viewport's shorter side: a smaller part is a speck
HIDDEN = 0.25  # of a place that is seen: below it, what hides it is thinned out


def show(context: bpy.types.Context, record: StudyRecord, map_name: str) -> Drawing:
    """Color the part by a map, in every viewport."""
    drawing = maps.draw(map_name, record.study)
    viewing.of(context).shown = map_name
    overlay.show(drawing, record.capture.pieces)
    redraw(context, "WINDOW", "UI")
    return drawing


def hide(context: bpy.types.Context) -> None:
    """Hide the map."""
    viewing.clear(context)
    overlay.clear()
    redraw(context, "WINDOW", "UI")


def hides(context: bpy.types.Context, record: StudyRecord, faces: NDArray[np.int32], scale: float) -> bool:
    """Whether the part itself hides some of its faces from the viewport. scale : scene units in a meter"""
    space = context.space_data
    if not isinstance(space, bpy.types.SpaceView3D) or not len(faces):
        return False
    surface, tracer = record.cache.surfaces[record.study.keys["surface"]]
    region = space.region_3d
    way = region.view_rotation @ Vector((0.0, 0.0, 1.0))
    if region.is_perspective:
        middle = scale * surface.corners[faces].mean(axis=(0, 1)) + session.shift(context)
        way = region.view_matrix.inverted().translation - Vector(middle.tolist())
    seen = seen_along(surface, tracer, faces, np.array([way.normalized()[:]]))
    return bool(seen[0] < HIDDEN)


def come_near(context: bpy.types.Context, record: StudyRecord) -> None:
    """Look at a part that has just become known, where it is a speck in the viewport, as an import at the right scale
    is. A part that can be made out, and a camera's view, are left as they are looked at."""
    space, area = context.space_data, context.area
    if bpy.app.background or not isinstance(space, bpy.types.SpaceView3D) or area is None:
        return
    region = next((region for region in area.regions if region.type == "WINDOW"), None)
    if region is None or space.region_3d.view_perspective == "CAMERA":
        return
    scale, shift = 1.0 / meters_per_unit(context.scene), session.shift(context)
    surface = record.study.surface
    matrix = np.array(space.region_3d.perspective_matrix)
    if share_of_picture(scale * _box(surface) + shift, matrix, (region.height, region.width)) < MIN_MADE_OUT_SHARE:
        look_at_whole(space, surface, scale, shift)
        keep_clear(area, space)


def stance(space: bpy.types.SpaceView3D) -> Callable[[], None]:
    """The present view, to be restored."""
    region = space.region_3d
    seen = region.view_perspective, region.view_location.copy(), region.view_rotation.copy(), region.view_distance

    def back() -> None:
        region.view_perspective, region.view_location, region.view_rotation, region.view_distance = seen

    return back


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
    reach = float(((_box(surface) - middle) @ way).max())
    outside = reach + CLEAR_OF_PART * surface.size  # keeps the eye out of hollows
    extent = max(AROUND * float(np.linalg.norm(high - low)), MIN_VIEWED_SHARE * surface.size, outside)
    _stand(space, scale * middle + shift, scale * extent)
    space.region_3d.view_rotation = Vector(way.tolist()).to_track_quat("Z", "Y")


def look_at_whole(space: bpy.types.SpaceView3D, surface: Surface, scale: float, shift: NDArray[np.float64]) -> None:
    """Look at the whole part, from where it is looked at now."""
    low, high = surface.bounds
    _stand(space, scale * (low + high) / 2 + shift, AROUND * scale * surface.size)


def keep_in_view(area: bpy.types.Area, record: StudyRecord) -> None:
    """Have a viewport that has become narrower look at the whole part, clear of sidebar and legend, once it is drawn:
    only then do its regions have their new sizes."""
    area_id = area.as_pointer()

    def frame() -> None:
        context = bpy.context
        places = (place for window in context.window_manager.windows for place in window.screen.areas)
        viewport = next((place for place in places if place.as_pointer() == area_id and place.type == "VIEW_3D"), None)
        if viewport is None or session.find(context) is not record:
            return
        space = viewport.spaces.active
        assert isinstance(space, bpy.types.SpaceView3D)
        look_at_whole(space, record.study.surface, 1.0 / meters_per_unit(context.scene), session.shift(context))
        keep_clear(viewport, space)

    bpy.app.timers.register(frame, first_interval=DRAWN_WITHIN)


def look_at_objects(space: bpy.types.SpaceView3D, objects: Iterable[bpy.types.Object]) -> None:
    """Look at objects as they stand, from where they are looked at now."""
    corners = np.array([(o.matrix_world @ Vector(c))[:] for o in objects for c in o.bound_box])
    if len(corners):
        low, high = corners.min(axis=0), corners.max(axis=0)
        _stand(space, (low + high) / 2, AROUND * float(np.linalg.norm(high - low)))


def _box(surface: Surface) -> NDArray[np.float64]:
    """(8, 3) m, the corners of the box round a part."""
    return np.array(list(product(*surface.bounds.T)))


def _stand(space: bpy.types.SpaceView3D, middle: NDArray[np.float64], distance: float) -> None:
    """Stand off a point of the scene by a distance, with clipping that leaves the part to be seen."""
    region = space.region_3d
    if region.view_perspective == "CAMERA":
        region.view_perspective = "PERSP"
    region.view_location, region.view_distance = middle.tolist(), distance
    space.clip_start = min(space.clip_start, 0.01 * distance)
    space.clip_end = max(space.clip_end, 100.0 * distance)


def keep_clear(area: bpy.types.Area, space: bpy.types.SpaceView3D) -> None:
    """Shift what is looked at out from under the sidebar and the legend, where they take much, and stand off more."""
    region = space.region_3d
    if not region.is_perspective:
        return
    right, low = _taken(area)
    region.view_distance /= max(1.0 - max(right, low), MIN_COVERED_SHARE)
    for share, way, scale in (
        (right, Vector((1.0, 0.0, 0.0)), region.window_matrix[0][0]),
        (low, Vector((0.0, -1.0, 0.0)), region.window_matrix[1][1]),
    ):
        half = region.view_distance / scale  # of what is seen at that distance
        region.view_location += region.view_rotation @ way * half * share


def _taken(area: bpy.types.Area) -> tuple[float, float]:
    """Shares of a viewport covered by the sidebar at the right and the legend below; 0 if they leave the middle
    free."""
    size = bpy.context.preferences.system.ui_scale
    shape = {region.type: (region.width, region.height) for region in area.regions if region.width > 1}
    (width, height), sidebar = shape.get("WINDOW", (1, 1)), shape.get("UI", (0, 0))[0]
    right = sidebar / width if sidebar > MIN_COVERED_SHARE * width else 0.0
    left, bottom = legend.corner(area, size)
    reach = left + (legend.room(area, left, size) + 2 * legend.EDGE) * size
    covered = viewing.of(bpy.context).legend and reach > 0.5 * (width - sidebar)
    return right, (bottom + legend.HEIGHT * size) / height if covered else 0.0
