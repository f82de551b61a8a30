"""The client's sheet: the part in metal, the thickness map, and notes on it, without electrical figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .. import color
from ..errors import InputError
from ..filled import filled
from ..reporting import words
from ..reporting.language import ENGLISH, Language, translated
from ..reporting.plan_text import figure
from ..study import Study
from ..units import MM, UM, mm
from ..visibility.shaded import Sight, broadside, sight, view
from .callouts import Frame, place_leaders
from .finish import METAL_GLOSS, PLASTIC, coat_color, finish_colors, map_colors, map_kinds, map_limits
from .glyphs import Glyphs
from .marks import BEND_MM, DISK_MM, INKS, NUMBER_GAP_MM, SMALL_SIZE_MM, Style, Theme, draw_leaders, draw_sentences
from .notes import Callout, best_view_and_callouts
from .page import Box, Label, Line, Page, Picture

Form: TypeAlias = Literal["portrait", "landscape", "square", "wide"]
Area: TypeAlias = tuple[float, float, float, float]  # left, top, width, height, mm
FORMS: Mapping[Form, tuple[float, float]] = {  # mm: A4 upright and across (ISO 216), a square, 16:9
    "portrait": (210.0, 297.0),
    "landscape": (297.0, 210.0),
    "square": (210.0, 210.0),
    "wide": (297.0, 167.0625),
}
PAGE_MARGIN_MM, TITLE_SIZE_MM = 12.0, 7.0  # mm
MAKER_MARK_MM = 42.0, 17.0  # mm, place for the maker's logo
BROAD_VIEWS_SHARE, TALL_VIEWS_SHARE = 0.70, 0.62  # of a broad page's width, of a tall one's height, that the views take
TALL_STRIP_SHARE, BROAD_STRIP_SHARE = 0.17, 0.20  # of a page's height, that the strip below the views takes
MIN_STRIP_BESIDE_MM, MAX_STRIP_BESIDE_MM = 62.0, 96.0  # of its height in two rows beside the views
LEGEND_HEIGHT_MM = 27.0  # mm below the views of a broad page
GUTTER_MM = 9.0  # mm beside a view, for its numbers
STRIP_PIXELS = 320
SCALE_BAR_STEPS = (1, 2, 5)


def page(
    study: Study,
    glyphs: Glyphs,
    form: Form = "portrait",
    theme: Theme = "light",
    date: str = "",
    mark: NDArray[np.uint8] | None = None,
    language: Language = ENGLISH,
) -> Page:
    """The sheet, set. date : where the job says none; mark : (h, w, 4) the maker's own. Raises InputError where the
    thickness is not known."""
    if study.results.field is None:
        raise InputError(
            filled(
                "sheet: the thickness was not calculated, so there is nothing to show; take field out of {effort.skip},"
                " or see the warnings"
            )
        )
    style = Style(*INKS[theme])
    width, height = FORMS[form]
    title = translated(filled("{name}: plated part", name=_title(study)), language)
    page = Page(width, height, style.paper, glyphs, title, language=language)
    view, callouts = best_view_and_callouts(study)
    top = _head(page, study, style, date, mark)
    inside, bottom = width - 2 * PAGE_MARGIN_MM, height - PAGE_MARGIN_MM
    if height > width:
        strip = TALL_STRIP_SHARE * height
        views = (bottom - top - strip) * TALL_VIEWS_SHARE
        foot = _views_and_legend(page, study, style, view, callouts, (PAGE_MARGIN_MM, top, inside, views))
        draw_sentences(page, study, style, callouts, (PAGE_MARGIN_MM, foot + 6, inside))
        _strip(page, study, style, view, (PAGE_MARGIN_MM, bottom - strip, inside, strip))
        return page
    side = BROAD_VIEWS_SHARE * inside
    left, column = PAGE_MARGIN_MM + side + 6, inside - side - 6
    room = bottom - 6 - draw_sentences(page, study, style, callouts, (left, top + 4, column))
    beside = width > height and room >= MIN_STRIP_BESIDE_MM  # below the sentences, if there is room
    strip = BROAD_STRIP_SHARE * height
    views = bottom - top - LEGEND_HEIGHT_MM - (0.0 if beside else strip)
    _views_and_legend(page, study, style, view, callouts, (PAGE_MARGIN_MM, top, side, views))
    if beside:
        high = min(room, MAX_STRIP_BESIDE_MM)
        _strip(page, study, style, view, (left, bottom - high, column, high), columns=2)
    else:
        _strip(page, study, style, view, (PAGE_MARGIN_MM, bottom - strip, side, strip))
    return page


def _views_and_legend(page: Page, study: Study, style: Style, view: Sight, callouts: list[Callout], box: Area) -> float:
    """Both views in a box, and the legend below the map. Returns the legend's foot."""
    left, _, width, _ = box
    foot = _views(page, study, style, view, callouts, box)
    return _legend(page, study, style, (left + width / 2 + GUTTER_MM, foot + 8, width / 2 - 2 * GUTTER_MM))


