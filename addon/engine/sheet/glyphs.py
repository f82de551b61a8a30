"""Glyphs of a font, from any source: closed loops of cubic curves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

REPLACEMENT_CHARACTER = "?"  # drawn in place of a character missing from the font
SEGMENTS_PER_CURVE = 6  # straight pieces that a curve is drawn as


@dataclass(frozen=True, eq=False)
class Glyph:
    """advance : to the next character; loops : closed, each (k, 4, 2) cubic Bezier curves end to end.

    In sizes of the font, x to the right and y up from the foot of the line. Filled by the even-odd rule.
    """

    advance: float
    loops: tuple[NDArray[np.float64], ...]

    def polygons(self) -> list[NDArray[np.float64]]:
        """(n, 2) corners of each loop, its curves in straight pieces."""
        t = np.arange(SEGMENTS_PER_CURVE)[:, None] / SEGMENTS_PER_CURVE
        basis = np.hstack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
        return [np.einsum("sk,nkj->nsj", basis, loop).reshape(-1, 2) for loop in self.loops]


@dataclass(frozen=True, eq=False)
class Glyphs:
    """The characters of a font; must hold `REPLACEMENT_CHARACTER`."""

    table: Mapping[str, Glyph]

    def of(self, character: str) -> Glyph:
        """The shape of a character; that of `REPLACEMENT_CHARACTER` where the font lacks it."""
        return self.table.get(character, self.table[REPLACEMENT_CHARACTER])

    def width(self, words: str) -> float:
        """Of a line of words, in sizes of the font."""
        return sum(self.of(character).advance for character in words)
