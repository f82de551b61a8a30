"""A page as pixels: shapes filled by the even-odd rule with smooth edges, pictures resampled."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..geometry import ragged
from .page import Box, Color, Item, Line, Page, Picture

MM_PER_INCH = 25.4
SCAN_LINES_PER_PIXEL = 4  # scan lines per pixel; along a line coverage is exact
DISK_CORNERS = 64
MIN_COVER = 1e-6  # of a pixel: less has no color
FLIP_Y = np.array([1.0, -1.0])  # a font has y up

Polygon = NDArray[np.float64]


def draw(page: Page, dots_per_inch: float, clear: bool = False) -> NDArray[np.uint8]:
    """(height, width, 4) the page in RGB with alpha. clear : without its paper. Linear in pixels and in outlines."""
    scale = dots_per_inch / MM_PER_INCH
    size = round(page.height * scale), round(page.width * scale)
    canvas = np.zeros((*size, 4), dtype=np.float32)  # premultiplied colors, and alpha
    if not clear:
        canvas[:] = *page.paper, 1.0
    for item in page.items:
        if isinstance(item, Picture):
            _picture(canvas, item, scale)
        else:
            color, shapes = _shapes(page, item)
            for polygons in shapes:
                _fill(canvas, [scale * polygon for polygon in polygons], color)
    if clear:
        canvas[..., :3] /= np.maximum(canvas[..., 3:], MIN_COVER)
    return np.rint(255 * np.clip(canvas, 0.0, 1.0)).astype(np.uint8)


def _shapes(page: Page, item: Item) -> tuple[Color, list[list[Polygon]]]:
    """The color of an item, and its shapes in mm, each of one or more polygons (n, 2)."""
    if isinstance(item, Line):
        return item.color, [
            [_segment_outline(*ends, item.width)] for ends in zip(item.points[:-1], item.points[1:], strict=True)
        ]
    if isinstance(item, Box):
        outer = _box_outline(item, item.edge / 2)
        return item.color, [[outer, _box_outline(item, -item.edge / 2)] if item.edge else [outer]]
    assert not isinstance(item, Picture)
    x, shapes = page.label_left(item), []
    for character in item.words:
        glyph = page.glyphs.of(character)
        shapes.append([np.array([x, item.place[1]]) + item.size * FLIP_Y * polygon for polygon in glyph.polygons()])
        x += glyph.advance * item.size
    return item.color, [shape for shape in shapes if shape]


def _segment_outline(start: Sequence[float], end: Sequence[float], width: float) -> Polygon:
    a, b = np.array(start), np.array(end)
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9) * width / 2
    across = np.array([-along[1], along[0]])
    return np.array([a - along - across, b + along - across, b + along + across, a - along + across])


def _box_outline(item: Box, by: float) -> Polygon:
    """The outline of a box, grown by `by` mm."""
    middle = np.array([item.left + item.width / 2, item.top + item.height / 2])
    half = np.array([item.width / 2 + by, item.height / 2 + by])
    if not item.round:
        return middle + half * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    turn = 2 * np.pi * np.arange(DISK_CORNERS) / DISK_CORNERS
    return middle + half * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def coverage(polygons: Sequence[Polygon], width: int, height: int) -> NDArray[np.float64]:
    """(height, width) share of each pixel inside polygons (n, 2), pixels from the upper left corner, even-odd.

    Each of `SCAN_LINES_PER_PIXEL` lines a row is crossed with all edges; between an odd crossing and the next one the
    line is inside, and its share of each pixel is exact: the running sum of what each crossing adds.
    """
    start = np.vstack(polygons)
    end = np.vstack([np.roll(polygon, -1, axis=0) for polygon in polygons])
    lines = (np.arange(height * SCAN_LINES_PER_PIXEL) + 0.5) / SCAN_LINES_PER_PIXEL
    above, below = np.minimum(start[:, 1], end[:, 1]), np.maximum(start[:, 1], end[:, 1])
    first, last = np.searchsorted(lines, above), np.searchsorted(lines, below)
    count = last - first
    edge = np.repeat(np.arange(len(start)), count)
    line = ragged.places(count) + first[edge]
    along = (lines[line] - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
    x = np.clip(start[edge, 0] + along * (end[edge, 0] - start[edge, 0]), 0.0, width)
    order = np.lexsort((x, line))
    line, x = line[order], x[order]
    sign = np.where((np.arange(len(x)) - np.searchsorted(line, line)) % 2 == 0, 1.0, -1.0)
    column = np.floor(x).astype(np.intp)
    change = np.zeros((height, width + 2))
    np.add.at(change, (line // SCAN_LINES_PER_PIXEL, column), sign * (column + 1 - x))
    np.add.at(change, (line // SCAN_LINES_PER_PIXEL, column + 1), sign * (x - column))
    return np.cumsum(change[:, :width], axis=1) / SCAN_LINES_PER_PIXEL


def _fill(canvas: NDArray[np.float32], polygons: list[Polygon], color: Color) -> None:
    """Paint polygons, in pixels, onto the canvas; what lies off it is left out."""
    height, width = canvas.shape[:2]
    points = np.vstack(polygons)
    left, top = np.clip(np.floor(points.min(axis=0)).astype(int), 0, (width, height))
    right, bottom = np.clip(np.ceil(points.max(axis=0)).astype(int), 0, (width, height))
    if right <= left or bottom <= top:
        return
    share = coverage([polygon - (left, top) for polygon in polygons], right - left, bottom - top)[..., None]
    part = canvas[top:bottom, left:right]
    part += (share * (np.array((*color, 1.0)) - part)).astype(np.float32)


def _picture(canvas: NDArray[np.float32], item: Picture, scale: float) -> None:
    """Each pixel of the canvas takes the picture between its four nearest pixels, by distance."""
    height, width = canvas.shape[:2]
    left, top = max(0, round(item.left * scale)), max(0, round(item.top * scale))
    right, bottom = (
        min(width, round((item.left + item.width) * scale)),
        min(height, round((item.top + item.height) * scale)),
    )
    if right <= left or bottom <= top:
        return
    rows, columns = item.pixels.shape[:2]
    y = np.clip(((np.arange(top, bottom) + 0.5) / scale - item.top) / item.height * rows - 0.5, 0, rows - 1)
    x = np.clip(((np.arange(left, right) + 0.5) / scale - item.left) / item.width * columns - 0.5, 0, columns - 1)
    source = item.pixels.astype(np.float32) / 255.0
    source[..., :3] *= source[..., 3:]  # colors are weighted by alpha
    pixels = _interpolate(_interpolate(source, y).transpose(1, 0, 2), x).transpose(1, 0, 2)
    part = canvas[top:bottom, left:right]
    part *= 1.0 - pixels[..., 3:]
    part += pixels


def _interpolate(values: NDArray[np.float32], at: NDArray[np.float64]) -> NDArray[np.float32]:
    """Rows of values at places between whole numbers, linear."""
    low = np.floor(at).astype(np.intp)
    high = np.minimum(low + 1, len(values) - 1)
    share = (at - low).astype(np.float32)[:, None, None]
    return values[low] * (1 - share) + values[high] * share
