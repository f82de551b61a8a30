"""Holes that empty a part, and the closed meshes that cut them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from ..geometry.frames import basis, unit

Array = NDArray[np.float64]

PRISM_SIDES = 32  # of the prism that cuts a bore
PRISM_TWIST_SIDES = 0.3183  # of a side, rotation of the prism: no corner then lies on an edge of a round part


class HoleKind(Enum):
    """The purpose of a hole."""

    VENT = "vent"
    DRAIN = "drain"


@dataclass(frozen=True, eq=False)
class Hole:
    """A straight round hole. Meters, in the part's axes.

    start : (3,) in the pocket, where the cut begins; tip : (3,) outside, where it ends
    entry, end : (3,) on the surface, where it goes in and where it comes out
    diameter : m; frees : m3 of gas or liquid that goes; show : whether it comes out through a show face
    """

    kind: HoleKind
    start: Array
    entry: Array
    end: Array
    tip: Array
    diameter: float
    frees: float
    show: bool

    @property
    def length(self) -> float:
        """m of plastic that it goes through."""
        return float(np.linalg.norm(self.end - self.entry))


@dataclass(frozen=True, eq=False)
class Vents:
    """The holes that empty a part.

    holes : vents first, by what they free; up : (3,) unit, the way up that they are for
    blocked : m3 that no straight bore frees; unneeded : whether nothing is worth a hole
    """

    up: Array
    holes: tuple[Hole, ...]
    blocked: float
    unneeded: bool


def cutters(holes: tuple[Hole, ...]) -> tuple[Array, NDArray[np.int32]]:
    """Points (v, 3) and triangles (m, 3) of a closed prism for each hole, a little longer at either end."""
    turn = 2 * np.pi * (np.arange(PRISM_SIDES) + PRISM_TWIST_SIDES) / PRISM_SIDES
    points, triangles = [], []
    for number, hole in enumerate(holes):
        radius = hole.diameter / 2 / np.cos(np.pi / PRISM_SIDES)  # flats at the diameter
        along = unit(hole.tip - hole.start)
        u, v = basis(along)
        circle = radius * (np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v)
        ends = hole.start, hole.tip
        points.append(np.concatenate([circle + ends[0], circle + ends[1], np.stack(ends)]))
        triangles.append(_prism() + number * (2 * PRISM_SIDES + 2))
    return np.concatenate(points), np.concatenate(triangles).astype(np.int32)


def _prism() -> NDArray[np.int32]:
    i = np.arange(PRISM_SIDES)
    j = (i + 1) % PRISM_SIDES
    low, high = np.full(PRISM_SIDES, 2 * PRISM_SIDES), np.full(PRISM_SIDES, 2 * PRISM_SIDES + 1)
    sides = [np.stack([i, j, j + PRISM_SIDES], axis=1), np.stack([i, j + PRISM_SIDES, i + PRISM_SIDES], axis=1)]
    caps = [np.stack([low, j, i], axis=1), np.stack([high, i + PRISM_SIDES, j + PRISM_SIDES], axis=1)]
    return np.concatenate([*sides, *caps]).astype(np.int32)
