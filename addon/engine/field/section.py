"""Sections of surfaces by a plane, and which parts of the plane lie inside them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..geometry import contour, ragged

Array = NDArray[np.float64]
Ints = NDArray[np.intp]


TOUCH_CELLS = 1e-3  # of a cell


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane with axes of its own. point : (3,) meters, its origin; across, up : (3,) unit, square to each other."""

    point: Array
    across: Array
    up: Array

    @property
    def normal(self) -> Array:
        """(3,) unit."""
        return np.cross(self.across, self.up)

    def drop(self, points: Array) -> Array:
        """Points (..., 3) dropped onto the plane, in its axes (..., 2)."""
        return (points - self.point) @ np.stack([self.across, self.up], axis=1)

    def lift(self, flat: Array) -> Array:
        """Places of the plane (..., 2) as points (..., 3)."""
        return self.point + flat @ np.stack([self.across, self.up])


@dataclass(frozen=True, eq=False)
class Section:
    """The section of triangles by a plane.

    segments : (s, 2, 2) meters, in the plane's axes; outward : (s, 2) the triangle's normal as the plane sees it
    row : (s,) the triangle of each
    """

    segments: Array
    outward: Array
    row: Ints

    @property
    def inward(self) -> bool:
        """Whether it faces what it encloses, as walls do: by Gauss's theorem, its area would be negative."""
        along = self.segments[:, 1] - self.segments[:, 0]
        heights = np.einsum("ij,ij->i", self.segments.mean(axis=1), self.outward)
        return bool(heights @ np.linalg.norm(along, axis=1) < 0.0)

    @property
    def turned(self) -> Section:
        """The same with its two axes exchanged."""
        return Section(self.segments[..., ::-1], self.outward[:, ::-1], self.row)

    def of(self, rows: NDArray[np.bool_]) -> Section:
        """The segments of the triangles (n,) that are marked."""
        return self.take(rows[self.row])

    def take(self, mask: NDArray[np.bool_]) -> Section:
        """The segments (s,) that are marked."""
        return Section(self.segments[mask], self.outward[mask], self.row[mask])


def meet(plane: Plane, corners: Array) -> Section:
    """The section of triangles (n, 3, 3)."""
    segments, row = contour.cut(corners, (corners - plane.point) @ plane.normal, [0.0])
    normal = np.cross(corners[row, 1] - corners[row, 0], corners[row, 2] - corners[row, 0])
    outward = normal @ np.stack([plane.across, plane.up], axis=1)
    length = np.linalg.norm(outward, axis=1, keepdims=True)
    outward = np.divide(outward, length, out=np.zeros_like(outward), where=length > 0)
    return Section(plane.drop(segments), outward, row.astype(np.intp))


def spans(section: Section, up: Array) -> tuple[Ints, Array]:
    """What of lines at the heights `up` (m,) lies within the section: the line of each span (k,), its ends (k, 2).

    Lines that pass through a hole of the surface have none.
    """
    row, at, turn, _ = _crossings(section, up)
    whole = np.bincount(row, turn, minlength=len(up))[row] == 0
    row, at, turn = row[whole], at[whole], turn[whole]
    order = np.lexsort((at, row))
    row, at, turn = row[order], at[order], turn[order]
    inside = np.cumsum(turn)  # every line ends outside, so the running sum starts at zero on each
    inside_pairs = np.flatnonzero((inside[:-1] != 0) & (row[:-1] == row[1:])) if len(row) else np.empty(0, np.intp)
    return row[inside_pairs], np.stack([at[inside_pairs], at[inside_pairs + 1]], axis=1)


def touched(section: Section, across: Array, up: Array) -> NDArray[np.bool_]:
    """(rows, columns) which nodes of a grid lie on the section, to a thousandth of a cell."""
    out = np.zeros((len(up), len(across)), dtype=bool)
    for part, columns, rows, marks in ((section, across, up, out), (section.turned, up, across, out.T)):
        row, at, _, _ = _crossings(part, rows)
        for k in np.clip(np.searchsorted(columns, at) + np.array([[-1], [0]]), 0, len(columns) - 1):
            on = np.abs(at - columns[k]) < TOUCH_CELLS * np.gradient(columns)[k]
            marks[row[on], k[on]] = True
    return out


def between(section: Section, across: Array, up: Array) -> tuple[Array, Ints, Array, Ints]:
    """What stands between each node of a grid and the next along its row, as seen from either, each (rows, columns -
    1).

    Where the section is met first from the left node and then from the right one, and the segments met there; nan and
    -1 where nothing stands between.
    """
    row, at, _, piece = _crossings(section, up)
    gap = np.searchsorted(across, at) - 1
    valid = (gap >= 0) & (gap < len(across) - 1)
    order = np.flatnonzero(valid)[np.argsort(at[valid])]

    def met_in(way: NDArray[np.intp]) -> tuple[Array, Ints]:
        """The last one written stays."""
        place = np.full((len(up), len(across) - 1), np.nan)
        row_met = np.full(place.shape, -1, dtype=np.intp)
        place[row[way], gap[way]], row_met[row[way], gap[way]] = at[way], piece[way]
        return place, row_met

    return (*met_in(order[::-1]), *met_in(order))


def _crossings(section: Section, up: Array) -> tuple[Ints, Array, NDArray[np.int64], Ints]:
    """Where lines at heights `up` meet the section: the line, where along it, +1 going in or -1 going out, the
    segment."""
    heights = section.segments[..., 1]
    first = np.searchsorted(up, heights.min(axis=1), "left")
    repeats = np.searchsorted(up, heights.max(axis=1), "left") - first
    piece = np.repeat(np.arange(len(repeats)), repeats)
    row = ragged.places(repeats) + first[piece]
    (start, low), (end, high) = section.segments[piece].transpose(1, 2, 0)
    at = start + (up[row] - low) / (high - low) * (end - start)
    return row, at, np.where(section.outward[piece, 0] < 0, 1, -1), piece
