"""What the client's sheet shows: the part in metal, the map of its thickness, what to know of it, and no amperes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .. import color
from ..errors import InputError
from ..field.result import Flag
from ..geometry.frames import unit
from ..reporting import words
from ..reporting.plan_text import figure
from ..study import Study
from ..units import CM2, MM, UM, mm
from ..visibility.shaded import Sight, broadside, sight, view
from .callouts import Frame, placed
from .glyphs import Glyphs
from .page import Box, Color, Label, Line, Page, Picture

Form: TypeAlias = Literal["portrait", "landscape", "square", "wide"]
Theme: TypeAlias = Literal["light", "dark"]
Area: TypeAlias = tuple[float, float, float, float]  # left, top, width, height, mm
FORMS: Mapping[Form, tuple[float, float]] = {  # mm: A4 upright and across (ISO 216), a square, 16:9
    "portrait": (210.0, 297.0),
    "landscape": (297.0, 210.0),
    "square": (210.0, 210.0),
    "wide": (297.0, 167.0625),
}
INKS: Mapping[Theme, tuple[Color, Color, Color]] = {  # paper, ink, faint ink
    "light": ((1.0, 1.0, 1.0), (0.07, 0.07, 0.07), (0.40, 0.40, 0.40)),
    "dark": ((0.10, 0.10, 0.11), (0.95, 0.95, 0.95), (0.66, 0.66, 0.66)),
}
# Display colors as the eye takes them, common practice, no source; a coat by a word of its name
METALS: Mapping[str, Color] = {"copper": (0.86, 0.52, 0.38), "nickel": (0.80, 0.77, 0.70)}
COATS: Mapping[str, Color] = {
    "copper": (0.55, 0.36, 0.28),
    "silver": (0.66, 0.66, 0.68),
    "graphite": (0.24, 0.24, 0.25),
    "zinc": (0.55, 0.57, 0.60),
    "nickel": (0.45, 0.44, 0.42),
}
PLASTIC, PLAIN_METAL, PLAIN_COAT = (0.90, 0.89, 0.86), (0.75, 0.75, 0.75), (0.35, 0.35, 0.35)
METAL_GLOSS = {"bright": 0.45, "satin": 0.14, "patina": 0.10}  # white added where a finish mirrors the light
PATINAS: Mapping[str, Color] = {"copper": (0.22, 0.13, 0.10)}  # what darkens it where it is sheltered
PLAIN_PATINA = (0.20, 0.20, 0.21)
PAGE_MARGIN, LABEL, SMALL, TITLE = 12.0, 3.4, 2.8, 7.0  # mm
OWN_MARK = 42.0, 17.0  # mm: the place that is left for the mark of who made it
DISK, DOT, NUMBER_GAP = 4.6, 1.5, 6.2  # mm: of a number, of a place, between numbers
SIDE_SHARE, TALL_SHARE = 0.70, 0.62  # of a broad page's width, of a tall one's height, that the views take
LEGEND_HEIGHT = 27.0  # mm below the views of a broad page
BEND = 1.5  # mm beside the part, where a leader turns to its number
GUTTER = 9.0  # mm beside a view, for its numbers
HERO_PIXELS, STRIP_PIXELS, TRIAL_PIXELS = 1000, 320, 96
RISE = 0.42  # upward share of a line of sight from a little above
MIN_GAIN_OF_HIGH = 1.5  # by which the view from higher up must show more: it hides how a tall part is built
AZIMUTHS = 12  # views that are tried, none square to the model's axes
ELEVATIONS = {RISE: 1.0, 1.0: MIN_GAIN_OF_HIGH}  # the rise of each, and what it must gain
MAX_CALLOUTS = 5
FIT_WALL_SHARE = 0.05  # of its diameter that the middle of a flat face may lie off the wall of a fit
SCALE_STEPS = (1, 2, 5)


@dataclass(frozen=True)
class Callout:
    """A place with one plain sentence."""

    point: NDArray[np.float64]
    words: str


@dataclass(frozen=True)
class Style:
    paper: Color
    ink: Color
    faint: Color


def page(
    study: Study,
    glyphs: Glyphs,
    form: Form = "portrait",
    theme: Theme = "light",
    date: str = "",
    mark: NDArray[np.uint8] | None = None,
) -> Page:
    """The sheet, set. date : where the job says none; mark : (h, w, 4) the maker's own. Raises InputError where the
    thickness is not known."""
    if study.results.field is None:
        raise InputError(
            "sheet: the thickness was not calculated, so there is nothing to show; take field out of effort.skip, or"
            " see the warnings"
        )
    style = Style(*INKS[theme])
    width, height = FORMS[form]
    made = Page(width, height, style.paper, glyphs, f"{_title(study)}: plated part")
    found, callouts = chosen(study)
    top = _head(made, study, style, date, mark)
    tall = height > width
    strip = 0.17 * height if tall else 0.20 * height
    side = width - 2 * PAGE_MARGIN if tall else SIDE_SHARE * (width - 2 * PAGE_MARGIN)
    views = (height - top - PAGE_MARGIN - strip) * (TALL_SHARE if tall else 1.0) - (0.0 if tall else LEGEND_HEIGHT)
    foot = _views(made, study, style, found, callouts, (PAGE_MARGIN, top, side, views))
    foot = _legend(made, study, style, (PAGE_MARGIN + side / 2 + GUTTER, foot + 8, side / 2 - 2 * GUTTER))
    box = (
        (PAGE_MARGIN, foot + 6, width - 2 * PAGE_MARGIN)
        if tall
        else (PAGE_MARGIN + side + 6, top + 4, width - 2 * PAGE_MARGIN - side - 6)
    )
    _list(made, study, style, callouts, box)
    _strip(made, study, style, found, (PAGE_MARGIN, height - PAGE_MARGIN - strip, side, strip))
    return made


def chosen(study: Study) -> tuple[Sight, list[Callout]]:
    """The side that the part is shown from, and what is told of the places in sight. Needs a thickness."""
    found = _best_view(study)
    return found, _callouts(study, found)


def _title(study: Study) -> str:
    return study.job.sheet.title or study.part.name


def _head(made: Page, study: Study, style: Style, date: str, mark: NDArray[np.uint8] | None) -> float:
    """Title, date, revision, project, and the maker's mark or its place. Returns where the next thing may begin."""
    wide, high = OWN_MARK
    left, top = made.width - PAGE_MARGIN - wide, PAGE_MARGIN - 2
    said = study.job.sheet
    written = (("Date", said.date or date, 10), ("Revision", said.revision, 6), ("Project", said.project, 14))
    filled = "     ".join(f"{name} {value or '_' * blank}" for name, value, blank in written)
    for line, size, ink, down in ((_title(study), TITLE, style.ink, 6.0), (filled, SMALL, style.faint, 13.0)):
        place = PAGE_MARGIN, PAGE_MARGIN + down
        made.add(Label(place, made.shortened(line, size, left - PAGE_MARGIN - 4), size, ink))
    if mark is None:
        made.add(Box(left, top, wide, high, style.faint, edge=0.15))
    else:
        rows, columns = mark.shape[:2]
        pixel = min(wide / columns, high / rows)
        shown = columns * pixel, rows * pixel
        made.add(Picture(left + wide - shown[0], top + (high - shown[1]) / 2, *shown, mark))
    return PAGE_MARGIN + 20


