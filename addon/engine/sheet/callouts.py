"""Layout of a picture's callouts: numbers beside it, each with a leader to its place's row, none over part or leader.

A place is marked by a dot. Its leader starts where the part ends in that row, goes level to beyond the part, and from
there straight to its number. Numbers of a side stand in the order of their places, so that no two leaders cross.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LEFT, RIGHT = -1, 1
MIN_COVERED_ALPHA = 128  # of 255, alpha from which a pixel belongs to the part
MIN_ROW_GAP_MM = 0.8  # mm between two leaders where they leave the part


@dataclass(frozen=True)
class Frame:
    """A picture of the part on the page, mm. left, top : of its pixels; pixel : size of one

    near, far : from the page's left, where leaders bend and where numbers stand, each (left, right)
    ceiling, floor : between which numbers stand
    """

    left: float
    top: float
    pixel: float
    near: tuple[float, float]
    far: tuple[float, float]
    ceiling: float
    floor: float


@dataclass(frozen=True)
class Leader:
    """index : of the places; dot : on the part; points : from the part's edge to the number, mm"""

    index: int
    dot: tuple[float, float]
    points: tuple[tuple[float, float], ...]


def place_leaders(places: NDArray[np.float64], alpha: NDArray[np.uint8], frame: Frame, gap: float) -> list[Leader]:
    """Leaders of places (n, 2), pixels from the left and the top. alpha : (h, w) cover of the part; gap : mm between
    numbers.

    A place whose row is taken on its own side goes to the other; where that is taken as well it has none.
    """
    sides: dict[int, list[tuple[float, int]]] = {LEFT: [], RIGHT: []}
    middle = alpha.shape[1] / 2
    for index, (x, y) in enumerate(places):
        row = frame.top + y * frame.pixel
        own = LEFT if x < middle else RIGHT
        for side in (own, -own):
            if all(abs(row - other) >= MIN_ROW_GAP_MM for other, _ in sides[side]):
                sides[side].append((row, index))
                break
    leaders = [
        leader
        for side in (LEFT, RIGHT)
        for leader in _leaders_of_side(side, sorted(sides[side]), places, alpha, frame, gap)
    ]
    return sorted(leaders, key=lambda leader: leader.index)


def _leaders_of_side(
    side: int,
    rows: list[tuple[float, int]],
    places: NDArray[np.float64],
    alpha: NDArray[np.uint8],
    frame: Frame,
    gap: float,
) -> list[Leader]:
    end = int(side == RIGHT)
    heights = spaced_heights([row for row, _ in rows], gap, frame.ceiling, frame.floor)
    leaders = []
    for (row, index), height in zip(rows, heights, strict=True):
        dot = (frame.left + float(places[index, 0]) * frame.pixel, row)
        edge = frame.left + _part_edge(alpha, int(places[index, 1]), side) * frame.pixel
        leaders.append(Leader(index, dot, ((edge, row), (frame.near[end], row), (frame.far[end], height))))
    return leaders


def _part_edge(alpha: NDArray[np.uint8], row: int, side: int) -> float:
    """Pixels from the left to where the part ends in a row and its neighbors."""
    rows = alpha[max(0, row - 1) : row + 2]
    columns = np.flatnonzero((rows >= MIN_COVERED_ALPHA).any(axis=0))
    if not len(columns):
        return alpha.shape[1] / 2
    return float(columns[-1] + 1) if side == RIGHT else float(columns[0])


def spaced_heights(preferred: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Heights in the order of the wanted ones, at least `gap` apart and between low and high where there is room, as
    near to them as that allows (pool adjacent violators: least squares; Barlow et al. 1972, from memory)."""
    if not preferred:
        return []
    gap = min(gap, (high - low) / max(len(preferred) - 1, 1))
    blocks: list[tuple[float, int]] = []  # each block's mean wanted height, less the gaps before; its count
    for number, value in enumerate(preferred):
        mean, count = value - number * gap, 1
        while blocks and blocks[-1][0] > mean:
            other, other_count = blocks.pop()
            mean, count = (mean * count + other * other_count) / (count + other_count), count + other_count
        blocks.append((mean, count))
    flat = [mean for mean, count in blocks for _ in range(count)]
    top = high - (len(preferred) - 1) * gap
    return [min(max(mean, low), top) + number * gap for number, mean in enumerate(flat)]
