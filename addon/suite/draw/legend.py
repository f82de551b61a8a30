"""The legend of a map in the viewport: histogram over the ramp, round numbers and words below it."""

from __future__ import annotations

import re
from typing import Any

import blf
import bpy
import gpu
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from gpu_extras.batch import batch_for_shader
from mathutils import Vector
from numpy.typing import ArrayLike, NDArray

from ...engine import color
from ..figures import NO_BREAK, unit_text, unparted
from ..language import localized
from .maps import Drawing

WIDTH, BAR = 250, 12  # of the ramp, in points of the interface
MIN_WIDTH, NARROW = 90, 180  # points of a ramp: the narrowest that is drawn, and below which it has fewer numbers
BARS, EDGE = 40, 12  # the histogram's height, the margin
HEIGHT = 150  # points of a legend with a title of two lines
TEXT, SMALL_TEXT = 12, 11
PAPER, INK, FAINT = (0.30, 0.30, 0.31, 0.95), (0.97, 0.97, 0.97, 1.0), (0.80, 0.80, 0.80, 1.0)
ALERT = (1.0, 0.78, 0.35, 1.0)
STALE = "Out of date: the part or its settings have changed"
FONT = 0
LEADER, LINE = 28, 20  # points: how far a label stands off its place; between two labels


def draw(drawing: Drawing, left: float, bottom: float, size: float, note: str, wide: float = WIDTH) -> None:
    """With its lower left corner at (left, bottom) pixels of the region; `size` is the interface's scale.

    note : above the title, e.g. that the map is stale; wide : width of the ramp in points; too narrow a ramp is not
    drawn
    """
    if wide < MIN_WIDTH:
        return
    line = 17 * size
    bars = BARS * size if len(drawing.shares) else 0.0
    title = ", ".join(filter(None, (localized(drawing.map.title), localized(unit_text(drawing.map.unit)))))
    head = [(line, SMALL_TEXT, ALERT) for line in wrapped(localized(note), SMALL_TEXT * size, wide * size)]
    head += [(line, TEXT, INK) for line in wrapped(title, TEXT * size, wide * size)]
    height = 2 * EDGE * size + 2 * line + BAR * size + bars + len(head) * line
    rectangle(left, bottom, (wide + 2 * EDGE) * size, height, PAPER)
    x, y = left + EDGE * size, bottom + EDGE * size
    low, high = map(localized, drawing.map.ends)
    small = fitting(f"{low}  {high}", SMALL_TEXT, wide * size, size)
    words(low, x, y, size, small, FAINT)
    words(high, x + wide * size, y, size, small, FAINT, align=1.0)
    y += line
    _ticks(drawing, x, y, size, wide)
    y += line
    _ramp(drawing, x, y, size, wide)
    y += BAR * size + bars + 0.35 * line
    for text, points, ink in reversed(head):
        words(text, x, y, size, fitting(text, points, wide * size, size), ink)
        y += line


def corner(area: bpy.types.Area, size: float) -> tuple[float, float]:
    """Where a legend stands in a viewport: left and bottom in pixels, clear of the other regions."""
    others = {r.type: r for r in area.regions if r.width > 1}
    left = 20 * size + (others["TOOLS"].width if "TOOLS" in others else 0)
    return left, 24 * size + (others["HUD"].height if "HUD" in others else 0)


def room(area: bpy.types.Area, left: float, size: float) -> float:
    """Width in points that a ramp can have from `left` pixels on, clear of the sidebar."""
    return min(WIDTH, (right_edge(area) - left) / size - 3 * EDGE)


def right_edge(area: bpy.types.Area) -> float:
    """Pixels from a viewport's left edge to its sidebar, or to its right edge where there is none."""
    widths = {r.type: r.width for r in area.regions if r.width > 1}
    return widths.get("WINDOW", 0) - widths.get("UI", 0)


def _top_edge(area: bpy.types.Area) -> float:
    """Pixels from a viewport's lower edge to the headers at its upper one."""
    window = next(r for r in area.regions if r.type == "WINDOW")
    heads = [r for r in area.regions if r.type in ("HEADER", "TOOL_HEADER") and r.alignment == "TOP"]
    return window.height - sum(r.height for r in heads if r.height > 1)


def _ramp(drawing: Drawing, x: float, y: float, size: float, wide: float) -> None:
    """The ramp, and over it the share of the plated area that has each color."""
    steps = np.linspace(0.0, 1.0, 129)
    strips(x + wide * size * steps, y, np.full(128, BAR * size), drawing.steps(128))
    bins = len(drawing.shares)
    if not bins:
        return
    tallest = max(float(drawing.shares.max()), 1e-12)
    heights = BARS * size * drawing.shares / tallest
    edges = x + wide * size * np.arange(bins + 1) / bins
    strips(edges, y + (BAR + 2) * size, heights, drawing.steps(bins))