def _views(
    made: Page,
    study: Study,
    style: Style,
    found: Sight,
    callouts: list[Callout],
    box: Area,
) -> float:
    """The part in metal, and beside it the map from the same side at the same scale. Returns the foot."""
    left, top, width, height = box
    rows, columns = found.size
    room = width / 2 - 2 * GUTTER
    pixel = min(room / columns, (height - 6) / rows)
    down = top + (height - 6 - rows * pixel) / 2
    pictures = [
        ("Finished", found.painted(finished(study), METAL_GLOSS[study.job.sheet.finish])),
        ("Thickness of the metal", found.painted(colored(study))),
    ]
    for number, (title, pixels) in enumerate(pictures):
        start = left + number * width / 2
        x = start + GUTTER + (room - columns * pixel) / 2
        made.add(Picture(x, down, columns * pixel, rows * pixel, np.dstack([pixels, found.alpha])))
        made.add(Label((start + width / 4, top + height), title, SMALL, style.faint, "middle"))
    half = left + width / 2
    frame = Frame(
        left=x,
        top=down,
        pixel=pixel,
        near=(x - BEND, x + columns * pixel + BEND),
        far=(half + DISK / 2, left + width - DISK / 2),
        ceiling=top + DISK / 2,
        floor=top + height - 8,
    )
    _leaders(made, style, found, callouts, frame)
    _scale_bar(made, study, style, found, pixel, (left + GUTTER, top + height + 6))
    return top + height


