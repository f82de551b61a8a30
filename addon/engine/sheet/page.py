"""The items of a page, in millimeters from its upper left corner: pictures, lines, boxes and words.

A page is set once; `svg`, `pdf` and `raster` write the same one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..reporting.language import ENGLISH, Language, translated
from .glyphs import Glyphs

Color: TypeAlias = tuple[float, float, float]  # display values, 0 to 1
Place: TypeAlias = tuple[float, float]
Anchor: TypeAlias = Literal["start", "middle", "end"]
ANCHOR_SHARE: dict[Anchor, float] = {
    "start": 0.0,
    "middle": 0.5,
    "end": 1.0,
}  # share of a label that lies left of its place
ASCENT, DESCENT = 0.76, 0.22  # of a line of words above and below its foot, in sizes
ELLIPSIS = "..."
AFTER_A_WORD = re.compile(r"(?<!\d)\s+")  # a line may end here; not between a number and its unit
LEADING = 1.3  # from line to line, in sizes


@dataclass(frozen=True, eq=False)
class Picture:
    """pixels : (h, w, 4) uint8 RGB with alpha, stretched to the box"""

    left: float
    top: float
    width: float
    height: float
    pixels: NDArray[np.uint8]


@dataclass(frozen=True)
class Line:
    """A polyline. width : mm"""

    points: tuple[Place, ...]
    color: Color
    width: float = 0.25


@dataclass(frozen=True)
class Box:
    """A rectangle, or a disk where `round`; filled, or its edge drawn `edge` mm wide."""

    left: float
    top: float
    width: float
    height: float
    color: Color
    edge: float = 0.0
    round: bool = False


@dataclass(frozen=True)
class Label:
    """One line of words. place : on its foot, at the anchor; size : of the font, mm"""

    place: Place
    words: str
    size: float
    color: Color
    anchor: Anchor = "start"


Item: TypeAlias = Picture | Line | Box | Label


@dataclass(eq=False)
class Page:
    """width, height : mm; glyphs : of the only font; title : what a reader of the file shows; language : of texts"""

    width: float
    height: float
    paper: Color
    glyphs: Glyphs
    title: str
    items: list[Item] = field(default_factory=list)
    language: Language = ENGLISH

    def translated(self, text: str) -> str:
        """A text in the language of the page."""
        return translated(text, self.language)

    def add(self, *items: Item) -> None:
        """Append items; later ones lie over earlier ones."""
        self.items += items

    def label_left(self, label: Label) -> float:
        """mm of a label's left end."""
        return label.place[0] - ANCHOR_SHARE[label.anchor] * self.glyphs.width(label.words) * label.size

    def bounds(self, item: Item) -> tuple[float, float, float, float]:
        """Left, top, right, bottom in mm."""
        if isinstance(item, Line):
            x, y = np.array(item.points).T
            return float(x.min()), float(y.min()), float(x.max()), float(y.max())
        if isinstance(item, Label):
            left, foot = self.label_left(item), item.place[1]
            right = left + self.glyphs.width(item.words) * item.size
            return left, foot - ASCENT * item.size, right, foot + DESCENT * item.size
        return item.left, item.top, item.left + item.width, item.top + item.height

    def shortened(self, words: str, size: float, width: float) -> str:
        """Words cut to `width` mm."""
        if self.glyphs.width(words) * size <= width:
            return words
        while words and self.glyphs.width(words + ELLIPSIS) * size > width:
            words = words[:-1]
        return words.rstrip() + ELLIPSIS

    def paragraph(self, place: Place, words: str, size: float, color: Color, width: float) -> float:
        """Words in lines no wider than `width`, the first line's foot at `place`. Returns the foot of the next line."""
        x, y = place
        for line in self.lines(self.translated(words), size, width):
            self.add(Label((x, y), line, size, color))
            y += LEADING * size
        return y

    def lines(self, words: str, size: float, width: float) -> Sequence[str]:
        """Words as lines no wider than `width`; a longer word stands alone, and a number keeps its unit."""
        lines: list[str] = []
        for word in AFTER_A_WORD.split(words.strip()):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.glyphs.width(longer) * size <= width:
                lines[-1] = longer
            else:
                lines.append(word)
        return lines
