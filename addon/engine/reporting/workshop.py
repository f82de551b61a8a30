"""The workshop sheet: the plan's two pages with pictures at the steps, one HTML file that asks nothing of a network.

Two A4 pages when printed, one column on a phone; boxes and times of day are kept by the browser that ticks them.
"""

from __future__ import annotations

import zlib
from html import escape

from ..study import Study
from . import plan, plan_first, plan_holes, plan_steps, words
from . import workshop_views as views
from .plan_bench import Bench
from .plan_text import STEP, Section, parted, typeset
from .workshop_style import SCRIPT, STYLE

# What a page may load: nothing but what stands in it (W3C Content Security Policy level 3)
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'"


def write(study: Study) -> str:
    """The sheet of a study as HTML. Works with any analysis missing, as the plan does."""
    bench = Bench.of(study)
    appendix = plan.sections(bench)
    letters = plan.lettered(appendix)
    body = [
        f"<h1>{_said(plan_first.title(bench))}</h1>",
        *(f"<p>{_said(one)}</p>" for one in plan_first.summary(bench)),
        f"<pre>{escape(chr(10).join(words.sketch(bench.up)))}</pre>",
        _section(plan_first.urgent(bench), "urgent"),
        _section(plan_first.model(bench, letters), "model", views.vents(bench, _vents(bench))),
        _section(plan_first.ready(bench, letters), "ready"),
        _steps(bench, letters),
        _appendix(appendix, letters),
    ]
    return _page(study.part.name, "\n".join(one for one in body if one))


def _page(name: str, body: str) -> str:
    key = f"{zlib.crc32(body.encode()):08x}"  # another plan starts with empty boxes
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_said(name)}: plating plan</title>\n"
        f'<style>{STYLE}</style>\n</head>\n<body data-plan="{key}">\n<main>\n{body}\n</main>\n'
        f"<script>{SCRIPT}</script>\n</body>\n</html>\n"
    )


def _section(section: Section | None, name: str, picture: views.Figure | None = None) -> str:
    """A section with its lines, boxes before what is to be done."""
    if section is None:
        return ""
    lines = []
    for number, line in enumerate(section.lines):
        kind, said = parted(line)
        lines.append(_ticked(f"{name}{number}", said) if kind == STEP else f"<li>{_said(said)}</li>")
    return (
        f'<section class="{name}"><h2>{_said(section.title)}</h2>{_drawn(picture)}<ul>{"".join(lines)}</ul></section>'
    )


def _ticked(key: str, said: str) -> str:
    return f'<li class="box"><label><input type="checkbox" id="{key}"><span>{_said(said)}</span></label></li>'


def _steps(bench: Bench, letters: dict[str, str]) -> str:
    """The numbered steps, each with its picture where it has one."""
    pictures = {
        "wires": views.wires(bench),
        "coat": None if bench.metal_part else views.strip(plan_steps.STRIP_SQUARES * bench.job.coat.sheet_resistance),
        "bath": views.tank(bench),
        "enter": views.hanging(bench),
    }
    rows = [_step(one, pictures.get(one.name)) for one in plan_steps.told(bench, letters)]
    return f'<section class="steps"><h2>Steps</h2><ol>{"".join(rows)}</ol></section>'


def _step(one: plan_steps.Told, picture: views.Figure | None) -> str:
    key = f"step{one.number}"
    cautions = "".join(f'<p class="caution">{_said(said)}</p>' for said in one.cautions)
    check = f'<p class="check">Check: {_said(one.check)}</p>' if one.check else ""
    done = (
        f'<label class="done"><input type="checkbox" id="{key}"><span class="number">{one.number}</span></label>'
        f'<input type="time" id="{key}at" aria-label="Time of day of step {one.number}">'
    )
    return f"<li>{done}<div><p>{_said(one.action)}</p>{cautions}{check}</div>{_drawn(picture)}</li>"


def _appendix(sections: dict[str, Section], letters: dict[str, str]) -> str:
    """The rest of the plan, folded, and not printed."""
    parts = []
    for name, section in sections.items():
        lines = "".join(f"<li>{_said(parted(line)[1])}</li>" for line in section.lines)
        parts.append(f"<h3>{letters[name]}. {_said(section.title)}</h3><ul>{lines}</ul>")
    return f'<details class="appendix"><summary>{_said(plan.APPENDIX)}</summary>{"".join(parts)}</details>'


def _drawn(picture: views.Figure | None) -> str:
    return "" if picture is None else f"<figure>{picture.svg}<figcaption>{_said(picture.caption)}</figcaption></figure>"


def _vents(bench: Bench) -> list[views.Point]:
    """Where the vents are that the plan lists."""
    if bench.gas is None:
        return []
    plated = float(bench.study.surface.plated_area.sum())
    worth = [pocket.vent for pocket in bench.gas.pockets if pocket.worth_a_hole(plated)]
    return worth[: plan_holes.MAX_LISTED_HOLES + 1]


def _said(text: str) -> str:
    return escape(typeset(text))