def _title(study: Study) -> str:
    return study.job.sheet.title or study.part.name


def _head(page: Page, study: Study, style: Style, date: str, mark: NDArray[np.uint8] | None) -> float:
    """Title, date, revision, project, and the maker's mark or its place. Returns where the next thing may begin."""
    wide, high = MAKER_MARK_MM
    left, top = page.width - PAGE_MARGIN_MM - wide, PAGE_MARGIN_MM - 2
    sheet = study.job.sheet
    written = (("Date", sheet.date or date, 10), ("Revision", sheet.revision, 6), ("Project", sheet.project, 14))
    row = "     ".join(f"{page.translated(name)} {value or '_' * blank}" for name, value, blank in written)
    for line, size, ink, down in (
        (_title(study), TITLE_SIZE_MM, style.ink, 6.0),
        (row, SMALL_SIZE_MM, style.faint, 13.0),
    ):
        place = PAGE_MARGIN_MM, PAGE_MARGIN_MM + down
        page.add(Label(place, page.shortened(line, size, left - PAGE_MARGIN_MM - 4), size, ink))
    if mark is None:
        page.add(Box(left, top, wide, high, style.faint, edge=0.15))
    else:
        rows, columns = mark.shape[:2]
        pixel = min(wide / columns, high / rows)
        shown = columns * pixel, rows * pixel
        page.add(Picture(left + wide - shown[0], top + (high - shown[1]) / 2, *shown, mark))
    return PAGE_MARGIN_MM + 20


def _views(
    page: Page,
    study: Study,
    style: Style,
    view: Sight,
    callouts: list[Callout],
    box: Area,
) -> float:
    """The part in metal, and beside it the map from the same side at the same scale. Returns the foot."""
    left, top, width, height = box
    rows, columns = view.size
    room = width / 2 - 2 * GUTTER_MM
    pixel = min(room / columns, (height - 6) / rows)
    down = top + (height - 6 - rows * pixel) / 2
    pictures = [
        ("Finished", view.painted(finish_colors(study), METAL_GLOSS[study.job.sheet.finish])),
        ("Thickness of the metal", view.painted(map_colors(study), kind=map_kinds(study))),
    ]
    for number, (title, pixels) in enumerate(pictures):
        start = left + number * width / 2
        x = start + GUTTER_MM + (room - columns * pixel) / 2
        page.add(Picture(x, down, columns * pixel, rows * pixel, np.dstack([pixels, view.alpha])))
        page.add(Label((start + width / 4, top + height), page.translated(title), SMALL_SIZE_MM, style.faint, "middle"))
    half = left + width / 2
    frame = Frame(
        left=x,
        top=down,
        pixel=pixel,
        near=(x - BEND_MM, x + columns * pixel + BEND_MM),
        far=(half + DISK_MM / 2, left + width - DISK_MM / 2),
        ceiling=top + DISK_MM / 2,
        floor=top + height - 8,
    )
    places = view.place(np.array([callout.point for callout in callouts]).reshape(-1, 3))
    draw_leaders(page, style, place_leaders(places, view.alpha, frame, NUMBER_GAP_MM))
    _scale_bar(page, study, style, view, pixel, (left + GUTTER_MM, top + height + 6))
    return top + height


def _scale_bar(page: Page, study: Study, style: Style, view: Sight, pixel: float, place: tuple[float, float]) -> None:
    """A bar of 1, 2 or 5 times a power of ten mm, at most a third of the part, and the outer dimensions."""
    per_meter = pixel / view.pixel  # mm on the page for a meter of the part
    length = bar_length(view.size[1] * view.pixel / 3)
    x, y = place
    drawn = length * per_meter
    page.add(Line(((x, y), (x + drawn, y)), style.ink, 0.5))
    page.add(
        Line(((x, y - 1), (x, y + 1)), style.ink, 0.3), Line(((x + drawn, y - 1), (x + drawn, y + 1)), style.ink, 0.3)
    )
    page.add(Label((x + drawn / 2, y + 4), f"{mm(length, 2)} mm", SMALL_SIZE_MM, style.ink, "middle"))
    size = " × ".join(words.outer_dimensions(study.surface.bounds))
    page.add(Label((x, y + 8.5), page.translated(filled("{size} mm in all", size=size)), SMALL_SIZE_MM, style.ink))


