"""The table of docs/verification.md names tests that there are, and says a number for each."""

from __future__ import annotations

import ast
import re
from pathlib import Path

TESTS = Path(__file__).resolve().parent
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in (TESTS.parent / "docs" / "verification.md").read_text(encoding="utf-8").splitlines()
    if line.startswith("| ") and not line.startswith("| room")
]


def test_every_row_names_tests_that_there_are():
    files = {path.stem: path for path in TESTS.rglob("test_*.py")}
    for row in ROWS:
        named = re.findall(r"`(test_\w+)::(test_\w+)`", row[6])
        assert named, row
        for file, name in named:
            tree = ast.parse(files[file].read_text(encoding="utf-8"))
            assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, (file, name)


def test_every_row_says_a_number():
    assert len(ROWS) > 60
    for row in ROWS:
        assert len(row) == 8 and re.search(r"\d", row[7]), row
        assert "within the tolerance" not in row[4], row
