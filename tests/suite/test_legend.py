"""The legend in the viewport: whatever stands in it stays on its ground."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.reporting import language as dictionary
from addon.suite import language
from addon.suite.draw import legend, maps

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