def bar_length(longest: float) -> float:
    """The longest of 1, 2, 5 times a power of ten millimeters that is no longer than `longest`, meters."""
    power = 10.0 ** np.floor(np.log10(longest / MM))
    return float(max(step * power for step in SCALE_BAR_STEPS if step * power <= longest / MM * (1 + 1e-9))) * MM


def _legend(page: Page, study: Study, style: Style, box: tuple[float, float, float]) -> float:
    """The ramp with round numbers, the wanted thickness and the range of nine tenths of the area. Returns the foot."""
    left, top, width = box
    field = study.results.field
    assert field is not None
    low, high = map_limits(study)
    bar = color.encoded(color.ramp(np.linspace(0, 1, 256)))
    pixels = np.full((1, 256, 4), 255, np.uint8)
    pixels[0, :, :3] = np.rint(255 * np.clip(bar, 0, 1))
    page.add(Picture(left, top, width, 4, pixels))
    for tick in color.ticks(low / UM, high / UM, 6):
        x = left + width * (tick * UM - low) / (high - low)
        page.add(Line(((x, top + 4), (x, top + 5)), style.ink, 0.2))
        page.add(Label((x, top + 8), f"{tick:g}", SMALL_SIZE_MM, style.ink, "middle"))
    page.add(Label((left + width + 2, top + 8), "µm", SMALL_SIZE_MM, style.ink))

    def at(value: float) -> float:
        return left + width * float(np.clip((value - low) / (high - low), 0.0, 1.0))

    wanted, spread = study.job.target.thickness, field.thickness_spread
    page.add(Line(((at(wanted), top - 2.2), (at(wanted), top)), style.ink, 0.6))
    page.add(
        Label(
            (at(wanted), top - 3.4),
            page.translated(filled("wanted {thickness} µm", thickness=figure(wanted / UM, 2))),
            SMALL_SIZE_MM,
            style.ink,
            "middle",
        )
    )
    page.add(Line(((at(spread.p5), top + 10), (at(spread.p95), top + 10)), style.ink, 0.6))
    most = filled(
        "nine tenths of the surface: {low} to {high} µm",
        low=figure(spread.p5 / UM, 2),
        high=figure(spread.p95 / UM, 2),
    )
    page.add(Label((left + width / 2, top + 13.5), page.translated(most), SMALL_SIZE_MM, style.ink, "middle"))
    return top + 15


def _strip(page: Page, study: Study, style: Style, look: Sight, box: Area, columns: int = 4) -> None:
    """Print, coat, plated from the same side, and how it hangs in the bath."""
    left, top, width, height = box
    faces = len(study.surface.triangles)
    coat = coat_color(study.job_used.coat.name)
    small = sight(study.surface, look.turn, STRIP_PIXELS)
    hangs = sight(study.surface, view(broadside(study.surface, study.hung.part.up), study.hung.part.up), STRIP_PIXELS)
    printed, coated = (np.tile(tint, (faces, 1)) for tint in (PLASTIC, coat))
    steps = [("Printed", small, printed, 0.0), ("Coated", small, coated, 0.1)]
    gloss = METAL_GLOSS[study.job.sheet.finish]
    steps += [("Plated", small, finish_colors(study), gloss), ("Hangs this way", hangs, printed, 0.0)]
    wide, high = width / columns, height / (len(steps) // columns)  # mm of a figure's place
    gap = 0.0 if columns == len(steps) else 4.0  # mm below the words of the row above
    room = np.array([high - 8 - gap, wide - 8])
    scale = min(float((room / (np.array(seen.size) * seen.pixel)).min()) for seen in (small, hangs))  # mm a m, of all
    for number, (title, seen, tint, gloss) in enumerate(steps):
        row, column = divmod(number, columns)
        middle, ceiling = left + (column + 0.5) * wide, top + row * high
        across, down = seen.size[1] * scale * seen.pixel, seen.size[0] * scale * seen.pixel
        x, y = middle - across / 2, ceiling + gap + (high - 6 - gap - down) / 2
        page.add(Picture(x, y, across, down, np.dstack([seen.painted(tint, gloss), seen.alpha])))
        page.add(Label((middle, ceiling + high), page.translated(title), SMALL_SIZE_MM, style.faint, "middle"))
    arrow, foot, tip = left + width - 2, top + height - 10, top + height - high + gap + 2
    page.add(Line(((arrow, foot), (arrow, tip)), style.ink, 0.3))
    page.add(Line(((arrow - 1.5, tip + 3), (arrow, tip), (arrow + 1.5, tip + 3)), style.ink, 0.3))
    page.add(Label((arrow, foot + 4), page.translated("up"), SMALL_SIZE_MM, style.ink, "middle"))
