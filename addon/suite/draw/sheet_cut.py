"""The picture of the cut for the client: the tank in section, the potential in color, where it is equal, and the way
that the current takes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...engine import color
from ...engine.errors import InputError
from ...engine.field.cut import Cut, Outline
from ...engine.field.section import Section, spans
from ...engine.reporting.filled import filled
from ...engine.study import LEFT_OUT, Study
from ...engine.tank.body import Role
from ...engine.units import MM
from ..figures import figure
from ..language import localized
from . import cuts, sheet
from .sheet import FAINT, INK, PAPER, Sheet

LOW, HIGH, HALF = -0.86, 1.02, 1.55  # of the sheet: between these heights the plane stands, so wide to either side
LEFT, BESIDE = -1.85, 0.15  # where the words start; a thing closer to a side than this share has its name outside
ROWS = 700  # strips that fill what is not liquid
SOLID = {
    Role.PART: (0.30, 0.30, 0.30),
    Role.THIEF: (0.38, 0.36, 0.34),
    Role.ANODE: (0.36, 0.13, 0.05),
    Role.INSULATOR: (0.75, 0.75, 0.72),
}
EDGE, THICK = (0.02, 0.02, 0.025), 0.022  # of outlines; how thick a sheet is drawn
EQUAL, CURRENT, SURFACE = (0.95, 0.95, 0.95), (0.012, 0.012, 0.016), (0.10, 0.30, 0.62)


def picture(study: Study, path: Path | str) -> None:
    """Render the cut to a .png. Raises InputError where the study holds none."""
    if study.results.cut is None:
        why = study.reasons.get("cut", LEFT_OUT)
        if why == LEFT_OUT:
            raise InputError(filled("{effort.skip}: it leaves out the cut, or the potential, that the picture is of"))
        raise InputError(why)
    cut: Cut = study.results.cut
    with sheet.blank() as page:
        page.write(study.part.name, LEFT, 1.28, 0.15, INK)
        where = localized(filled("cut {where}", where=cuts.where(cut)))
        volts = localized(filled("{voltage} from the wire to the anodes", voltage=figure(cut.voltage, "V")))
        page.write(f"{where}   ·   {volts}", LEFT, 1.12, 0.078, FAINT)
        _Plane(page, cut).draw()
        lines = [localized(sentence) for sentence in cuts.caption(cut)]
        for line, words in enumerate((" ".join(lines[:2]), " ".join(lines[2:]))):
            page.write(words, LEFT, LOW - 0.09 - 0.075 * line, 0.06, FAINT)
        sheet.legend(page, cuts.drawing(cut))
        page.render(Path(path))


class _Plane:
    """The cut at its place on the sheet."""

    def __init__(self, page: Sheet, cut: Cut) -> None:
        self._page, self._cut = page, cut
        self._low = np.array([cut.grid.across[0], cut.grid.up[0]])
        self._high = np.array([cut.grid.across[-1], cut.grid.up[-1]])
        self._scale = float(min(2 * HALF / (self._high - self._low)[0], (HIGH - LOW) / (self._high - self._low)[1]))

    def at(self, places: NDArray[np.float64], z: float) -> NDArray[np.float64]:
        """Places of the plane (..., 2) on the sheet (..., 3)."""
        flat = (places - 0.5 * (self._low + self._high)) * self._scale + (0.0, 0.5 * (LOW + HIGH))
        return np.concatenate([flat, np.full((*flat.shape[:-1], 1), z)], axis=-1)

    def draw(self) -> None:
        page, cut = self._page, self._cut
        drawn = cuts.drawing(cut)
        places, corners = cuts.cells(cut)
        page.add(self.at(places, 0.0), corners, drawn.colored(drawn.values[corners].mean(axis=1)))
        page.lines(self.at(cut.equipotentials, 0.01), 0.005, EQUAL)
        page.lines(self.at(cuts.segments(cut), 0.02), 0.008, CURRENT)
        for outline in cut.outlines:
            self._outline(outline)
        if cut.surface:
            top = np.array([[(self._low[0], self._high[1]), self._high]])
            page.lines(self.at(top, 0.07), 0.02, SURFACE)
        self._measure()

    def _outline(self, outline: Outline) -> None:
        """One thing in section: filled where it is solid, a thick line where it is a sheet."""
        section = outline.section
        if not len(section.segments):
            return
        encloses = section.inward and not outline.sheet
        if encloses:
            self._fill(_around(section, self._low, self._high), PAPER)
            thick, ink = (0.012, EDGE) if outline.wall else (THICK, SOLID[outline.role])
            self._page.lines(self.at(section.segments, 0.06), thick, ink)
        elif outline.sheet:
            self._page.lines(self.at(section.segments, 0.05), THICK, SOLID[outline.role])
        else:
            self._fill(section, SOLID[outline.role])
            self._page.lines(self.at(section.segments, 0.05), 0.01, EDGE)
        if outline.role != Role.PART and not encloses:
            self._name(outline)

    def _name(self, outline: Outline) -> None:
        """Its name: beyond the side of the plane that it stands at, or else over it."""
        ends = outline.section.segments.reshape(-1, 2)
        share = float(((ends.mean(axis=0) - self._low) / (self._high - self._low))[0])
        low, high = self.at(ends, 0.0).min(axis=0), self.at(ends, 0.0).max(axis=0)
        if BESIDE < share < 1.0 - BESIDE:
            x, y, align, ink = 0.5 * (low + high)[0], high[1] + 0.03, 0.5, EQUAL
        else:
            rim, way = (self._low, -1.0) if share < 0.5 else (self._high, 1.0)
            x, y, align, ink = self.at(rim, 0.0)[0] + 0.04 * way, 0.5 * (low + high)[1], 0.5 - 0.5 * way, INK
        self._page.write(outline.name, float(x), float(y), 0.06, ink, align=align)

    def _fill(self, section: Section, ink: tuple[float, ...]) -> None:
        edges = np.linspace(self._low[1], self._high[1], ROWS + 1)
        row, ends = spans(section, 0.5 * (edges[1:] + edges[:-1]))
        ends = np.clip(ends, self._low[0], self._high[0])
        (left, right), (low, high) = ends.T, (edges[row], edges[row + 1])
        corners = np.stack([left, low, right, low, right, high, left, high], axis=1).reshape(-1, 2)
        quads = 4 * np.arange(len(row))[:, None]
        halves = np.concatenate([quads + (0, 1, 2), quads + (0, 2, 3)], axis=1).reshape(-1, 3)
        self._page.add(self.at(corners, 0.04), halves, ink)

    def _measure(self) -> None:
        """A bar of a round length in the lower left corner."""
        length = float(color.ticks(0.0, 0.3 * float(self._high[0] - self._low[0]) / MM, 3)[1]) * MM
        start = self._low + 0.06 / self._scale
        bar = np.array([[start, start + (length, 0.0)]])
        self._page.lines(self.at(bar, 0.08), 0.014, EQUAL)
        x, y, _ = self.at(bar[0].mean(axis=0), 0.0)
        self._page.write(localized(f"{length / MM:g} mm"), float(x), float(y) + 0.03, 0.055, EQUAL, align=0.5)


def _around(walls: Section, low: NDArray[np.float64], high: NDArray[np.float64]) -> Section:
    """The part of the plane outside walls that face inward."""
    sides = np.array([[low, (low[0], high[1])], [(high[0], low[1]), high]])
    return Section(
        np.concatenate([walls.segments, sides]),
        np.concatenate([walls.outward, [[-1.0, 0.0], [1.0, 0.0]]]),
        np.append(walls.row, [0, 0]),
    )
