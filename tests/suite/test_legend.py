"""The legend in the viewport: whatever stands in it stays on its ground."""

from __future__ import annotations

import re

import numpy as np
import pytest

from addon.engine import study as studies
from addon.engine.progress import run_to_end
from addon.engine.reporting import language as dictionary
from addon.engine.settings.job import read_job
from addon.suite import language
from addon.suite.draw import legend, maps

from models import lathe, moved, part
from tracers import EmbreeTracer

pytestmark = pytest.mark.usefixtures("platewright")


def drawing(map_: maps.Map) -> maps.Drawing:
    none = np.zeros((0, 2, 3))
    low, high = map_.fixed or (0.0, 1234.5)
    return maps.Drawing(map_, np.zeros(1), low, high, np.ones(len(map_.names) or 32), none, none, ())


@pytest.mark.parametrize("other", ["en", "de"])
def test_no_word_of_the_legend_runs_over_its_box(other, monkeypatch):
    """Every map at the widths that a sidebar leaves, at once and twice the size, with a long note: measured with Blender's
    own font, in English and in German."""
    known = dictionary.words(other) if other != "en" else {}
    monkeypatch.setattr(language, "looked_up", lambda text, _context: known.get(text, text))
    monkeypatch.setattr(language, "locale_in_use", lambda: other)
    boxes, drawn = [], []
    monkeypatch.setattr(legend, "rectangle", lambda *box: boxes.append(box[:4]))
    monkeypatch.setattr(legend, "strips", lambda *_rest: None)

    def words(text, x, y, size, points=legend.SMALL_TEXT, ink=legend.INK, align=0.0):
        wide = legend.width(text, points * size)
        drawn.append((text, x - align * wide, x + (1 - align) * wide, y, y + points * size))

    monkeypatch.setattr(legend, "words", words)
    for map_ in maps.MAPS.values():
        for wide in (legend.MIN_WIDTH, 130.0, legend.WIDTH):
            for size in (1.0, 2.0):
                drawn.clear()
                legend.draw(drawing(map_), 40.0, 30.0, size, legend.STALE, wide)
                left, bottom, width, height = boxes.pop()
                for text, start, end, low, high in drawn:
                    where = map_.name, other, wide, size, text
                    assert left - 1 <= start and end <= left + width + 1, where
                    assert bottom <= low and high <= bottom + height, where


@pytest.mark.parametrize(
    "text", ["Thinnest spot 12 mm from the rim, 3.5 A/dm2 at 5 wt % and 40 °C", "Noch 12 µm, 4,5 cm² am Rand"]
)
def test_no_line_ends_between_a_number_and_its_unit(text):
    """At every width that leaves room for a pair; nothing of the text is lost."""
    wide, parts = legend.width(text, legend.TEXT), re.findall(r"[\d.,]+ (?:A/dm2|wt %|mm|°C|µm|cm²)", text)
    assert len(parts) > 1
    for room in np.linspace(max(legend.width(one, legend.TEXT) for one in parts), wide, 40):
        lines = legend.wrapped(text, legend.TEXT, room)
        assert " ".join(lines) == text
        assert all(any(one in line for line in lines) for one in parts), lines
    assert legend.wrapped("3 of 12 are bare", legend.TEXT, 1.0) == ["3", "of", "12", "are", "bare"]
    assert legend.wrapped("", legend.TEXT, 100.0) == []


@pytest.mark.parametrize(
    ("radius", "depth", "told"),
    [(6.0, 30.0, "vent, 3.4 mL"), (6.0, 2.0, "gas, 0.23 mL"), (0.8, 0.5, None)],
)
def test_a_mark_says_vent_only_where_one_helps_and_no_trifle_is_marked(radius, depth, told):
    """A round hollow below a plate, r^2 pi depth less what a polygon lacks: deep, 2 mm deep, and 1 uL."""
    hollow = [(0, 0), (12, 0), (12, depth + 4), (radius, depth + 4), (radius, 4), (0, 4)]
    model = moved(lathe(hollow, 64), turn=np.diag([1.0, -1.0, -1.0]), scale=1e-3)
    job = read_job({"part": {"hang": "as set"}})
    study = run_to_end(studies.run(part(model), job, EmbreeTracer, only=("gas",)))
    marks = [str(mark.text) for mark in maps.draw("gas", study).marks]
    assert marks == ([] if told is None else [told])
