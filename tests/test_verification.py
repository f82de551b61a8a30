"""The table of docs/verification.md is the one that its rows and tests/golden/verification.json make, whole."""

from __future__ import annotations

import ast
import importlib.util
import json
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SPEC = importlib.util.spec_from_file_location("verification", ROOT / "tools" / "verification.py")
assert SPEC is not None and SPEC.loader is not None
verification = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(verification)

TEXT = (ROOT / "docs" / "verification.md").read_text(encoding="utf-8")
KEPT = json.loads((ROOT / "tests" / "golden" / "verification.json").read_text(encoding="utf-8"))
ROWS = [verification.cells(line) for line in TEXT.splitlines() if verification.NAMED.search(line)]


def test_no_figure_of_the_table_is_written_by_hand():
    assert verification.page(TEXT, KEPT) == TEXT, "run tools/verification.py"


def test_every_row_names_tests_that_there_are():
    files = {path.stem: path for path in (ROOT / "tests").rglob("test_*.py")}
    for row in ROWS:
        for file, name in verification.NAMED.findall(row[-1]):
            tree = ast.parse(files[file].read_text(encoding="utf-8"))
            assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, (file, name)


def test_every_row_says_numbers():
    assert len(ROWS) > 60
    for row in ROWS:
        assert len(row) == 8 and all(re.search(r"\d", cell) for cell in row[3:7]), row
