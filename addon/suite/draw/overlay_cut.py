"""The cut through the tank in the viewport: the plane in the colors of the potential, its lines and its legend."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix
from numpy.typing import NDArray

from ...engine import color
from ...engine.field.cut import Cut
from ...engine.settings.job import Job
from ...engine.units import MM
from ..scene import roles, settings, stage, viewing
from ..scene.capture import meters_per_unit
from ..session import State, StudyRecord, session
from . import cuts, legend, overlay

CLEAR = 0.82
EQUAL, CURRENT, RIM = (0.97, 0.97, 0.97, 0.75), (0.03, 0.03, 0.05, 0.95), (0.97, 0.97, 0.97, 0.6)
GAP = 12  # points between two legends


@dataclass(eq=False)
class _Ready(State):
    batches: dict[str, dict[str, Any]] = field(default_factory=dict)  # key of the cut that is drawn -> its batches


def shown_cut(context: bpy.types.Context) -> tuple[StudyRecord, Cut] | None:
    """The cut that is to be drawn."""
    record = session.find(context)
    if record is None or not viewing.of(context).cut_shown or record.study.results.cut is None:
        return None
    return record, record.study.results.cut


def placed(context: bpy.types.Context, cut: Cut, job: Job) -> Matrix:
    """The matrix from the plane's axes, meters, to the scene: placed with the tank, otherwise with the part.

    job : what the cut was made for; a part that is turned to its way up in the tank takes the plane with it
    """
    plane, tank = cut.plane, roles.tank(context.scene)
    flat = np.eye(4)
    flat[:3] = np.stack([plane.across, plane.up, plane.normal, plane.point], axis=1)
    frame = roles.inside(tank, context.scene) if tank is not None else None
    if frame is None or not stage.stands_upright(job, frame):
        back = np.eye(4)
        back[:3, :3], back[:3, 3] = cut.pose.turn.T, -cut.pose.turn.T @ cut.pose.shift
        return overlay.carried(context) @ Matrix((back @ flat).tolist())
    to = np.eye(4)
    to[:3, :3], to[:3, 3] = frame.turn.T, frame.origin
    return Matrix.Scale(1.0 / meters_per_unit(context.scene), 4) @ Matrix((to @ flat).tolist())


def draw() -> None:
    context = bpy.context
    shown = shown_cut(context)
    if shown is None or not context.space_data.overlay.show_overlays:
        return
    record, cut = shown
    place, pixel = placed(context, cut, record.study.job), context.preferences.system.pixel_size
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.depth_mask_set(False)  # translucent things write no depth, so they hide nothing drawn later
    gpu.state.blend_set("ALPHA")
    batches = _batches(record.study.keys["cut"], cut)
    with gpu.matrix.push_pop():
        gpu.matrix.load_matrix(context.region_data.view_matrix @ place)
        batches["plane"].draw(gpu.shader.from_builtin("SMOOTH_COLOR"))
        gpu.matrix.load_matrix(overlay.nearer(context) @ place)
        for name, ink, width in (("equal", EQUAL, 1.0), ("current", CURRENT, 2.2)):
            shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
            shader.uniform_float("viewportSize", legend.canvas())
            shader.uniform_float("lineWidth", width * pixel)
            shader.uniform_float("color", ink)
            batches[name].draw(shader)
        asked = settings.of(context.scene).cut
        if asked.way == cut.way:  # where the next cut will be, while the slider is drawn
            off = asked.offset * MM - cut.offset
            legend.outline(_rim(cut) + (0.0, 0.0, off), RIM, 1.5 * pixel)
    gpu.state.depth_mask_set(True)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _rim(cut: Cut) -> NDArray[np.float64]:
    (left, right), (low, high) = cut.grid.across[[0, -1]], cut.grid.up[[0, -1]]
    return np.array([(x, y, 0.0) for x, y in ((left, low), (right, low), (right, high), (left, high), (left, low))])


def _batches(key: str, cut: Cut) -> dict[str, Any]:
    """The batches of a cut, ready for the graphics card."""
    ready = session.state(_Ready).batches
    if key not in ready:
        places, corners = cuts.cells(cut)
        drawn = cuts.drawing(cut)
        rgba = np.full((len(places), 4), CLEAR, dtype=np.float32)
        rgba[:, :3] = color.encoded(drawn.colored(drawn.values))
        flat = np.column_stack([places, np.zeros(len(places))]).astype(np.float32)
        smooth, line = (gpu.shader.from_builtin(name) for name in ("SMOOTH_COLOR", "POLYLINE_UNIFORM_COLOR"))
        ready.clear()
        ready[key] = {"plane": batch_for_shader(smooth, "TRIS", {"pos": flat, "color": rgba}, indices=corners)}
        for name, lines in (("equal", cut.equipotentials), ("current", cuts.segments(cut))):
            ends = lines.reshape(-1, 2)
            points = np.column_stack([ends, np.zeros(len(ends))]).astype(np.float32)
            ready[key][name] = batch_for_shader(line, "LINES", {"pos": points})
    return ready[key]


def draw_words() -> None:
    """Write the figures of the cut beside it, in pixels of the region."""
    context = bpy.context
    shown = shown_cut(context)
    if shown is None or not context.space_data.overlay.show_overlays:
        return
    record, cut = shown
    size = context.preferences.system.ui_scale
    left, bottom = legend.corner(context.area, size)
    if viewing.of(context).shown:
        left += (legend.WIDTH + 2 * legend.EDGE + GAP) * size
    gpu.state.blend_set("ALPHA")
    stale = "cut" in record.stale(context.scene)
    wide = legend.room(context.area, left, size)
    legend.draw(cuts.drawing(cut), left, bottom, size, legend.STALE if stale else "", wide)
    gpu.state.blend_set("NONE")
