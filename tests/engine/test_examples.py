"""The examples of docs/python.md, run from top to bottom as a reader would; they assert closed forms themselves."""

from __future__ import annotations

import re
from pathlib import Path


PAGE = Path(__file__).resolve().parents[2] / "docs" / "python.md"


def test_the_examples_of_the_page_run_as_they_stand(capsys):
    """A cube of 40 mm: six sides of 16 cm2 at 2 A/dm2."""
    blocks = re.findall(r"^```python\n(.*?)^```", PAGE.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    assert len(blocks) >= 5
    space: dict[str, object] = {}
    for block in blocks:
        exec(compile(block, str(PAGE), "exec"), space)
    out = capsys.readouterr().out
    assert "96 cm2, 1.92 A" in out and "unknown key 'thickness'" in out
