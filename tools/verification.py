"""verification.py [FILE]: writes the table of docs/verification.md from a run of the tests that it names.

FILE : what `pytest -p measured --measured FILE` has noted before; left out: the tests run now, some minutes.
By hand are the topic, the fact, its source and its tests. What was expected, what was found, the tolerance and the
largest deviation are what the tests compared, and are kept in tests/golden/verification.json.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "verification.md"
KEPT = ROOT / "tests" / "golden" / "verification.json"
NAMED = re.compile(r"`(test_\w+)::(test_\w+)`")
HEAD = (
    "| topic | fact | source, sureness | expected | got | largest deviation | tolerance | tests |\n"
    "|---|---|---|---|---|---|---|---|"
)
EXACT = 1e-9  # below this what is left is the rounding of the machine
MOST_LISTED = 6  # values of a row that are written one by one
NEGLIGIBLE = 1e-6  # relative tolerance that is nothing beside one in the unit of the test
NOISE = 1e-13  # what is left of a zero: written as one

Comparison = dict[str, Any]


def percent(share: float) -> str:
    return "below 1e-7 %" if share < EXACT else f"{100 * share:.2g} %"


def condensed(some: Sequence[Comparison]) -> Comparison:
    """What a test compared, as it is kept: few values one by one, of many their range; the tolerances; the worst."""
    rels = [one["rel"] for one in some if one["rel"] and not (one["abs"] and one["rel"] <= NEGLIGIBLE)]
    closes = [one["abs"] for one in some if one["abs"] and not (one["rel"] and one["rel"] > NEGLIGIBLE)]
    kept: Comparison = {"values": sum(one["values"] for one in some), "rel": ends(rels), "abs": ends(closes)}
    for key in ("expected", "found"):
        if all(key in one for one in some):
            every = [float(f"{value:.6g}") for one in some for value in one[key]]
            kept[key] = every if len(every) <= MOST_LISTED else ends(every)
    for key in ("relative", "absolute"):
        worst = [one[key] for one in some if key in one]
        kept[key] = float(f"{max(worst):.3g}") if worst else None
    return kept


def ends(some: Sequence[float]) -> list[float]:
    """The smallest and the largest, once where they are the same."""
    return sorted({min(some), max(some)}) if some else []


def values(some: Sequence[Comparison], key: str) -> str:
    """One by one where they are few, else how many and from where to where."""
    count = sum(one["values"] for one in some)
    if not all(key in one for one in some):
        return f"{count} values"
    every = [value if abs(value) > NOISE else 0.0 for one in some for value in one[key]]
    if count <= MOST_LISTED and len(every) <= MOST_LISTED:
        return ", ".join(f"{value:.5g}" for value in every)
    return f"{count} values, {min(every):.3g} to {max(every):.3g}"


def tolerance(some: Sequence[Comparison]) -> str:
    shares = ends([share for one in some for share in one["rel"]])
    units = ends([close for one in some for close in one["abs"]])
    told = [" to ".join(percent(share) for share in shares), " to ".join(f"{close:.2g}" for close in units)]
    return "; ".join(word for word in told if word)


def deviation(some: Sequence[Comparison]) -> str:
    """How far off at most: relative where anything else than zero was expected, and what is off zero."""
    shares = [one["relative"] for one in some if one["relative"] is not None]
    zeros = [one["absolute"] for one in some if one["absolute"] is not None]
    words = [percent(max(shares))] if shares else []
    if zeros and (max(zeros) > EXACT or not words):
        words.append(f"{max(zeros):.2g} off zero" if max(zeros) > EXACT else "below 1e-9 off zero")
    return "; ".join(words)


def cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def table(rows: Sequence[Sequence[str]], found: dict[str, Comparison]) -> str:
    """The whole table, from the four cells of each row that are written by hand, tests last, and what was compared."""
    lines = [HEAD]
    for row in rows:
        some = [found["::".join(pair)] for pair in NAMED.findall(row[3])]
        made = (values(some, "expected"), values(some, "found"), deviation(some), tolerance(some))
        lines.append("| " + " | ".join([*row[:3], *made, row[3]]) + " |")
    return "\n".join(lines)


def split(text: str) -> tuple[str, list[list[str]], str]:
    """What stands before the table, the cells of its rows that are written by hand, and what stands after it."""
    lines = text.splitlines()
    numbers = [number for number, line in enumerate(lines) if line.startswith("|")]
    found = [cells(line) for line in lines[numbers[0] : numbers[-1] + 1] if NAMED.search(line)]
    rows = [[*row[:3], row[-1]] for row in found]
    return "\n".join(lines[: numbers[0]]), rows, "\n".join(lines[numbers[-1] + 1 :])


def page(text: str, found: dict[str, Comparison]) -> str:
    """The page with its table made anew."""
    before, rows, after = split(text)
    return f"{before}\n{table(rows, found)}\n{after}\n"


def noted(rows: Sequence[Sequence[str]]) -> dict[str, list[Comparison]]:
    """Test -> what it compared, from a run of all that the rows name."""
    files = {path.stem: path for path in (ROOT / "tests").rglob("test_*.py")}
    tests = sorted({f"{files[file]}::{name}" for row in rows for file, name in NAMED.findall(row[3])})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "measured.json"
        command = [sys.executable, "-m", "pytest", "-q", "-p", "measured", "--measured", str(path), *tests]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "tests")}
        subprocess.run(command, cwd=ROOT, check=True, env=environment)
        return json.loads(path.read_text(encoding="utf-8"))


def main(arguments: Sequence[str]) -> int:
    text = PAGE.read_text(encoding="utf-8")
    rows = split(text)[1]
    found = json.loads(Path(arguments[0]).read_text(encoding="utf-8")) if arguments else noted(rows)
    wanted = ["::".join(pair) for row in rows for pair in NAMED.findall(row[3])]
    missing = [name for name in wanted if not found.get(name)]
    for name in missing:
        print(f"verification: {name}: nothing was compared", file=sys.stderr)
    if missing:
        return 1
    kept = {name: condensed(found[name]) for name in sorted(set(wanted))}
    lines = ",\n".join(f"{json.dumps(name)}: {json.dumps(one)}" for name, one in kept.items())
    KEPT.write_text(f"{{\n{lines}\n}}\n", encoding="utf-8")
    PAGE.write_text(page(text, kept), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
