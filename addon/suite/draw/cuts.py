"""The cut through the tank as something to draw, for the viewport and for the picture: colors, levels and words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...engine.field.cut import Cut, triangles
from ...engine.reporting.filled import filled
from ...engine.units import in_mm
from .maps import Drawing, Map

DOC = "A plane through the tank: the potential in the bath, lines of equal potential, and the path of the current"
MAP = Map(
    "cut",
    "cut",
    "Potential in Bath",
    "V",
    DOC,
    lambda result, _study: result.grid.potential.reshape(-1),
    ("at the part", "at the anodes"),
    bad_high=True,
)
SIDEWAYS = 0.05  # smallest share of the current across the plane that the caption mentions


def drawing(cut: Cut) -> Drawing:
    """Its ramp, from the least to the greatest potential in the liquid; dark at the anodes, where lines are few."""
    none = np.zeros((0, 2, 3))
    return Drawing(MAP, cut.grid.potential.reshape(-1), cut.low, cut.high, np.zeros(0), none, none, ())


def cells(cut: Cut) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Places of all nodes in the plane (n, 2), and the halves of the cells that touch the liquid (m, 3)."""
    places = np.stack(np.meshgrid(cut.grid.across, cut.grid.up), axis=-1).reshape(-1, 2)
    number = np.arange(len(places), dtype=np.int32).reshape(cut.grid.wet.shape)
    corners, wet, known = (
        np.concatenate(triangles(nodes)) for nodes in (number, cut.grid.wet, np.isfinite(cut.grid.potential))
    )
    return places, corners[wet.any(axis=1) & known.all(axis=1)]


def segments(cut: Cut) -> NDArray[np.float64]:
    """(s, 2, 2) all current lines."""
    parts = [np.stack([line[:-1], line[1:]], axis=1) for line in cut.lines]
    return np.concatenate(parts) if parts else np.zeros((0, 2, 2))


def where(cut: Cut) -> str:
    """Which plane it is, in words."""
    way = {"through anodes": "towards the anode", "across": "across the way to the anode", "level": "level"}[cut.way]
    if not cut.offset:
        return filled("{way}, through the middle of the part", way=way)
    return filled("{way}, {distance} beside the middle of the part", way=way, distance=in_mm(cut.offset, 3))


def caption(cut: Cut) -> list[str]:
    """What the lines mean, a sentence each."""
    words: list[str] = []
    if cut.step:
        words.append(filled("Thin lines: equal potential, every {voltage} V.", voltage=f"{cut.step:.3g}"))
    if cut.lines:
        words.append("Dark lines: the path of the current. Each carries the same current from the anodes.")
    if cut.oblique > SIDEWAYS:
        words.append(
            filled(
                "{share} % of the current density crosses the plane; lines show what runs in it.",
                share=f"{100 * cut.oblique:.0f}",
            )
        )
    return words
