"""Pictures of the docs as small files: PNG with a palette, JPEG of renders. Needs Pillow, of the group `test`."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

COLORS = (256, 64, 32)  # the first of these with which a picture is small enough
MAX_BYTES = 100_000
QUALITY = 86  # of a JPEG


def packed(picture: Path, width: int = 0, shaded: bool = False) -> None:
    """Write a picture again with a palette (median cut), its transparency on white; no wider than `width` pixels, 0
    leaves it. shaded : with all its colors, so that what the light falls on evenly has no bands."""
    with Image.open(picture) as read:
        read.load()
    image = Image.new("RGB", read.size, "white")
    image.paste(read.convert("RGB"), mask=read.getchannel("A") if "A" in read.getbands() else None)
    if 0 < width < image.width:
        image = image.resize((width, round(image.height * width / image.width)), Image.Resampling.LANCZOS)
    if picture.suffix == ".jpg":
        image.save(picture, quality=QUALITY, optimize=True)
        return
    if shaded:
        image.save(picture, optimize=True)
        return
    for count in COLORS:
        small = image.quantize(count, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        small.save(picture, optimize=True)
        if picture.stat().st_size <= MAX_BYTES:
            break
