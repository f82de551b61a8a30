"""A page as SVG 1.1 (W3C), its words as text."""

from __future__ import annotations

from html import escape

from ..reporting import png
from .page import Box, Color, Item, Line, Page, Picture

FONT = "'DejaVu Sans', 'Segoe UI', Helvetica, Arial, sans-serif"


def write(page: Page) -> str:
    """The page as the text of an SVG file."""
    body = "\n".join(_item(page, item) for item in page.items)
    size = f'width="{page.width:g}mm" height="{page.height:g}mm" viewBox="0 0 {page.width:g} {page.height:g}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="{FONT}">\n<title>{escape(page.title)}</title>\n'
        f'<rect width="100%" height="100%" fill="{_hex(page.paper)}"/>\n{body}\n</svg>\n'
    )


def _item(page: Page, item: Item) -> str:
    if isinstance(item, Picture):
        box = f'x="{item.left:.3f}" y="{item.top:.3f}" width="{item.width:.3f}" height="{item.height:.3f}"'
        return f'<image {box} preserveAspectRatio="none" href="{png.as_url(item.pixels)}"/>'
    if isinstance(item, Line):
        points = " ".join(f"{x:.3f},{y:.3f}" for x, y in item.points)
        return f'<polyline points="{points}" fill="none" stroke="{_hex(item.color)}" stroke-width="{item.width:g}"/>'
    if isinstance(item, Box):
        return _box(item)
    # the width is the page's own, whatever font the reader has
    length = f'textLength="{page.glyphs.width(item.words) * item.size:.3f}" lengthAdjust="spacingAndGlyphs"'
    place = f'x="{item.place[0]:.3f}" y="{item.place[1]:.3f}" text-anchor="{item.anchor}"'
    style = f'font-size="{item.size:g}" fill="{_hex(item.color)}"'
    return f'<text {place} {style} {length} xml:space="preserve">{escape(item.words)}</text>'


def _box(item: Box) -> str:
    inked = f'fill="none" stroke="{_hex(item.color)}" stroke-width="{item.edge:g}"' if item.edge else None
    style = inked or f'fill="{_hex(item.color)}"'
    if item.round:
        middle = f'cx="{item.left + item.width / 2:.3f}" cy="{item.top + item.height / 2:.3f}"'
        return f'<ellipse {middle} rx="{item.width / 2:.3f}" ry="{item.height / 2:.3f}" {style}/>'
    box = f'x="{item.left:.3f}" y="{item.top:.3f}" width="{item.width:.3f}" height="{item.height:.3f}"'
    return f"<rect {box} {style}/>"


def _hex(color: Color) -> str:
    return "#" + "".join(f"{round(255 * value):02x}" for value in color)
