"""The colors of a map on the part in the viewport, its legend, and the outlines, hatching and marks.

The draw handlers hold copied arrays and nothing of the scene's; they exist only while a map is shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from .. import handlers, versions
from ..scene import viewing
from ..scene.capture import Piece, meters_per_unit
from ..session import State, session
from . import coloring, legend
from .coloring import Coloring
from .maps import Drawing, Mark, Segments

INK, PAPER = (0.02, 0.02, 0.02, 1.0), (0.97, 0.97, 0.97, 1.0)
NEARER = 1e-3  # of the view distance: offset of colors and lines in front of their faces
MAX_DRAWN_MARKS = 12
BODIES_OF = ("gas", "drainage")  # what can be drawn as the volumes that it fills


@dataclass(eq=False)
class _Shown:
    """A map on the part.

    base : as the study has it; drawing : between the limits that are set; colors : of it, each with its object's id
    """

    base: Drawing
    pieces: tuple[Piece, ...]
    faces: NDArray[np.int32] | None  # the place that is looked at
    note: str  # in the legend, in place of whether the map is stale
    inside: bool  # the place lies inside the part: its walls turn translucent
    drawing: Drawing
    colors: tuple[tuple[int, Coloring], ...] = ()
    handles: list[Any] = field(default_factory=list)
    batches: dict[str, Any] = field(default_factory=dict)

    def between(self, limits: tuple[float, float]) -> None:
        """Set the limits of the ramp."""
        if self.colors and limits == (self.drawing.low, self.drawing.high):
            return
        self.drawing = replace(self.base, low=limits[0], high=limits[1])
        self.colors = tuple(
            (piece.session, coloring.of(self.drawing, slice(piece.start, piece.stop), self.faces))
            for piece in self.pieces
        )


@dataclass(eq=False)
class Overlays(State):
    """The map that is drawn over the viewports, or none."""

    shown: list[_Shown] = field(default_factory=list)

    def close(self) -> None:
        """Stop drawing."""
        clear()


def show(drawing: Drawing, pieces: tuple[Piece, ...], note: str = "", place: NDArray[np.int32] | None = None) -> None:
    """Draw a map's colors, legend, lines and marks in every 3D viewport, in place of any other's.

    pieces : which triangles are whose; place : faces that lie inside the part, so that its walls turn translucent
    """
    clear()
    faces = np.flatnonzero(drawing.values > 0) if place is None and drawing.map.analysis in BODIES_OF else place
    shown = _Shown(drawing, pieces, faces, note, place is not None, drawing)
    shown.between(limits(bpy.context, drawing))
    shown.handles.append(handlers.draw(_draw_lines, handlers.VIEW, shown))
    shown.handles.append(handlers.draw(_draw_words, handlers.PIXELS, shown))
    session.state(Overlays).shown.append(shown)


def limits(context: bpy.types.Context, drawing: Drawing) -> tuple[float, float]:
    """The limits of the ramp: as set by the user, or those of the map."""
    chosen = viewing.of(context)
    if chosen.own_limits and not drawing.map.fixed and chosen.low < chosen.high:
        return chosen.low, chosen.high
    return drawing.low, drawing.high


def tell(note: str) -> None:
    """Set the note of the legend that is shown."""
    for shown in session.state(Overlays).shown:
        shown.note = note


def clear() -> None:
    """Stop drawing the map."""
    shown = session.state(Overlays).shown
    while shown:
        for handle in shown.pop().handles:
            handlers.undraw(handle)


def colors(context: bpy.types.Context) -> list[tuple[Coloring, Matrix]]:
    """The colorings that are shown now, each with the matrix from its meters to the view."""
    record = session.find(context)
    colorings: list[tuple[Coloring, Matrix]] = []
    for shown in session.state(Overlays).shown:
        if record is None or record.reshaped or not _belongs(context, shown):
            continue
        shown.between(limits(context, shown.base))
        objects = session.objects(context)
        stood = dict(zip(record.snapshot.identity, record.snapshot.stood, strict=True))
        for o in objects:
            if o.mode != "OBJECT" or not (o.visible_get() and o.visible_in_viewport_get(context.space_data)):
                continue
            identity = versions.session_id(o)
            move = Matrix(session.moved(o, stood[identity]).tolist())
            place = context.region_data.view_matrix @ move @ Matrix.Scale(1.0 / meters_per_unit(context.scene), 4)
            colorings.extend((colored, place) for key, colored in shown.colors if key == identity)
    return colorings


def marks(context: bpy.types.Context) -> list[tuple[str, Vector]]:
    """The marks of the map that is shown, at their places in the scene now."""
    overlays = [overlay for overlay in session.state(Overlays).shown if _belongs(context, overlay)]
    return [
        (mark.text, _stands(context, mark)) for overlay in overlays for mark in overlay.drawing.marks[:MAX_DRAWN_MARKS]
    ]


def translucent(context: bpy.types.Context) -> bool:
    """Whether the walls of the part are drawn as glass: for a place inside, or for the gas that is shown as a body."""
    bodies = viewing.of(context).bodies
    overlays = session.state(Overlays).shown
    asked = [
        overlay for overlay in overlays if overlay.inside or (bodies and overlay.drawing.map.analysis in BODIES_OF)
    ]
    return any(colored.place.any() for overlay in asked for _, colored in overlay.colors)


def draw_colors() -> None:
    """Draw the colors of all maps that are shown over their parts, in the viewport that is drawn."""
    context = bpy.context
    with in_front(context):
        coloring.draw(colors(context), translucent(context))


def _draw_lines(shown: _Shown) -> None:
    """Hatching and outlines, hidden by what stands in front of them."""
    context = bpy.context
    if not _belongs(context, shown):
        return
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.blend_set("ALPHA")
    with gpu.matrix.push_pop():
        gpu.matrix.load_matrix(nearer(context) @ carried(context))
        pixel = context.preferences.system.pixel_size
        _lines(shown, "hatching", shown.drawing.hatching, PAPER, 1.5 * pixel)
        _lines(shown, "lines", shown.drawing.lines, PAPER, 3.0 * pixel)
    _rings(context, shown.drawing.marks[:MAX_DRAWN_MARKS], context.preferences.system.ui_scale)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _lines(shown: _Shown, name: str, segments: Segments, ink: tuple[float, ...], width: float) -> None:
    if not len(segments):
        return
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    if name not in shown.batches:
        points = np.ascontiguousarray(segments.reshape(-1, 3), dtype=np.float32)
        shown.batches[name] = batch_for_shader(shader, "LINES", {"pos": points})
    shader.uniform_float("viewportSize", legend.canvas())
    shader.uniform_float("lineWidth", width)
    shader.uniform_float("color", ink)
    shown.batches[name].draw(shader)


def carried(context: bpy.types.Context) -> Matrix:
    """From meters, as the part was captured, to where it is in the scene now."""
    return Matrix(session.moves(context)[0].tolist()) @ Matrix.Scale(1.0 / meters_per_unit(context.scene), 4)


def nearer(context: bpy.types.Context) -> Matrix:
    """The view matrix with everything slightly nearer, for what is drawn on existing faces."""
    view = context.region_data
    return Matrix.Translation((0.0, 0.0, NEARER * view.view_distance)) @ view.view_matrix


@contextmanager
def in_front(context: bpy.types.Context) -> Iterator[None]:
    """Within it, drawing wins the depth test against the surface it lies on, at the very same pixels.

    If it were scaled up instead, pixels of the far side would now and then show along a silhouette.
    """
    with gpu.matrix.push_pop_projection():
        whole: Any = gpu.matrix.get_projection_matrix()
        gpu.matrix.load_projection_matrix(pulled(whole, context.region_data.view_distance))
        yield


def pulled(projection: Matrix, distance: float) -> Matrix:
    """A projection with depth shifted nearer, by NEARER of the distance."""
    depth, scale = projection[2], projection[3]
    a, b, c, d = depth.z, depth.w, scale.z, scale.w
    far, near = ((b - a * depth) / (d - c * depth) for depth in (distance, (1.0 - NEARER) * distance))
    nearer = projection.copy()
    nearer[2] = depth - (far - near) * scale
    return nearer


def _belongs(context: bpy.types.Context, shown: _Shown) -> bool:
    """Whether the scene still shows this map and its part still exists."""
    return viewing.of(context).shown == shown.drawing.map.name and session.find(context) is not None


def _draw_words(shown: _Shown) -> None:
    """The words at the marks, and the legend."""
    context = bpy.context
    if not _belongs(context, shown):
        return
    size = context.preferences.system.ui_scale
    gpu.state.blend_set("ALPHA")
    if not viewing.of(context).legend:
        gpu.state.blend_set("NONE")
        return
    record = session.find(context)
    stale = not shown.note and record is not None and shown.drawing.map.analysis in record.stale(context.scene)
    left, bottom = legend.corner(context.area, size)
    wide = legend.room(context.area, left, size)
    legend.draw(shown.drawing, left, bottom, size, legend.STALE if stale else shown.note, wide)
    gpu.state.blend_set("NONE")


def _stands(context: bpy.types.Context, mark: Mark) -> Vector:
    """Where a mark is in the scene now."""
    return carried(context) @ Vector(mark.point.tolist())


def _rings(context: bpy.types.Context, marks: tuple[Mark, ...], size: float) -> None:
    """A ring at each mark, facing the viewer; faint where it is behind the part."""
    view, height = context.region_data, context.region.height
    turn = np.linspace(0, 2 * np.pi, 25)
    circle = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    with gpu.matrix.push_pop():
        gpu.matrix.load_identity()
        for mark in marks:
            middle = view.view_matrix @ _stands(context, mark)
            depth = -middle.z if view.is_perspective else 1.0
            radius = 5 * size * 2 * depth / (view.window_matrix[1][1] * height)
            ring = np.array(middle) * (1 - NEARER) + radius * circle
            gpu.state.depth_test_set("GREATER")
            legend.outline(ring, (*INK[:3], 0.4), 2 * size)
            gpu.state.depth_test_set("LESS_EQUAL")
            legend.outline(ring, INK, 4 * size)
            legend.outline(ring, PAPER, 1.5 * size)