def _leaders(made: Page, style: Style, found: Sight, callouts: list[Callout], frame: Frame) -> None:
    if not callouts:
        return
    places = found.place([one.point for one in callouts])
    for one in placed(places, found.alpha, frame, NUMBER_GAP):
        made.add(Line(one.points, style.faint, 0.2))
        made.add(Box(one.dot[0] - DOT / 2, one.dot[1] - DOT / 2, DOT, DOT, style.paper, round=True))
        made.add(Box(one.dot[0] - DOT / 2, one.dot[1] - DOT / 2, DOT, DOT, style.ink, edge=0.3, round=True))
        x, y = one.points[-1]
        made.add(Box(x - DISK / 2, y - DISK / 2, DISK, DISK, style.ink, round=True))
        made.add(Label((x, y + 0.36 * LABEL), str(one.which + 1), LABEL, style.paper, "middle"))


def _scale_bar(made: Page, study: Study, style: Style, found: Sight, pixel: float, place: tuple[float, float]) -> None:
    """A bar of 1, 2 or 5 times a power of ten mm, about a quarter of the part, and the outer dimensions."""
    per_meter = pixel / found.pixel  # mm on the page for a meter of the part
    length = bar_length(found.size[1] * found.pixel / 4)
    x, y = place
    drawn = length * per_meter
    made.add(Line(((x, y), (x + drawn, y)), style.ink, 0.5))
    made.add(
        Line(((x, y - 1), (x, y + 1)), style.ink, 0.3), Line(((x + drawn, y - 1), (x + drawn, y + 1)), style.ink, 0.3)
    )
    made.add(Label((x + drawn / 2, y + 4), f"{mm(length, 2)} mm", SMALL, style.ink, "middle"))
    low, high = study.surface.bounds
    size = " × ".join(mm(float(side)) for side in high - low)
    made.add(Label((x, y + 8.5), f"{size} mm in all", SMALL, style.ink))


def bar_length(most: float) -> float:
    """The longest of 1, 2, 5 times a power of ten millimeters that is no longer than `most`, meters."""
    power = 10.0 ** np.floor(np.log10(most / MM))
    return float(max(step * power for step in SCALE_STEPS if step * power <= most / MM * (1 + 1e-9))) * MM


def _legend(made: Page, study: Study, style: Style, box: tuple[float, float, float]) -> float:
    """The ramp with round numbers, the wanted thickness and the range of nine tenths of the area. Returns the foot."""
    left, top, width = box
    field = study.results.field
    assert field is not None
    low, high = _limits(study)
    bar = color.encoded(color.ramp(np.linspace(0, 1, 256)))
    pixels = np.full((1, 256, 4), 255, np.uint8)
    pixels[0, :, :3] = np.rint(255 * np.clip(bar, 0, 1))
    made.add(Picture(left, top, width, 4, pixels))
    for tick in color.ticks(low / UM, high / UM, 6):
        x = left + width * (tick * UM - low) / (high - low)
        made.add(Line(((x, top + 4), (x, top + 5)), style.ink, 0.2))
        made.add(Label((x, top + 8), f"{tick:g}", SMALL, style.ink, "middle"))
    made.add(Label((left + width + 2, top + 8), "µm", SMALL, style.ink))

    def at(value: float) -> float:
        return left + width * float(np.clip((value - low) / (high - low), 0.0, 1.0))

    wanted, spread = study.job.target.thickness, field.thickness_spread
    made.add(Line(((at(wanted), top - 2.2), (at(wanted), top)), style.ink, 0.6))
    made.add(Label((at(wanted), top - 2.8), f"wanted {figure(wanted / UM, 2)} µm", SMALL, style.ink, "middle"))
    made.add(Line(((at(spread.p5), top + 10), (at(spread.p95), top + 10)), style.ink, 0.6))
    told = f"nine tenths of the surface: {figure(spread.p5 / UM, 2)} to {figure(spread.p95 / UM, 2)} µm"
    made.add(Label((left + width / 2, top + 13.5), told, SMALL, style.ink, "middle"))
    return top + 15


