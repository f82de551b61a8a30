"""The workshop sheet: the plan's steps and boxes, nothing from a network, colors that can be read.

Its look in a real browser is tested in tests/suite/test_workshop_page.py.
"""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from addon.engine.reporting import plan, plan_steps, workshop
from addon.engine.reporting.plan_bench import Bench
from addon.engine.reporting.plan_text import typeset
from addon.engine.reporting.workshop_style import STYLE

from cup_study import SETTINGS, study
from plan_checks import flat, pages

VOID = {"meta", "input", "image", "rect", "circle", "path"}
READABLE = 4.5  # least contrast of text, WCAG 2.2, 1.4.3


class Page(HTMLParser):
    """The sheet as a tree is not needed: open elements, attributes and the words between them are."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.boxes, self.words, self.addresses = 0, [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        table = dict(attributes)
        self.boxes += table.get("type") == "checkbox"
        self.addresses += [table[key] for key in ("href", "src") if key in table]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def sheet() -> str:
    return workshop.write(study())


def test_every_element_is_closed_and_nothing_is_fetched(sheet):
    page = Page(sheet)
    assert page.open == [] and len(page.addresses) >= 3
    assert all(one.startswith("data:image/png;base64,") for one in page.addresses)
    assert not re.search(r"https?:|url\(|@import", sheet)


def test_it_says_what_the_plan_says(sheet):
    """Every box of the plan's two pages has its box; every step its action, its cautions and its check."""
    bench, page = Bench.of(study()), Page(sheet)
    said, text = "".join(page.words), plan.write(study())
    assert page.boxes == len(re.findall(r"^\[ \] ", "\n".join(pages(text)), re.MULTILINE))
    for one in plan_steps.numbered_steps(bench, plan.lettered(plan.sections(bench))):
        for words in (one.action, *one.cautions, one.check):
            assert typeset(words) in said and flat(typeset(words)) in flat(text)


def test_a_job_that_stops_has_no_shopping_list():
    """PLA in a nickel bath of 55 C: as in the plan, nothing is bought for it, and its one step says why."""
    settings = SETTINGS | {"bath": {"name": "nickel, Watts"}}
    page = Page(workshop.write(study(settings)))
    said = "".join(page.words)
    assert Bench.of(study(settings)).stopped
    assert page.open == [] and "Buy, measure out" not in said and "Do not start" in said


@pytest.mark.slow
def test_steps_that_fill_more_than_a_page_begin_on_the_first(monkeypatch):
    """Two A4 pages in all: the steps have a page of their own only where they fit on it."""
    for lines, begins in ((100.0, "steps"), (30.0, "steps long")):
        monkeypatch.setattr(workshop, "PAGE_LINES", lines)
        assert f'<section class="{begins}">' in workshop.write(study())


def test_names_cannot_become_markup():
    """A part's name is text, whatever it holds."""
    from dataclasses import replace

    found = study()
    named = replace(found, part=replace(found.part, name="<script>alert(1)</script>&"))
    assert "<script>alert" not in workshop.write(named)


def test_text_stands_out_from_paper():
    """Contrast by WCAG 2.2's relative luminance: the ink and the red of cautions on white."""

    def luminance(color: str) -> float:
        channels = [int(color[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    colors = set(re.findall(r"(?<![-\w])color: (#[0-9a-f]{3,6})", STYLE))
    assert "#9c1b10" in colors
    for color in colors:
        full = color if len(color) == 7 else "#" + "".join(2 * digit for digit in color[1:])
        assert 1.05 / (luminance(full) + 0.05) >= READABLE
