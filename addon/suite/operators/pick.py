"""Picking faces of the part with the mouse: the face under it, and a modal operator that ends with Esc."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import Any

import bpy
import numpy as np
from bpy_extras.view3d_utils import region_2d_to_origin_3d, region_2d_to_vector_3d
from numpy.typing import ArrayLike, NDArray

from ...engine.reporting.filled import filled
from ..draw import legend
from ..draw.regions import redraw
from ..language import localized
from ..session import StudyRecord, session

AWAY = 16  # points between the mouse and its words


def face_along(record: StudyRecord, origin: ArrayLike, direction: ArrayLike) -> tuple[int, NDArray[np.float64]] | None:
    """The first of the part's triangles that a ray meets, and where; None where it misses. Meters, as captured."""
    _, tracer = record.cache.surfaces[record.study.keys["surface"]]
    start, way = np.atleast_2d(np.asarray(origin, dtype=float)), np.atleast_2d(np.asarray(direction, dtype=float))
    face, distance = tracer.first_hit(start, way)
    if face[0] < 0:
        return None
    return int(face[0]), start[0] + distance[0] * way[0] / np.linalg.norm(way[0])


class Pointing:
    """What an operator inherits that follows the mouse over the part; Esc or the right button ends it.

    It brings `words`, and `clicked` where a click does something.
    """

    bl_label: str
    report: Callable[[set[str], str], None]  # Blender's own
    help: str = "Esc: end"
    pointer: Any = "EYEDROPPER"  # the mouse's, as Blender names it
    _handle: Any = None
    _words: str = ""
    _place: tuple[Any, float, float] | None = None  # region and mouse in it

    @abstractmethod
    def words(self, record: StudyRecord, face: int) -> str:
        """What to say of a face under the mouse."""

    def clicked(
        self, context: bpy.types.Context, record: StudyRecord, face: int, point: NDArray[np.float64]
    ) -> set[str]:
        """What a click on a face does; the operator's answer."""
        return {"RUNNING_MODAL"}

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        context.window_manager.modal_handler_add(self)  # type: ignore[arg-type]  # beside an Operator
        context.workspace.status_text_set(
            localized(filled("{what}: point at the part.  {help}", what=self.bl_label, help=self.help))
        )
        add = bpy.types.SpaceView3D.draw_handler_add
        self._handle = add(self._draw, (), "WINDOW", "POST_PIXEL")
        context.window.cursor_modal_set(self.pointer)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        record = session.find(context)
        if record is None or record.moved or (event.type in ("ESC", "RIGHTMOUSE") and event.value == "PRESS"):
            self.cancel(context)
            return {"CANCELLED"}
        if event.type not in ("MOUSEMOVE", "LEFTMOUSE"):
            return {"PASS_THROUGH"}
        picked = self._under(context, event, record)
        if event.type == "MOUSEMOVE":
            self._words = self.words(record, picked[0]) if picked else ""
            redraw(context, "WINDOW")
            return {"PASS_THROUGH"}
        if event.value != "PRESS" or picked is None:
            return {"PASS_THROUGH"}
        answer = self.clicked(context, record, *picked)
        if answer != {"RUNNING_MODAL"}:
            self.cancel(context)
        return answer

    def cancel(self, context: bpy.types.Context) -> None:
        """Take words and handler away; Blender also calls this when it loads another file."""
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None
        if context.window is not None:
            context.window.cursor_modal_restore()
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        redraw(context, "WINDOW")

    def _under(
        self, context: bpy.types.Context, event: bpy.types.Event, record: StudyRecord
    ) -> tuple[int, NDArray[np.float64]] | None:
        """The face under the mouse and the place on it."""
        self._place = None
        over = _viewport(context, event.mouse_x, event.mouse_y)
        if over is None:
            return None
        region, view = over
        spot = event.mouse_x - region.x, event.mouse_y - region.y
        self._place = region, *spot
        origin = np.array(region_2d_to_origin_3d(region, view, spot)) - session.shift(context)
        return face_along(record, origin * record.meters, region_2d_to_vector_3d(region, view, spot))

    def _draw(self) -> None:
        context = bpy.context
        if self._place is None or not self._words or context.region != self._place[0]:
            return
        size = context.preferences.system.ui_scale
        _, x, y = self._place
        legend.label(localized(self._words), x + AWAY * size, y + AWAY * size, size)


def _viewport(context: bpy.types.Context, x: int, y: int) -> tuple[bpy.types.Region, bpy.types.RegionView3D] | None:
    """The viewport's region under a place of the window, unless a panel lies over it there."""
    for area in context.window.screen.areas:
        if area.type != "VIEW_3D":
            continue
        inside = [r for r in area.regions if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height]
        if [r.type for r in inside if r.type != "HUD"] == ["WINDOW"]:
            return next(r for r in inside if r.type == "WINDOW"), area.spaces.active.region_3d
    return None