def _list(made: Page, study: Study, style: Style, callouts: list[Callout], box: tuple[float, float, float]) -> None:
    """The numbered sentences."""
    left, y, width = box
    y += LABEL
    for number, one in enumerate(callouts, 1):
        made.add(Box(left, y - 0.36 * LABEL - DISK / 2, DISK, DISK, style.ink, round=True))
        made.add(Label((left + DISK / 2, y), str(number), LABEL, style.paper, "middle"))
        y = made.paragraph((left + DISK + 2, y), one.words, LABEL, style.ink, width - DISK - 2) + 1.6
    area = figure(float(study.surface.plated_area.sum()) / CM2, 2)
    metal = study.job_used.bath.metal
    told = f"{metal[:1].upper()}{metal[1:]} on {area} cm² of {study.job.part.material}. Calculated, not measured."
    made.paragraph((left, y + 1), told, SMALL, style.faint, width)


def _strip(made: Page, study: Study, style: Style, found: Sight, box: Area) -> None:
    """Print, coat, plated from the same side, and how it hangs in the bath."""
    left, top, width, height = box
    faces = len(study.surface.triangles)
    coat = next((tint for name, tint in COATS.items() if name in study.job_used.coat.name), PLAIN_COAT)
    small = sight(study.surface, found.turn, STRIP_PIXELS)
    hangs = sight(study.surface, view(broadside(study.surface, study.hung.part.up), study.hung.part.up), STRIP_PIXELS)
    printed, coated = (np.tile(tint, (faces, 1)) for tint in (PLASTIC, coat))
    steps = [("Printed", small, printed, 0.0), ("Coated", small, coated, 0.1)]
    gloss = METAL_GLOSS[study.job.sheet.finish]
    steps += [("Plated", small, finished(study), gloss), ("Hangs this way", hangs, printed, 0.0)]
    for number, (title, seen, tint, gloss) in enumerate(steps):
        middle = left + (number + 0.5) * width / len(steps)
        rows, columns = seen.size
        pixel = min((width / len(steps) - 8) / columns, (height - 8) / rows)
        x, y = middle - columns * pixel / 2, top + (height - 6 - rows * pixel) / 2
        made.add(Picture(x, y, columns * pixel, rows * pixel, np.dstack([seen.painted(tint, gloss), seen.alpha])))
        made.add(Label((middle, top + height), title, SMALL, style.faint, "middle"))
    arrow = left + width - 2
    foot, tip = top + height - 10, top + 2
    made.add(Line(((arrow, foot), (arrow, tip)), style.ink, 0.3))
    made.add(Line(((arrow - 1.5, tip + 3), (arrow, tip), (arrow + 1.5, tip + 3)), style.ink, 0.3))
    made.add(Label((arrow, foot + 4), "up", SMALL, style.ink, "middle"))


def finished(study: Study) -> NDArray[np.float64]:
    """(m, 3) each face as it comes out: metal, its coat where it stays bare, plastic where it is not plated."""
    field, surface = study.results.field, study.surface
    assert field is not None
    name = study.job_used.bath.metal
    tint = np.tile(METALS.get(name, PLAIN_METAL), (len(surface.triangles), 1))
    if study.job.sheet.finish == "patina":
        seen = study.results.openness
        open_to = np.full(len(tint), 0.5) if seen is None else np.clip(np.nan_to_num(seen.openness, nan=0.5), 0.0, 1.0)
        dark = np.array(PATINAS.get(name, PLAIN_PATINA))
        tint = dark + open_to[:, None] ** 2 * (tint - dark)  # rubbed back where a hand reaches
    coat = next((one for name, one in COATS.items() if name in study.job_used.coat.name), PLAIN_COAT)
    tint[field.flag == Flag.BARE] = coat
    tint[~surface.plated] = PLASTIC
    return tint


def _limits(study: Study) -> tuple[float, float]:
    field = study.results.field
    assert field is not None
    low, high = color.limits(np.where(study.surface.plated, field.thickness, np.nan), study.surface.plated_area)
    return low, max(high, low + 1e-3 * UM)


