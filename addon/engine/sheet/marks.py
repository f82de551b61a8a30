"""Numbers at places and the sentences that they stand for, drawn on a page in its theme."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from ..filled import filled
from ..reporting.plan_text import figure
from ..study import Study
from ..units import CM2
from .callouts import Leader
from .notes import Callout
from .page import Box, Color, Label, Line, Page

Theme: TypeAlias = Literal["light", "dark"]
INKS: Mapping[Theme, tuple[Color, Color, Color]] = {  # paper, ink, faint ink
    "light": ((1.0, 1.0, 1.0), (0.07, 0.07, 0.07), (0.40, 0.40, 0.40)),
    "dark": ((0.10, 0.10, 0.11), (0.95, 0.95, 0.95), (0.66, 0.66, 0.66)),
}
LABEL_SIZE_MM, SMALL_SIZE_MM = 3.4, 2.8  # mm: sizes of letters
DISK_MM, DOT_MM, NUMBER_GAP_MM = 4.6, 1.5, 6.2  # mm: of a number, of a place, between numbers
HALO_MM = 0.6  # mm of paper along a leader, so that it is seen on whatever lies below it
BEND_MM = 1.5  # mm beside the part, where a leader turns to its number


@dataclass(frozen=True)
class Style:
    """Colors of a page: paper, ink, and a faint ink for secondary things."""

    paper: Color
    ink: Color
    faint: Color


def draw_leaders(page: Page, style: Style, leaders: Sequence[Leader]) -> None:
    """Numbers with their leaders and the dots at their places."""
    for leader in leaders:
        page.add(Line(leader.points, style.paper, HALO_MM), Line(leader.points, style.faint, 0.2))
        page.add(Box(leader.dot[0] - DOT_MM / 2, leader.dot[1] - DOT_MM / 2, DOT_MM, DOT_MM, style.paper, round=True))
        page.add(
            Box(leader.dot[0] - DOT_MM / 2, leader.dot[1] - DOT_MM / 2, DOT_MM, DOT_MM, style.ink, edge=0.3, round=True)
        )
        draw_number(page, style, leader.points[-1], leader.index + 1)


def draw_number(page: Page, style: Style, middle: tuple[float, float], number: int) -> None:
    """A number in its disk."""
    x, y = middle
    page.add(Box(x - DISK_MM / 2, y - DISK_MM / 2, DISK_MM, DISK_MM, style.ink, round=True))
    page.add(Label((x, y + 0.36 * LABEL_SIZE_MM), str(number), LABEL_SIZE_MM, style.paper, "middle"))


def draw_sentences(
    page: Page, study: Study, style: Style, callouts: Sequence[Callout], box: tuple[float, float, float]
) -> float:
    """The numbered sentences. box : left, top, width, mm. Returns the foot of the line below them."""
    left, y, width = box
    y += LABEL_SIZE_MM
    for number, callout in enumerate(callouts, 1):
        draw_number(page, style, (left + DISK_MM / 2, y - 0.36 * LABEL_SIZE_MM), number)
        y = page.paragraph((left + DISK_MM + 2, y), callout.words, LABEL_SIZE_MM, style.ink, width - DISK_MM - 2) + 1.6
    area = figure(float(study.surface.plated_area.sum()) / CM2, 2)
    metal = study.job_used.bath.metal
    last = filled(
        "{metal} on {area} cm² of {plastic}. Calculated, not measured.",
        metal=f"{metal[:1].upper()}{metal[1:]}",
        area=area,
        plastic=study.job.part.material,
    )
    return page.paragraph((left, y + 1), last, SMALL_SIZE_MM, style.faint, width)
