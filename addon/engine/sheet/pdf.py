"""A page as PDF 1.4 (ISO 32000-1 describes it): pictures deflated, words as text in an embedded Type 3 font."""

from __future__ import annotations

import zlib
from collections.abc import Iterable

import numpy as np

from .glyphs import Glyph
from .page import Box, Item, Label, Line, Page, Picture

POINTS_PER_MM = 72 / 25.4
UNITS_PER_EM = 1000  # units of the font a size
CIRCLE_HANDLE_RADII = 0.5522847498  # handle of the cubic curve nearest to a quarter of a circle, in radii
MAX_CHARACTERS = 255  # of a simple font


class _File:
    """Numbered objects, and where each begins."""

    def __init__(self) -> None:
        self._objects: list[bytes] = []

    def add(self, body: bytes | str) -> int:
        """Append an object; its number."""
        self._objects.append(body.encode("ascii") if isinstance(body, str) else body)
        return len(self._objects)

    def stream(self, data: bytes, more: str = "") -> int:
        packed = zlib.compress(data, 6)
        return self.add(
            f"<< /Length {len(packed)} /Filter /FlateDecode {more}>>\nstream\n".encode() + packed + b"\nendstream"
        )

    def closed(self, root: int, info: int) -> bytes:
        out, places = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n"), []
        for number, body in enumerate(self._objects, 1):
            places.append(len(out))
            out += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
        start, size = len(out), len(places) + 1
        out += f"xref\n0 {size}\n0000000000 65535 f \n".encode()
        out += b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
        out += f"trailer\n<< /Size {size} /Root {root} 0 R /Info {info} 0 R >>\nstartxref\n{start}\n%%EOF\n".encode()
        return bytes(out)


def write(page: Page) -> bytes:
    """Raises ValueError where a page has more than 255 different characters."""
    file = _File()
    characters = sorted({c for item in page.items if isinstance(item, Label) for c in item.words})
    if len(characters) > MAX_CHARACTERS:
        raise ValueError(f"{len(characters)} different characters are more than a simple font holds")
    codes = {character: code for code, character in enumerate(characters, 1)}
    font = _font(file, page, codes)
    pictures = [item for item in page.items if isinstance(item, Picture)]
    images = {id(item): (f"P{number}", _image(file, item)) for number, item in enumerate(pictures)}
    content = file.stream(_content(page, codes, {key: name for key, (name, _) in images.items()}).encode("ascii"))
    named = " ".join(f"/{name} {number} 0 R" for name, number in images.values())
    width, height = (side * POINTS_PER_MM for side in (page.width, page.height))
    pages = content + 2  # the number that the tree will have
    leaf = file.add(
        f"<< /Type /Page /Parent {pages} 0 R /MediaBox [0 0 {width:.3f} {height:.3f}] /Contents {content} 0 R"
        f" /Resources << /Font << /F {font} 0 R >> /XObject << {named} >> >> >>"
    )
    tree = file.add(f"<< /Type /Pages /Kids [{leaf} 0 R] /Count 1 >>")
    root = file.add(f"<< /Type /Catalog /Pages {tree} 0 R >>")
    title = "FEFF" + page.title.encode("utf-16-be").hex().upper()
    return file.closed(root, file.add(f"<< /Title <{title}> >>"))


def _font(file: _File, page: Page, codes: dict[str, int]) -> int:
    """A Type 3 font (ISO 32000-1, 9.6.5) of the characters in use, with what each means (9.10.3)."""
    glyphs = {character: page.glyphs.of(character) for character in codes}
    shapes = {character: file.stream(_shape(glyph).encode("ascii")) for character, glyph in glyphs.items()}
    names = " ".join(f"/c{code}" for code in codes.values())
    shaped = " ".join(f"/c{code} {shapes[character]} 0 R" for character, code in codes.items())
    widths = " ".join(f"{UNITS_PER_EM * glyph.advance:.1f}" for glyph in glyphs.values())
    meant = "\n".join(f"<{code:02X}> <{c.encode('utf-16-be').hex().upper()}>" for c, code in codes.items())
    unicode = file.stream(
        (
            "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n/CMapName /Sheet def\n/CMapType 2 def\n"
            f"1 begincodespacerange\n<00> <FF>\nendcodespacerange\n{_blocks(meant)}endcmap\n"
            "CMapName currentdict /CMap defineresource pop\nend\nend\n"
        ).encode("ascii")
    )
    box, em = _extent(glyphs.values()), 1 / UNITS_PER_EM
    return file.add(
        f"<< /Type /Font /Subtype /Type3 /FontBBox [{box}] /FontMatrix [{em:g} 0 0 {em:g} 0 0]"
        f" /CharProcs << {shaped} >> /Encoding << /Type /Encoding /Differences [1 {names}] >>"
        f" /FirstChar 1 /LastChar {max(len(codes), 1)} /Widths [{widths}] /ToUnicode {unicode} 0 R /Resources << >> >>"
    )


