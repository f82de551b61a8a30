"""A rendered picture with numbered callouts, and their sentences below it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..filled import filled
from ..reporting.language import ENGLISH, Language, translated
from ..study import Study
from ..visibility.projected import Projected
from . import raster
from .callouts import Frame, place_leaders
from .glyphs import Glyphs
from .marks import BEND_MM, DISK_MM, INKS, NUMBER_GAP_MM, Style, Theme, draw_leaders, draw_sentences
from .notes import View, callouts
from .page import Page, Picture

PICTURE_MM = 210.0  # width of the picture on its page: what makes its letters as large as on the client's sheet
NUMBER_REACH_MM = 9.0  # mm beside the part, where numbers stand
# mm beside the part that its numbers need, else they stand beside the picture
MIN_ROOM_MM = NUMBER_REACH_MM + DISK_MM / 2 + 1.0
TEXT_MARGIN_MM = 8.0  # mm round the sentences


def page(
    study: Study,
    glyphs: Glyphs,
    shown: Projected,
    seen: View,
    pixels: NDArray[np.uint8],
    theme: Theme,
    language: Language = ENGLISH,
) -> Page:
    """The page, set.

    shown : the part in the picture; seen : what of it is in sight, where other things may stand in front of it
    pixels : (h, w, 4) the picture

    Raises InputError where the thickness is not known.
    """
    if study.results.field is None:
        raise InputError(filled("still: the thickness was not calculated; take field out of {effort.skip}"))
    style = Style(*INKS[theme])
    high, wide = pixels.shape[:2]
    pixel = PICTURE_MM / wide
    left, right = shown.corner[0] * pixel, (shown.corner[0] + shown.face.shape[1] * shown.cell) * pixel
    within = min(left, PICTURE_MM - right) >= MIN_ROOM_MM
    side = 0.0 if within else DISK_MM + 2 * BEND_MM
    width, foot = PICTURE_MM + 2 * side, high * pixel
    title = translated(filled("{name}: plated part", name=study.part.name), language)
    made = Page(width, foot, style.paper, glyphs, title, language=language)
    made.add(Picture(side, 0.0, PICTURE_MM, foot, pixels))
    near = side + left - BEND_MM, side + right + BEND_MM
    frame = Frame(
        left=side + left,
        top=shown.corner[1] * pixel,
        pixel=shown.cell * pixel,
        near=near if within else (side - BEND_MM / 2, width - side + BEND_MM / 2),
        far=(near[0] - NUMBER_REACH_MM + BEND_MM, near[1] + NUMBER_REACH_MM - BEND_MM)
        if within
        else (DISK_MM / 2 + 0.5, width - DISK_MM / 2 - 0.5),
        ceiling=DISK_MM / 2 + 0.5,
        floor=foot - DISK_MM / 2 - 0.5,
    )
    notes = callouts(study, seen)
    places = shown.place(np.array([note.point for note in notes]).reshape(-1, 3))
    draw_leaders(made, style, place_leaders(places, shown.alpha, frame, NUMBER_GAP_MM))
    made.height = (
        draw_sentences(made, study, style, notes, (TEXT_MARGIN_MM, foot + TEXT_MARGIN_MM, width - 2 * TEXT_MARGIN_MM))
        + TEXT_MARGIN_MM / 2
    )
    return made


def draw(page: Page, pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """(rows, columns, 4) the page, a pixel of the picture one of the page's. pixels : (h, w, 4) the picture"""
    return raster.draw(page, pixels.shape[1] / PICTURE_MM * raster.MM_PER_INCH)
