"""The client's sheet as a file: set by the engine with Blender's own letters, written by the ending of its name."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from ...engine.reporting import png
from ...engine.sheet import client, pdf, raster, svg
from ...engine.study import Study
from . import letters

DOTS_PER_INCH = 300.0


def write(study: Study, path: Path, form: client.Form = "portrait", theme: client.Theme = "light") -> None:
    """Raises InputError where the study has no thickness to show."""
    page = client.page(study, letters.glyphs(study.part.name), form, theme, date.today().isoformat())
    if path.suffix.lower() == ".pdf":
        path.write_bytes(pdf.write(page))
    elif path.suffix.lower() == ".svg":
        path.write_text(svg.write(page), encoding="utf-8")
    else:
        dots = round(DOTS_PER_INCH / raster.MM_PER_INCH * 1000)
        path.write_bytes(png.encoded(raster.draw(page, DOTS_PER_INCH), dots))
