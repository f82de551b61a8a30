"""verification.py [FILE]: runs the tests that docs/verification.md names and writes how far each row's were off.

FILE : what `pytest -p measured --measured FILE` has noted before; left out: the tests run now, some minutes.
The last column of the table is generated; the others are written by hand.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "verification.md"
NAMED = re.compile(r"`(test_\w+)::(test_\w+)`")
EXACT = 1e-9  # below this what is left is the rounding of the machine


def told(offs: list[dict[str, float]]) -> str:
    """How far off at most: relative where anything else than zero was expected, and what is off zero."""
    shares = [kinds["relative"] for kinds in offs if "relative" in kinds]
    zeros = [kinds["absolute"] for kinds in offs if "absolute" in kinds]
    words = []
    if shares:
        words.append("below 1e-7 %" if max(shares) < EXACT else f"{100 * max(shares):.2g} %")
    if zeros and max(zeros) > EXACT:
        words.append(f"{max(zeros):.2g} off zero")
    return "; ".join(words) or "below 1e-9 off zero"


def noted(rows: list[str]) -> dict[str, dict[str, float]]:
    """Test -> how far off it was, from a run of all that the rows name."""
    files = {path.stem: path for path in (ROOT / "tests").rglob("test_*.py")}
    tests = sorted({f"{files[file]}::{name}" for row in rows for file, name in NAMED.findall(row)})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "measured.json"
        command = [sys.executable, "-m", "pytest", "-q", "-p", "measured", "--measured", str(path), *tests]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "tests")}
        subprocess.run(command, cwd=ROOT, check=True, env=environment)
        return json.loads(path.read_text(encoding="utf-8"))


def main(arguments: list[str]) -> int:
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if NAMED.search(line)]
    found = json.loads(Path(arguments[0]).read_text(encoding="utf-8")) if arguments else noted(rows)
    missing = []
    for number, line in enumerate(lines):
        names = ["::".join(pair) for pair in NAMED.findall(line)]
        if not names:
            continue
        known = [found[name] for name in names if name in found]
        if not known:
            missing.append(", ".join(names))
            continue
        cells = line.strip().strip("|").split("|")
        cells[7:] = [f" {told(known)} "]
        lines[number] = "|" + "|".join(cells) + "|"
    PAGE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    for names in missing:
        print(f"verification: {names}: nothing was compared", file=sys.stderr)
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
