"""The workshop sheet: the plan's two pages with pictures at the steps, one self-contained HTML file.

Two A4 pages when printed, one column on a phone; boxes and times of day are kept by the browser that ticks them.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape

from ..study import Study
from . import plan, plan_first, plan_holes, plan_ready, plan_steps, words
from . import workshop_views as views
from .filled import filled
from .language import ENGLISH, Language, translated
from .plan_bench import Bench
from .plan_text import CHECK, STEP, Section, typeset
from .workshop_style import SCRIPT, STYLE

# The page may load only its own content (W3C Content Security Policy level 3)
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'"


TITLE = "{name}: plating plan"
# On paper, as STYLE sets it in a wide sans serif: lines of a page, letters of a line beside the boxes
PAGE_LINES, LINE_LETTERS = 75.0, 95
FIGURE_LINES, FIGURE_LETTERS = 8, 22  # that a picture at a step takes
LEAST_LINES, STEP_GAP_LINES = 2, 0.7  # of a step: box over time of day, and the rule below


def write(study: Study, language: Language = ENGLISH) -> str:
    """The sheet of a study as HTML. Works with any analysis missing, as the plan does."""
    bench = Bench.of(study)
    appendix = plan.sections(bench)
    letters = plan.lettered(appendix)
    sheet = _Sheet(bench, letters, language)
    body = [
        f"<h1>{sheet.html(plan_first.title(bench))}</h1>",
        *(f"<p>{sheet.html(line)}</p>" for line in plan_first.summary(bench)),
        f"<pre>{escape(chr(10).join(words.compass(bench.up, language)))}</pre>",
        f"<p>{' '.join(sheet.html(note) for note in words.SKETCH_NOTES)}</p>",
        sheet.section(plan_first.urgent(bench), "urgent"),
        sheet.section(plan_first.model(bench, letters), "model", views.vents(bench, _vents(bench))),
        sheet.section(plan_ready.ready(bench, letters), "ready"),
        sheet.steps(),
        sheet.appendix(appendix),
    ]
    return sheet.page("\n".join(section for section in body if section))


@dataclass(frozen=True)
class _Sheet:
    """The inputs of the sheet's parts. letters : name of a section of the appendix -> its letter"""

    bench: Bench
    letters: Mapping[str, str]
    language: Language

    def html(self, text: str) -> str:
        return escape(typeset(translated(text, self.language)))

    def page(self, body: str) -> str:
        key = f"{zlib.crc32(body.encode()):08x}"  # another plan starts with empty boxes
        return (
            f'<!DOCTYPE html>\n<html lang="{self.language.name}">\n<head>\n<meta charset="utf-8">\n'
            f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
            f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            f"<title>{self.html(filled(TITLE, name=self.bench.study.part.name))}</title>\n"
            f'<style>{STYLE}</style>\n</head>\n<body data-plan="{key}">\n<main>\n{body}\n</main>\n'
            f"<script>{SCRIPT}</script>\n</body>\n</html>\n"
        )

    def section(self, section: Section | None, name: str, picture: views.Figure | None = None) -> str:
        """A section with its lines, boxes before what is to be done."""
        if section is None:
            return ""
        lines = [
            self._ticked(f"{name}{number}", line.text) if line.front == STEP else f"<li>{self.html(line.text)}</li>"
            for number, line in enumerate(section.lines)
        ]
        heading = f"<h2>{self.html(section.title)}</h2>{self._drawn(picture)}"
        return f'<section class="{name}">{heading}<ul>{"".join(lines)}</ul></section>'

    def _ticked(self, key: str, text: str) -> str:
        box = f'<input type="checkbox" id="{key}"><span>{self.html(text)}</span>'
        return f'<li class="box"><label>{box}</label></li>'

    def steps(self) -> str:
        """The numbered steps, each with its picture where it has one."""
        bench = self.bench
        strip = plan_steps.STRIP_SQUARES * bench.job.coat.sheet_resistance
        pictures = {
            "wires": views.wires(bench),
            "coat": None if bench.metal_part else views.strip(strip, self.language),
            "bath": views.tank(bench),
            "enter": views.hanging(bench, self.language),
        }
        numbered = plan_steps.numbered_steps(bench, self.letters)
        rows = [self._step(step, pictures.get(step.name)) for step in numbered]
        lines = sum(self._printed_lines(step, pictures.get(step.name) is not None) for step in numbered)
        own_page = len(numbered) > 1 and lines <= PAGE_LINES  # longer than a page: begin on the first
        kind = "steps" if own_page else "steps long"
        return f'<section class="{kind}"><h2>{self.html("Steps")}</h2><ol>{"".join(rows)}</ol></section>'

    def _printed_lines(self, step: plan_steps.NumberedStep, drawn: bool) -> float:
        """About how many lines a step takes on paper."""
        width = LINE_LETTERS - (FIGURE_LETTERS if drawn else 0)
        texts = (step.action, *step.cautions, *([step.check] if step.check else []))
        lines = sum(math.ceil(len(translated(text, self.language)) / width) for text in texts)
        return max(lines, FIGURE_LINES if drawn else LEAST_LINES) + STEP_GAP_LINES

    def _step(self, step: plan_steps.NumberedStep, picture: views.Figure | None) -> str:
        key = f"step{step.number}"
        cautions = "".join(f'<p class="caution">{self.html(text)}</p>' for text in step.cautions)
        check = f'<p class="check">{self.html(filled(CHECK, check=step.check))}</p>' if step.check else ""
        label = self.html(filled("Time of day of step {number}", number=step.number))
        done = (
            f'<label class="done"><input type="checkbox" id="{key}"><span class="number">{step.number}</span></label>'
            f'<input type="time" id="{key}at" aria-label="{label}">'
        )
        return f"<li>{done}<div><p>{self.html(step.action)}</p>{cautions}{check}</div>{self._drawn(picture)}</li>"

    def appendix(self, sections: Mapping[str, Section]) -> str:
        """The rest of the plan, folded, and not printed."""
        parts = []
        for name, section in sections.items():
            lines = "".join(f"<li>{self.html(line.text)}</li>" for line in section.lines)
            parts.append(f"<h3>{self.letters[name]}. {self.html(section.title)}</h3><ul>{lines}</ul>")
        return f'<details class="appendix"><summary>{self.html(plan.APPENDIX)}</summary>{"".join(parts)}</details>'

    def _drawn(self, picture: views.Figure | None) -> str:
        if picture is None:
            return ""
        return f"<figure>{picture.svg}<figcaption>{self.html(picture.caption)}</figcaption></figure>"


def _vents(bench: Bench) -> list[views.Point]:
    """Where the vents are that the plan lists."""
    if bench.gas is None:
        return []
    plated = float(bench.study.surface.plated_area.sum())
    vents = [pocket.vent for pocket in bench.gas.pockets if pocket.worth_a_hole(plated)]
    return vents[: plan_holes.MAX_LISTED_HOLES + 1]