def colored(study: Study) -> NDArray[np.float64]:
    """(m, 3) display colors of the thickness on each face."""
    field = study.results.field
    assert field is not None
    values = np.where(study.surface.plated, field.thickness, np.nan)
    return np.clip(color.encoded(color.ramp(color.shares(values, *_limits(study)))), 0.0, 1.0)


def _best_view(study: Study) -> Sight:
    """Of views round the part as it is modeled, from above, the one that shows most of the wires' places, and of equals
    the most plated surface times outline; from higher up only where that shows much more, as of what lies flat."""
    up = unit(study.job.part.up)
    ahead = view((0.0, -1.0, 0.0), up)
    named = [wire.point for wire in study.results.coat.wires] if study.results.coat is not None else []

    def worth(choice: tuple[NDArray[np.float64], float]) -> tuple[int, float]:
        turn, gain = choice
        seen = sight(study.surface, turn, TRIAL_PIXELS)
        outline = float((seen.face >= 0).sum()) * seen.pixel**2
        return sum(seen.seen(point) for point in named), float(
            study.surface.plated_area[seen.faces].sum()
        ) * outline / gain

    right, level = ahead[0], np.cross(ahead[0], up)
    angles = 2 * np.pi * (np.arange(AZIMUTHS) + 0.5) / AZIMUTHS
    choices = [
        (view(np.cos(a) * level + np.sin(a) * right + rise * up, up), gain)
        for a in angles
        for rise, gain in ELEVATIONS.items()
    ]
    return sight(study.surface, max(choices, key=worth)[0], HERO_PIXELS)


def _callouts(study: Study, found: Sight) -> list[Callout]:
    """At most five places that are in sight, one plain sentence each."""
    surface, field, coat = study.surface, study.results.field, study.results.coat
    assert field is not None
    faces = found.faces[found.in_sight(surface.centroid[found.faces])]  # not those of which only an edge shows
    seen = faces[surface.plated[faces]]
    if not len(seen):
        return []
    thin, thick = (seen[pick(field.thickness[seen])] for pick in (np.argmin, np.argmax))
    told = []
    for face, name in ((thin, "Thinnest in sight"), (thick, "Thickest in sight")):
        where = words.place(surface.bounds, study.job.part.up, surface.centroid[face])
        told.append(Callout(surface.centroid[face], f"{name}: {figure(field.thickness[face] / UM, 2)} µm ({where})."))
    wires = [] if coat is None else [wire.point for wire in coat.wires if found.seen(wire.point)]
    told += [Callout(point, "Here the wire touches: a small mark to touch up.") for point in wires[:1]]
    masked = faces[surface.wetted[faces] & ~surface.plated[faces]]
    if len(masked):
        face = masked[np.argmax(surface.area[masked])]
        told.append(Callout(surface.centroid[face], "Stays as printed: it is masked."))
    told += _fitted(study, seen)[:1]
    bare = seen[field.flag[seen] == Flag.BARE]
    if len(bare) and thin not in bare:
        face = bare[np.argmax(surface.area[bare])]
        told.append(Callout(surface.centroid[face], "Hardly any metal reaches this place."))
    return told[:MAX_CALLOUTS]


def _fitted(study: Study, seen: NDArray[np.intp]) -> list[Callout]:
    """Fits whose wall is in sight and that coat and metal change, each with its size when plated. seen : faces"""
    if study.results.fits is None:
        return []
    told = []
    for fit in study.results.fits.affected:
        from_center = study.surface.centroid[seen] - fit.center
        along = from_center @ fit.axis
        radius = np.linalg.norm(from_center - along[:, None] * fit.axis, axis=1)
        wall = np.flatnonzero(
            (np.abs(radius - fit.diameter / 2) < FIT_WALL_SHARE * fit.diameter) & (np.abs(along) <= fit.length / 2)
        )
        if len(wall):
            low, high = (figure(one / MM, 3) for one in fit.finished)
            size = f"{low} mm" if low == high else f"{low} to {high} mm"
            words = f"This {fit.kind.value} of {figure(fit.diameter / MM, 3)} mm becomes {size}."
            told.append(Callout(study.surface.centroid[seen[wall[0]]], words))
    return told
