"""Typesetting of the plan: figures in metric and US units, and sections of steps and notes in 96 columns."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

from ..chemistry.deposit import duration
from ..units import A_PER_DM2, A_PER_FOOT2, CM2, DM2, GRAM, INCH, LITER, MG, ML, UM, ZERO_CELSIUS, mm, point_mm
from .filled import filled, sentence
from .language import ENGLISH, Language, translated

PAGE_COLUMNS = 96  # columns: an A4 or Letter page in 9 point type
STEP, NOTE, CAUTION, CHECK = "[ ] ", "  - ", "  ! ", "Check: {check}"
NUMBERED_INDENT = 13  # indent of lines below a numbered step
OUNCE, POUND, US_GALLON = 0.028349523, 0.45359237, 3.785411784e-3  # kg, kg, m3
_TIED = re.compile(r"(?<=\d) (?=[A-Za-zµ°%²³])|(?<=US) (?=gal)|(?<=fl) (?=oz)")  # a figure and its unit
_SIGNS = (
    (re.compile(r"\b(dm|cm|mm|ft|in|m)([23])\b"), lambda m: m[1] + "²³"[int(m[2]) - 2]),
    (re.compile(r"(?<=\d) um\b"), lambda _: " µm"),
    (re.compile(r"(?<=\d) ([CF])\b"), lambda m: f" °{m[1]}"),
    (re.compile(r"(?<=\d) (?:degrees|Grad)\b"), lambda _: "°"),  # in the languages that there are
)


@dataclass(frozen=True)
class Line:
    """A step to tick off, a note, or plain words. front : what stands before the text: `STEP`, `NOTE`, or an indent"""

    front: str
    text: str

    def in_language(self, language: Language) -> str:
        """The line in a language."""
        return self.front + translated(self.text, language)


@dataclass(frozen=True)
class Section:
    """A heading with its lines."""

    title: str
    lines: tuple[Line, ...]


def step(text: str) -> Line:
    """An action, with a box to tick."""
    return Line(STEP, text)


def note(text: str) -> Line:
    """A note."""
    return Line(NOTE, text)


def numbered(number: int, text: str, check: str = "", cautions: Iterable[str] = ()) -> list[Line]:
    """A step with its number, a place for the time of day, how to see that it worked, and its cautions."""
    lines = [Line(f"{STEP}{number:>2} ____  ", text)]
    lines += [Line(f"{'':>{NUMBERED_INDENT - 2}}! ", caution) for caution in cautions]
    return [*lines, Line(f"{'':>{NUMBERED_INDENT}}", filled(CHECK, check=check))] if check else lines


def setting(sections: Iterable[Section], language: Language = ENGLISH, letters: bool = False) -> str:
    """Sections, wrapped, with letters in front of their titles where asked for."""
    out: list[str] = []
    for number, section in enumerate(sections):
        front = f"{chr(ord('A') + number)}. " if letters else ""
        out += ["", f"{front}{translated(section.title, language).upper()}"]
        for line in section.lines:
            out += wrapped(line.in_language(language))
    return "\n".join(out)


def wrapped(line: str) -> list[str]:
    """One line in several, the later ones under the first one's words."""
    indent = " " * _indent(line)
    line = _TIED.sub("\u00a0", typeset(line))
    rows = textwrap.wrap(line, PAGE_COLUMNS, subsequent_indent=indent, break_long_words=True, break_on_hyphens=False)
    return [row.replace("\u00a0", " ") for row in rows]


def _indent(line: str) -> int:
    """Columns before the words of a line."""
    if re.match(r"\[ \] +\d+ ____  ", line):
        return NUMBERED_INDENT
    if line.startswith((STEP, NOTE, CAUTION)):
        return 4
    blank = len(line) - len(line.lstrip(" "))
    return blank + (2 if line[blank:].startswith("! ") else 0)


def typeset(line: str) -> str:
    """Typographic units in place of plain ones: dm2, um, C."""
    for pattern, sign in _SIGNS:
        line = pattern.sub(sign, line)
    return line


def figure(value: float, digits: int = 3) -> str:
    """Significant digits without an exponent: "0.843", "12.4", "1240"."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "-"
    value = float(f"{value:.{digits}g}")
    return f"{value:.{max(0, digits - 1 - math.floor(math.log10(abs(value))))}f}"


def general(value: float, digits: int) -> str:
    """Significant digits without trailing zeros, and without an exponent for what is large: "0.6", "120"."""
    shown = f"{value:.{digits}g}"
    return figure(value, digits) if "e+" in shown else shown


def thickness(value: float) -> str:
    """ "30 um (1.2 mil)"."""
    return f"{figure(value / UM, 2)} um ({figure(value / (1e-3 * INCH), 2)} mil)"


def density(value: float) -> str:
    """ "2.0 A/dm2 (19 A/ft2)"."""
    return f"{figure(value / A_PER_DM2, 2)} A/dm2 ({figure(value / A_PER_FOOT2, 2)} A/ft2)"


def area(value: float, beside: float = 0.0) -> str:
    """ "0.84 dm2 (13 in2)", or cm2 for a small one. beside : m2 of an area that is told with it, in the same unit"""
    if max(value, beside) < 0.1 * DM2:
        return f"{figure(value / CM2, 2)} cm2 ({figure(value / INCH**2, 2)} in2)"
    return f"{figure(value / DM2, 2)} dm2 ({figure(value / INCH**2, 2)} in2)"


def length(value: float) -> str:
    """ "12.5 mm (0.49 in)": to a tenth of a millimeter."""
    return f"{mm(value)} mm ({figure(value / INCH, 2)} in)"


def spanned(low: float, high: float, digits: int = 2) -> str:
    """A range without needless digits: "1.1 to 1.8", "up to 1.8", or one figure where both ends show the same."""
    ends = figure(low, digits), figure(high, digits)
    if ends[0] == ends[1]:
        return ends[0]
    if low > 0:
        return filled("{low} to {high}", low=ends[0], high=ends[1])
    return filled("up to {high}", high=ends[1])


def mass(value: float, digits: int = 3) -> str:
    """ "6.71 g (0.24 oz)", mg for traces, kg for much. digits : 3 for what is weighed out"""
    if value < 0.5 * GRAM:
        return f"{figure(value / MG, 2)} mg"
    if value >= 1:
        return f"{figure(value, digits)} kg ({figure(value / POUND, 2)} lb)"
    return f"{figure(value / GRAM, digits)} g ({figure(value / OUNCE, 2)} oz)"


def volume(value: float) -> str:
    """500 mL (17 fl oz); L and US gal for much."""
    if value >= LITER:
        return f"{figure(value / LITER)} L ({figure(value / US_GALLON, 2)} US gal)"
    return f"{figure(value / ML)} mL ({figure(128 * value / US_GALLON, 2)} fl oz)"


def temperature(value: float) -> str:
    """ "25 C (77 F)"."""
    celsius = value - ZERO_CELSIUS
    return f"{celsius:.0f} C ({celsius * 9 / 5 + 32:.0f} F)"


def point(value: Iterable[float]) -> str:
    """ "(12, -3.5, 40) mm": model coordinates to a tenth."""
    return f"{point_mm(value)} mm"


__all__ = [
    "Line",
    "Section",
    "area",
    "density",
    "duration",
    "figure",
    "length",
    "mass",
    "note",
    "numbered",
    "point",
    "sentence",
    "setting",
    "spanned",
    "step",
    "temperature",
    "thickness",
    "typeset",
    "volume",
    "wrapped",
]
