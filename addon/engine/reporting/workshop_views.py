"""The workshop sheet's pictures as SVG: where the wires go, which way up, the tank from the side, the test strip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..geometry.frames import unit
from ..tank.arrange import Arrangement, arrange
from ..tank.body import Pose, Role
from ..units import mm
from ..visibility.shaded import Sight, broadside, sight, view
from . import png
from .filled import filled
from .language import Language, translated
from .plan_bench import Bench
from .plan_text import figure

PART_PIXELS = 360  # along the longer side of a view of the part
TANK_PIXELS = 190  # along the longer side of the tank
VIEW_MARGIN, MARK = 26.0, 11.0  # round a view, and radius of a numbered mark, in its pixels
UP_SHARE_OF_VIEW = 0.45  # how much of the way up is in the line of sight
ARROW_PIXELS = 40.0  # length of the arrow that points up, in pixels
MIN_SIDE_SHARE = 1e-3  # of a normal across the way up, below which it looks straight up or down

Point = NDArray[np.float64]


@dataclass(frozen=True)
class Figure:
    """A picture with its caption. svg : a whole element"""

    svg: str
    caption: str


def wires(bench: Bench) -> Figure | None:
    """The part from the side of its first wire, each wire with its number; None without a wire."""
    if bench.coat is None or not bench.coat.wires:
        return None
    places = [wire.point for wire in bench.coat.wires]
    toward = _from_side(bench, bench.coat.wires[0].normal)
    view = _part(bench, toward)
    marks = [_mark(view, place, str(number)) for number, place in enumerate(places, 1)]
    hidden = any(not view.seen(place) for place in places)
    if len(places) > 1:
        return Figure(_framed(view, marks), "The wires; dashed: behind." if hidden else "The wires.")
    return Figure(_framed(view, marks), "The wire; dashed: behind." if hidden else "The wire.")


def hanging(bench: Bench, language: Language) -> Figure:
    """The part as it hangs, from its front, with the way up and the place of the ballast."""
    hold = None if bench.hangs is None else bench.hangs.hold
    tie = hold.points[0] if hold is not None and hold.tether else None
    surface = bench.study.surface
    side = np.zeros(3) if tie is None else tie - surface.bounds.mean(axis=0)
    view = _part(bench, _from_side(bench, broadside(surface, bench.up, side)))
    marks = [] if tie is None else [_mark(view, tie, "B")]
    height = view.size[0]
    marks.append(
        _arrow(
            -VIEW_MARGIN / 2,
            min(height, 2 * ARROW_PIXELS),
            -VIEW_MARGIN / 2,
            min(height, 2 * ARROW_PIXELS) - ARROW_PIXELS,
        )
    )
    marks.append(_text(-VIEW_MARGIN / 2, min(height, 2 * ARROW_PIXELS) + 16, translated("up", language)))
    caption = "As it hangs in the bath." if tie is None else "As it hangs in the bath; B: tie the ballast."
    return Figure(_framed(view, marks), caption)


def vents(bench: Bench, places: Sequence[Point]) -> Figure | None:
    """The part from the side of its first vent, each with a mark; None without one."""
    if not places:
        return None
    view = _part(bench, _from_side(bench, places[0] - bench.study.surface.bounds.mean(axis=0)))
    marks = [_mark(view, place, f"V{number}") for number, place in enumerate(places, 1)]
    return Figure(_framed(view, marks), "Vents to drill; dashed: behind.")


def strip(ohms: float, language: Language) -> Figure:
    """The test strip with its reading. ohms : between the ends of 100 mm by 10 mm."""
    body = [
        '<rect x="20" y="24" width="200" height="20" fill="#c98d6a" stroke="#111"/>',
        '<path d="M20 24V8M220 24V8M20 8H95M145 8H220" fill="none" stroke="#111" stroke-width="2"/>',
        _text(120, 13, translated(filled("{ohms} ohm", ohms=figure(ohms, 2)), language)),
        _text(120, 60, translated("100 mm long, 10 mm wide", language)),
    ]
    return Figure(_svg(240, 66, body), "The coated scrap.")


def tank(bench: Bench) -> Figure | None:
    """The tank from the side that shows how far the anodes are; None where it has no end or cannot be drawn."""
    study, job = bench.study, bench.study.in_tank
    if job.tank.shape == "open":
        return None
    try:
        stands = arrange(study.surface, job, study.bodies)
    except InputError:
        return None  # reported with the field
    if stands.inside is None:
        return None
    axis = _across(stands)
    low, high = stands.inside[:, axis]
    depth = job.tank.size[2] if job.tank.shape in ("box", "cylinder") else float(stands.inside[1, 2])
    scale = TANK_PIXELS / max(high - low, depth)
    draw = _Side(axis, float(low), depth, scale)
    body = [draw.liquid(float(high), job.tank.level), draw.walls(float(high))]
    body += [draw.part(bench, pose) for pose in stands.poses]
    body += [draw.anode(anode.bounds) for anode in stands.bodies if anode.role == Role.ANODE]
    body += draw.distances(bench, stands, job.tank.level)
    return Figure(
        _svg((high - low) * scale + 2 * VIEW_MARGIN, depth * scale + 2 * VIEW_MARGIN, body),
        "The tank from the side, in mm.",
    )


@dataclass(frozen=True)
class _Side:
    """Tank coordinates to pixels. axis : the horizontal one that is drawn; low : m, its left end; depth : m"""

    axis: int
    low: float
    depth: float
    scale: float

    def x(self, at: float) -> float:
        return VIEW_MARGIN + (at - self.low) * self.scale

    def y(self, height: float) -> float:
        return VIEW_MARGIN + (self.depth - height) * self.scale

    def liquid(self, high: float, level: float) -> str:
        return _rect(self.x(self.low), self.y(level), self.x(high), self.y(0.0), 'fill="#d6e6f2"')

    def walls(self, high: float) -> str:
        left, right, top, floor = self.x(self.low), self.x(high), self.y(self.depth), self.y(0.0)
        path = f"M{left:.1f} {top:.1f}V{floor:.1f}H{right:.1f}V{top:.1f}"
        return f'<path d="{path}" fill="none" stroke="#111" stroke-width="3"/>'

    def anode(self, bounds: Point) -> str:
        (left, bottom), (right, top) = bounds[:, [self.axis, 2]]
        thin = max(0.0, 4.0 - (right - left) * self.scale) / 2  # a plate has no thickness of its own
        corners = self.x(left) - thin, self.y(top), self.x(right) + thin, self.y(bottom)
        return _rect(*corners, 'fill="#b4623b" stroke="#111"')

    def part(self, bench: Bench, pose: Pose) -> str:
        """The copy seen from the side."""
        line = np.eye(3)[1 - self.axis] * (1.0 if self.axis == 1 else -1.0)
        turn = view(pose.turn.T @ line, pose.turn.T @ (0.0, 0.0, 1.0))
        seen = sight(bench.study.surface, turn, PART_PIXELS // 2)
        middle = pose.of(bench.study.surface.points[np.unique(bench.study.surface.triangles)])
        (left, bottom), (right, top) = np.array([middle.min(axis=0), middle.max(axis=0)])[:, [self.axis, 2]]
        box = self.x(left), self.y(top), (right - left) * self.scale, (top - bottom) * self.scale
        return _image(seen, *box)

    def distances(self, bench: Bench, stands: Arrangement, level: float) -> list[str]:
        """Gaps from the first copy to the nearest anode on either side, to the level and to the floor."""
        used = bench.study.surface.points[np.unique(bench.study.surface.triangles)]
        points = stands.poses[0].of(used)
        (left, bottom), (right, top) = np.array([points.min(axis=0), points.max(axis=0)])[:, [self.axis, 2]]
        middle, height = (left + right) / 2, (bottom + top) / 2
        ends = [body.bounds[:, self.axis] for body in stands.bodies if body.role == Role.ANODE]
        before = max((float(end[1]) for end in ends if end[1] <= left), default=None)
        after = min((float(end[0]) for end in ends if end[0] >= right), default=None)
        lines = [self._gap((middle, top), (middle, level)), self._gap((middle, 0.0), (middle, bottom))]
        if before is not None:
            lines.append(self._gap((before, height), (left, height)))
        if after is not None:
            lines.append(self._gap((right, height), (after, height)))
        return lines

    def _gap(self, start: tuple[float, float], end: tuple[float, float]) -> str:
        (a, b), (c, d) = ((self.x(at), self.y(height)) for at, height in (start, end))
        length = abs(end[0] - start[0]) + abs(end[1] - start[1])
        if length <= 0:
            return ""
        flat = start[1] == end[1]
        words = _text((a + c) / 2 if flat else a + 6, b - 5 if flat else (b + d) / 2 + 4, mm(length, 0), not flat)
        return f'<path d="M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}" stroke="#111" stroke-width="1"/>{words}'


def _across(stands: Arrangement) -> int:
    """The horizontal axis along which part and anodes are apart most."""
    middles = [body.bounds.mean(axis=0) for body in stands.bodies if body.role == Role.ANODE]
    spans = np.abs(np.array(middles) - stands.poses[0].middle)[:, :2].max(axis=0) if middles else np.zeros(2)
    return 0 if spans[0] > spans[1] else 1


def _from_side(bench: Bench, normal: Iterable[float]) -> Point:
    """A line of sight from the side that a normal looks to, a little from above as the part hangs."""
    up = unit(bench.up)
    side = np.asarray(tuple(normal), dtype=float)
    side = side - (side @ up) * up
    if float(np.linalg.norm(side)) < MIN_SIDE_SHARE:
        side = view((0.6, -1.0, 0.3), up)[2]
        side = side - (side @ up) * up
    return unit(side) + UP_SHARE_OF_VIEW * up


def _part(bench: Bench, toward: Point) -> Sight:
    return sight(bench.study.surface, view(toward, bench.up), PART_PIXELS)


def _framed(view: Sight, marks: Iterable[str]) -> str:
    height, width = view.size
    body = [_image(view, 0, 0, width, height), *marks]
    moved = f'<g transform="translate({VIEW_MARGIN:.0f} {VIEW_MARGIN:.0f})">{"".join(body)}</g>'
    return _svg(width + 2 * VIEW_MARGIN, height + 2 * VIEW_MARGIN, [moved])


def _mark(view: Sight, point: Point, words: str) -> str:
    """A ring on the point with its number beside; dashed where the part lies in front."""
    x, y = view.place(point)[0]
    dashed = "" if view.seen(point) else ' stroke-dasharray="3 3"'
    ring = (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK / 2:.1f}" fill="none" stroke="#9c1b10" stroke-width="3"{dashed}/>'
    )
    aside = x + MARK if x < view.size[1] / 2 else x - MARK
    label = f'<circle cx="{aside:.1f}" cy="{y - 1.5 * MARK:.1f}" r="{MARK:.0f}" fill="#9c1b10"/>'
    return ring + label + _text(aside, y - 1.5 * MARK + 5, words, color="#fff")


def _arrow(x: float, y: float, to_x: float, to_y: float) -> str:
    tip = f"M{to_x - 5:.1f} {to_y + 9:.1f}L{to_x:.1f} {to_y:.1f}L{to_x + 5:.1f} {to_y + 9:.1f}"
    return f'<path d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}{tip}" fill="none" stroke="#111" stroke-width="2"/>'


def _image(view: Sight, x: float, y: float, width: float, height: float) -> str:
    place = f'x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
    return f'<image {place} preserveAspectRatio="none" href="{png.as_url(np.dstack([view.gray(), view.alpha]))}"/>'


def _rect(left: float, top: float, right: float, bottom: float, style: str) -> str:
    place = f'x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}"'
    return f"<rect {place} {style}/>"


def _text(x: float, y: float, words: str, start: bool = False, color: str = "#111") -> str:
    anchor = "start" if start else "middle"
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{color}">{escape(words)}</text>'


def _svg(width: float, height: float, body: Iterable[str]) -> str:
    return f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img">{"".join(body)}</svg>'