def _blocks(rows: str) -> str:
    """At most a hundred meanings a block."""
    lines = rows.splitlines()
    parts = [lines[k : k + 100] for k in range(0, len(lines), 100)]
    return "".join(f"{len(part)} beginbfchar\n" + "\n".join(part) + "\nendbfchar\n" for part in parts)


def _extent(glyphs: Iterable[Glyph]) -> str:
    points = [UNITS_PER_EM * loop.reshape(-1, 2) for glyph in glyphs for loop in glyph.loops]
    if not points:
        return "0 0 0 0"
    low, high = np.vstack(points).min(axis=0), np.vstack(points).max(axis=0)
    return " ".join(f"{value:.0f}" for value in (*low, *high))


def _shape(glyph: Glyph) -> str:
    """A character's outline: its width and box, its loops, filled."""
    parts = [f"{UNITS_PER_EM * glyph.advance:.1f} 0 {_extent([glyph])} d1"]
    for loop in glyph.loops:
        curves = UNITS_PER_EM * loop
        parts.append(f"{curves[0, 0, 0]:.1f} {curves[0, 0, 1]:.1f} m")
        parts += [" ".join(f"{value:.1f}" for value in curve[1:].ravel()) + " c" for curve in curves]
        parts.append("h")
    return "\n".join([*parts, "f*"]) + "\n"


def _image(file: _File, picture: Picture) -> int:
    height, width = picture.pixels.shape[:2]
    head = f"/Type /XObject /Subtype /Image /Width {width} /Height {height} /BitsPerComponent 8"
    mask = file.stream(picture.pixels[..., 3].tobytes(), f"{head} /ColorSpace /DeviceGray ")
    return file.stream(picture.pixels[..., :3].tobytes(), f"{head} /ColorSpace /DeviceRGB /SMask {mask} 0 R ")


def _content(page: Page, codes: dict[str, int], images: dict[int, str]) -> str:
    """Operators in mm, with y down as the page has it."""
    flip = f"{POINTS_PER_MM:.6f} 0 0 {-POINTS_PER_MM:.6f} 0 {page.height * POINTS_PER_MM:.4f} cm"
    paper = f"{_rgb(page.paper)} rg 0 0 {page.width:g} {page.height:g} re f"
    return "\n".join([flip, paper, *(_item(page, item, codes, images) for item in page.items)]) + "\n"


def _item(page: Page, item: Item, codes: dict[str, int], images: dict[int, str]) -> str:
    if isinstance(item, Picture):
        place = f"{item.width:.3f} 0 0 {-item.height:.3f} {item.left:.3f} {item.top + item.height:.3f} cm"
        return f"q {place} /{images[id(item)]} Do Q"
    if isinstance(item, Line):
        (x, y), *following = item.points
        path = " ".join([f"{x:.3f} {y:.3f} m", *(f"{a:.3f} {b:.3f} l" for a, b in following)])
        return f"{_rgb(item.color)} RG {item.width:g} w {path} S"
    if isinstance(item, Box):
        ink = f"{_rgb(item.color)} RG {item.edge:g} w" if item.edge else f"{_rgb(item.color)} rg"
        return f"{ink} {_outline(item)} {'S' if item.edge else 'f'}"
    shown = "".join(f"{codes[character]:02X}" for character in item.words)
    place = f"1 0 0 -1 {page.label_left(item):.3f} {item.place[1]:.3f} Tm"
    return f"BT {_rgb(item.color)} rg /F {item.size:g} Tf {place} <{shown}> Tj ET"


def _outline(item: Box) -> str:
    x, y, w, h = item.left, item.top, item.width / 2, item.height / 2
    if not item.round:
        return f"{x:.3f} {y:.3f} {item.width:.3f} {item.height:.3f} re"
    x, y = x + w, y + h
    parts = [f"{x + w:.3f} {y:.3f} m"]
    for a, b in ((1, 0), (0, 1), (-1, 0), (0, -1)):
        c, d = -b, a
        handle = x + w * (a + CIRCLE_HANDLE_RADII * c), y + h * (b + CIRCLE_HANDLE_RADII * d)
        two = x + w * (c + CIRCLE_HANDLE_RADII * a), y + h * (d + CIRCLE_HANDLE_RADII * b)
        parts.append(" ".join(f"{v:.3f}" for v in (*handle, *two, x + w * c, y + h * d)) + " c")
    return " ".join(parts)


def _rgb(color: Iterable[float]) -> str:
    return " ".join(f"{value:.4f}" for value in color)
