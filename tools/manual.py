"""The guide as one page of HTML that needs nothing else: what the extension's help opens, without a network.

Knows the Markdown that the guide is written in: headings, paragraphs, lists, tables, pictures, links, emphasis, code.
"""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Iterator
from pathlib import Path

STYLE = (
    "body{max-width:46em;margin:2em auto;padding:0 1em;font:16px/1.5 sans-serif;color:#222;background:#fff}"
    "img{max-width:100%}table{border-collapse:collapse}td,th{border:1px solid #bbb;padding:.2em .6em;text-align:left}"
    "code,pre{font-family:monospace;background:#f2f2f2}pre{padding:.6em;overflow-x:auto}"
    "@media(prefers-color-scheme:dark){body{color:#ddd;background:#1d1d1d}code,pre{background:#2b2b2b}a{color:#8cf}}"
)


def page(path: Path) -> str:
    """A Markdown file as a page; its pictures lie inside it, links to other pages lose their way out."""
    lines = path.read_text(encoding="utf-8").split("\n")
    title = lines[0].lstrip("# ")
    body = "\n".join(_blocks(lines, path.parent))
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{html.escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{STYLE}</style></head>'
        f"<body>\n{body}\n</body></html>\n"
    )


def anchor(heading: str) -> str:
    """The name of a heading in a link: "3. Hang" -> "3-hang"."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-")


def _blocks(lines: list[str], folder: Path) -> Iterator[str]:
    """Runs of lines that belong together, as HTML."""
    at = 0
    while at < len(lines):
        line = lines[at]
        if line.startswith("```"):
            end = next(k for k in range(at + 1, len(lines)) if lines[k].startswith("```"))
            yield f"<pre>{html.escape(chr(10).join(lines[at + 1 : end]))}</pre>"
            at = end + 1
            continue
        if line.startswith("#"):
            depth = len(line) - len(line.lstrip("#"))
            words = line.lstrip("# ")
            yield f'<h{depth} id="{anchor(words)}">{_inline(words, folder)}</h{depth}>'
            at += 1
            continue
        end = at
        while end < len(lines) and lines[end].strip() and not lines[end].startswith(("#", "```")):
            end += 1
        if end > at:
            yield _run(lines[at:end], folder)
        at = max(end, at + 1)


def _run(lines: list[str], folder: Path) -> str:
    if lines[0].startswith("|"):
        return _table(lines, folder)
    mark = re.compile(r"(?:- |\d+\. )")
    if not mark.match(lines[0]):
        return f"<p>{_inline(' '.join(lines), folder)}</p>"
    items: list[str] = []
    for line in lines:
        if mark.match(line):
            items.append(mark.sub("", line, count=1))
        else:
            items[-1] += " " + line.strip()
    kind = "ul" if lines[0].startswith("- ") else "ol"
    return f"<{kind}>" + "".join(f"<li>{_inline(item, folder)}</li>" for item in items) + f"</{kind}>"


def _table(lines: list[str], folder: Path) -> str:
    rows = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in lines]
    rows = [row for row in rows if not all(set(cell) <= set("-: ") for cell in row)]
    cells = ["".join(f"<td>{_inline(cell, folder)}</td>" for cell in row) for row in rows]
    return "<table>" + "".join(f"<tr>{row}</tr>" for row in cells) + "</table>"


def _inline(text: str, folder: Path) -> str:
    out = html.escape(text, quote=False)
    out = re.sub(r"!\[([^\]]*)\]\(([^)]+)\)", lambda found: _picture(found[1], folder / found[2]), out)
    out = re.sub(r"\[([^\]]*)\]\((#[^)]+)\)", r'<a href="\2">\1</a>', out)
    out = re.sub(r"\[([^\]]*)\]\([^)]+\)", r"\1", out)
    out = re.sub(r"`([^`]+)`", r"<code>\1</code>", out)
    out = re.sub(r"\*\*([^*]+)\*\*", r"<b>\1</b>", out)
    return re.sub(r"\*([^*]+)\*", r"<i>\1</i>", out)


def _picture(words: str, path: Path) -> str:
    data = base64.b64encode(path.read_bytes()).decode("ascii")
    kind = {".png": "png", ".jpg": "jpeg"}[path.suffix]
    return f'<img alt="{words}" src="data:image/{kind};base64,{data}">'
