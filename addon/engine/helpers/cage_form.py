"""The cage's form: two flat plates of a stem with arms, bars between the arms, posts that reach to the part.

Own axes, meters: u along the rod, v level and square to it, z as in the tank; the rod is at v = 0. Each plate is
printed on its outer side: bars and posts stand up on it, and nothing overhangs. The bars are squares on their corners,
so that the part lies on an edge; their ends are thinner and go through holes in the other plate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..units import MM
from .form import CHEEK, NOTCH_BELOW, NOTCH_DEPTH, NOTCH_HEIGHT
from .lattice import Array, Box, union
from .rods import Hook

GAP = 5.0 * MM  # between part and plates
ARM = 2.0 * MM  # half of an arm beyond half of a bar
SHOULDER = 0.6 * MM  # half of a bar less half of its end
HOLE_FIT = 0.3 * MM  # of a bar's end in its hole
END = 3.0 * MM  # length of a bar's end beyond the plate
POST = 1.0 * MM  # half a side of a post
HEAD = 6.0 * MM  # height of the head under the hook
INTO = 1.0 * MM  # overlap of a bar or a post with its plate, to join them


@dataclass(frozen=True)
class Post:
    """sign : 1 on the plate with the larger u; v, z, end : m, its middle, and u where it ends"""

    sign: float
    v: float
    z: float
    end: float


@dataclass(frozen=True)
class CageForm:
    """Meters. thickness : of the plates; width : of their stems; half : half a diagonal of a bar

    ends : u of the inner sides of the plates; bars : (k, 2) v and z of their middles; rod : diameter; rim : z on which
    it lies
    """

    thickness: float
    width: float
    half: float
    ends: tuple[float, float]
    bars: tuple[tuple[float, float], ...]
    posts: tuple[Post, ...]
    rod: float
    rim: float

    @property
    def hook(self) -> Hook:
        """Of both plates."""
        return Hook(self.rod, self.rim)

    @property
    def arm(self) -> float:
        """m, half the height of an arm."""
        return self.half + ARM

    @property
    def low(self) -> float:
        """z of the lowest arm's lower side."""
        return min(z for _, z in self.bars) - self.arm

    @property
    def top(self) -> float:
        """z of the highest arm's upper side."""
        return max(z for _, z in self.bars) + self.arm

    @property
    def middle(self) -> float:
        """z between the lowest and the highest arm."""
        return (self.low + self.top) / 2

    @property
    def end(self) -> float:
        """m, half a diagonal of a bar's end."""
        return self.half - SHOULDER

    def mesh(self) -> tuple[Array, NDArray[np.int32]]:
        """Points (v, 3) and triangles (m, 3) of both bodies in the cage's axes, closed and outward."""
        back, front = self._back(), self._front()
        points = np.concatenate([back[0], front[0]])
        return points, np.concatenate([back[1], front[1] + np.int32(len(back[0]))]).astype(np.int32)

    def _back(self) -> tuple[Array, NDArray[np.int32]]:
        """The plate with the bars."""
        inner, shoulder = self.ends
        boxes = list(self._plate(inner - self.thickness, inner, -1.0, notched=True))
        for v, z in self.bars:
            for size, start, stop in (
                (self.half, inner - INTO, shoulder),
                (self.end, inner - INTO, shoulder + self.thickness + END),
            ):
                for side in (-1, 1):
                    for other in (-1, 1):
                        (v0, v1), (z0, z1) = sorted((v, v + side * size)), sorted((z, z + other * size))
                        boxes.append(((start, v0, z0), (stop, v1, z1)))
        points, triangles = union(boxes)
        self.hook.raise_roof(points, 0.0)
        return self._on_corner(points), triangles

    def _front(self) -> tuple[Array, NDArray[np.int32]]:
        """The plate with the holes."""
        inner = self.ends[1]
        half = self.end + HOLE_FIT / 2
        holes: list[Box] = [
            ((inner, v - half, z - half), (inner + self.thickness, v + half, z + half)) for v, z in self.bars
        ]
        points, triangles = union(list(self._plate(inner, inner + self.thickness, 1.0, notched=False)), holes)
        self.hook.raise_roof(points, 0.0)
        return points, triangles

    def _plate(self, low: float, high: float, sign: float, *, notched: bool) -> Iterator[Box]:
        """A plate between low and high (u). notched : with notches, round which the wire is wound"""
        half, head = self.width / 2, self.hook.shoulder - HEAD
        notch = head - NOTCH_BELOW - NOTCH_HEIGHT
        narrow = half - NOTCH_DEPTH if notched and notch > self.top else half
        yield (low, -half, self.low), (high, half, min(notch, head) if narrow < half else head)
        yield (low, -narrow, self.low), (high, narrow, head)
        yield (low, -half, head - NOTCH_BELOW), (high, half, self.hook.shoulder)
        yield (low, -self.hook.half_rod - CHEEK, head), (high, half, self.hook.shoulder)
        yield from self.hook.boxes(0.0, low, high)
        for v, z in self.bars:
            yield (low, min(v - self.arm, -half), z - self.arm), (high, max(v + self.arm, half), z + self.arm)
        for post in self.posts:
            if post.sign == sign:
                start, stop = sorted((post.end, (low if sign > 0 else high) + sign * INTO))
                yield (start, post.v - POST, post.z - POST), (stop, post.v + POST, post.z + POST)

    def _on_corner(self, points: Array) -> Array:
        """The lattice with its bars, square to begin with, turned to stand on their corners."""
        slack = MM / 50
        for v, z in self.bars:
            off = points[:, 1:] - (v, z)
            square, diamond = np.abs(off).max(axis=1), np.abs(off).sum(axis=1)
            own = (square <= self.half + slack) & (points[:, 0] >= self.ends[0] - slack) & (diamond > slack)
            share = square[own] / diamond[own]
            points[own, 1:] = (v, z) + off[own] * share[:, None]
        return points
