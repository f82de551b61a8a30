"""The client's sheet as a file: set by the engine with Blender's own letters, written by the ending of its name."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import bpy
import numpy as np
from numpy.typing import NDArray

from ...engine import inputs
from ...engine.errors import InputError
from ...engine.filled import filled
from ...engine.reporting import png
from ...engine.reporting.language import Language
from ...engine.sheet import client, marks, pdf, raster, svg
from ...engine.study import Study
from .. import language
from . import letters

DOTS_PER_INCH = 300.0
MAX_MARK_PIXELS = 1000  # of the maker's mark, each way: more than its place has dots for
MAX_MARK_BYTES = 20_000_000
LETTERS = {"de": "ÄÖÜäöüß„“"}  # of a language, beside those of English


def write(
    study: Study,
    path: Path,
    form: client.Form = "portrait",
    theme: marks.Theme = "light",
    other: Language | None = None,
) -> None:
    """other : the language of the page; None takes that of the interface.

    Raises InputError where the study has no thickness to show, or the maker's mark is no picture.
    """
    labels = study.job.sheet
    words = study.part.name + labels.title + labels.project + labels.revision + labels.date
    mark = mark_of(labels.logo) if labels.logo else None
    other = other or language.written()
    words += "".join(LETTERS.get(other.name, ""))
    page = client.page(study, letters.glyphs(words), form, theme, date.today().isoformat(), mark, other)
    if path.suffix.lower() == ".pdf":
        path.write_bytes(pdf.write(page))
    elif path.suffix.lower() == ".svg":
        path.write_text(svg.write(page), encoding="utf-8")
    else:
        dots = round(DOTS_PER_INCH / raster.MM_PER_INCH * 1000)
        path.write_bytes(png.encoded(raster.draw(page, DOTS_PER_INCH, labels.clear), dots))


def mark_of(name: str) -> NDArray[np.uint8]:
    """(h, w, 4) a picture file, its first row at the top. Raises InputError where it is none."""
    path = Path(bpy.path.abspath(name))
    if not path.is_file():
        raise InputError(filled("{sheet.logo}: there is no file '{name}'; check the name", name=name))
    inputs.size(path, MAX_MARK_BYTES, "choose a smaller picture")
    try:
        image = bpy.data.images.load(str(path), check_existing=False)
    except RuntimeError:
        raise InputError(
            filled("{sheet.logo}: '{name}' is no picture that Blender reads; save it as PNG", name=name)
        ) from None
    try:
        width, height = (int(side) for side in image.size)
        if not width or not height:
            raise InputError(
                filled("{sheet.logo}: '{name}' is no picture that Blender reads; save it as PNG", name=name)
            )
        if width > MAX_MARK_PIXELS or height > MAX_MARK_PIXELS:
            image.scale(*(max(1, round(side * MAX_MARK_PIXELS / max(width, height))) for side in (width, height)))
            width, height = (int(side) for side in image.size)
        pixels = np.empty(4 * width * height, dtype=np.float32)
        image.pixels.foreach_get(pixels)
    finally:
        bpy.data.images.remove(image)
    return np.rint(255 * np.clip(pixels, 0, 1)).astype(np.uint8).reshape(height, width, 4)[::-1]