def _ticks(drawing: Drawing, x: float, y: float, size: float, wide: float) -> None:
    ticks = [(share, localized(text)) for share, text in drawing.ticks(5 if wide > NARROW else 3)]
    most = wide * size / max(len(ticks), 1)  # of the words below a ramp of kinds, which stand side by side
    for share, text in ticks:
        points = fitting(text, SMALL_TEXT, most, size) if drawing.map.names else SMALL_TEXT
        half, at = 0.5 * width(text, points * size), wide * size * share
        at = min(max(at, half - EDGE * size), (wide + EDGE) * size - half)  # one at an end stays on the ground
        words(text, x + at, y + 2 * size, size, points, INK, align=0.5)


def words(
    text: str,
    x: float,
    y: float,
    size: float,
    points: float = SMALL_TEXT,
    ink: tuple[float, ...] = INK,
    align: float = 0.0,
) -> None:
    """Text with a shadow; align 0 starts, 0.5 centres and 1 ends it at x."""
    start = x - align * width(text, points * size)
    blf.enable(FONT, blf.SHADOW)
    blf.shadow(FONT, 3, 0.0, 0.0, 0.0, 0.9)
    blf.color(FONT, *ink)
    blf.position(FONT, start, y, 0)
    blf.draw(FONT, text)
    blf.disable(FONT, blf.SHADOW)


def label(text: str, x: float, y: float, size: float) -> None:
    """Text on a ground of its own, to be read over anything."""
    rectangle(x - 3 * size, y - 4 * size, width(text, SMALL_TEXT * size) + 6 * size, 16 * size, PAPER)
    words(text, x, y, size)


def labels(context: bpy.types.Context, places: list[tuple[str, Vector]], size: float) -> None:
    """Texts beside places of the scene, each with a line that leads to its place; none covers another, or goes on below
    the sidebar; one at the upper edge stands below the headers."""
    labels = [(location_3d_to_region_2d(context.region, context.region_data, place), text) for text, place in places]
    seen = sorted(
        ((spot, text) for spot, text in labels if spot is not None), key=lambda mark: (mark[0][1], mark[0][0])
    )
    floor, right, top = -np.inf, right_edge(context.area) - EDGE * size, _top_edge(context.area) - LINE * size
    for spot, text in seen:
        x = min(spot[0] + LEADER * size, right - width(localized(text), SMALL_TEXT * size))
        y = spot[1] + 0.5 * LEADER * size
        y = max(min(y, top) if spot[1] < context.region.height else y, floor)
        floor = y + LINE * size
        ends = np.array([(spot[0], spot[1], 0.0), (x - 3 * size, y + 4 * size, 0.0)])
        outline(ends, (*FAINT[:3], 0.9), 1.2 * size)
        label(localized(text), x, y, size)


def width(text: str, points: float) -> float:
    """Pixels that a text takes at a size in pixels."""
    measure: Any = blf.dimensions
    blf.size(FONT, points)
    return measure(FONT, text)[0]


def wrapped(text: str, points: float, room: float) -> list[str]:
    """The lines of a text at a size in pixels, none wider than `room` pixels but where a single word is, or a number
    with its unit; none of ""."""
    lines: list[str] = []
    for word in re.split(r"[ \n]+", unparted(text.strip())) if text.strip() else ():
        word = word.replace(NO_BREAK, " ")
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, points) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def fitting(text: str, points: float, room: float, size: float) -> float:
    """The largest font size up to `points` at which a text is no wider than `room` pixels. size : the interface's
    scale"""
    return points * min(1.0, room / max(width(text, points * size), 1.0))


def canvas() -> Any:
    """Width and height in pixels of what is drawn on."""
    read: Any = gpu.state.viewport_get
    return read()[2:]


def outline(points: NDArray[np.float64], ink: tuple[float, ...], width: float) -> None:
    """A line through points (n, 3)."""
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    shader.uniform_float("viewportSize", canvas())
    shader.uniform_float("lineWidth", width)
    shader.uniform_float("color", ink)
    batch_for_shader(shader, "LINE_STRIP", {"pos": points.astype(np.float32)}).draw(shader)


def rectangle(x: float, y: float, width: float, height: float, ink: tuple[float, ...]) -> None:
    """A ground of one color, in pixels of the region."""
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    corners = [(x, y, 0), (x + width, y, 0), (x + width, y + height, 0), (x, y + height, 0)]
    shader.uniform_float("color", ink)
    batch_for_shader(shader, "TRIS", {"pos": corners}, indices=[(0, 1, 2), (0, 2, 3)]).draw(shader)


def strips(edges: NDArray[np.float64], y: float, heights: ArrayLike, linear: NDArray[np.float32]) -> None:
    """Upright strips side by side, each of one color (n, 3) linear."""
    heights = np.asarray(heights)
    left, right, top = edges[:-1], edges[1:], y + heights
    low = np.full(len(left), y)
    flat = [(left, low), (right, low), (right, top), (left, low), (right, top), (left, top)]
    corners = np.stack([np.stack([a, b, np.zeros(len(left))], axis=1) for a, b in flat], axis=1)
    rgba = np.ones((len(left), 6, 4), dtype=np.float32)
    rgba[..., :3] = color.encoded(linear)[:, None]
    shader = gpu.shader.from_builtin("FLAT_COLOR")
    points = corners.reshape(-1, 3).astype(np.float32)
    batch_for_shader(shader, "TRIS", {"pos": points, "color": rgba.reshape(-1, 4)}).draw(shader)
