"""The demo's own job on its own part, with few triangles and panels: seconds in place of half a minute.

After a change that is meant, PYTHONPATH=.:tests python tests/demo_study.py renews tests/golden/ and README's excerpt.
"""

from __future__ import annotations

import json
import re
import runpy
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from addon.engine.mesh.part import Part
from addon.engine.mesh.weld import compact, exact
from addon.engine.progress import run_to_end
from addon.engine.reporting import plan, report
from addon.engine.settings import tables
from addon.engine.settings.job import read_job
from addon.engine.study import Study
from addon.engine.study import run
from addon.engine.units import MM

from tracers import EmbreeTracer

ROOT = Path(__file__).resolve().parents[1]
GOLDEN = ROOT / "tests" / "golden"
TRIANGLES, PANELS, RAYS, DIRECTIONS = 6000, 800, 64, 60
UNTOLD = ("timings_s", "versions", "schema")  # of the report: what no golden report holds


@cache
def demo() -> Study:
    """The study of docs/demo/finial.toml."""
    job = tables.toml(ROOT / "docs" / "demo" / "finial.toml")
    job["effort"] = {"panels": PANELS, "rays": RAYS, "directions": DIRECTIONS}
    corners = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))["finial"](TRIANGLES)
    points = corners.reshape(-1, 3).astype(float) * MM
    triangles = np.arange(len(points), dtype=np.int32).reshape(-1, 3)
    part = Part.of("finial", *compact(points, triangles, exact(points)))
    return run_to_end(run(part, read_job(job), EmbreeTracer))


def golden() -> tuple[str, dict[str, Any]]:
    """The plan, and the report without what differs from machine to machine."""
    table = report.build(demo(), {})
    return plan.write(demo()), {key: value for key, value in table.items() if key not in UNTOLD}


def excerpt(text: str) -> str:
    """The steps that README shows: from the supply that is off to the part in the bath."""
    body = text.split("\nAPPENDIX")[0]
    start = body.rindex("[ ]", 0, body.index("Output of the supply OFF."))
    return body[start : body.index("[ ]", body.index("ON at once"))].rstrip("\n")


def renew() -> None:
    """Write what this module makes."""
    text, table = golden()
    GOLDEN.mkdir(exist_ok=True)
    (GOLDEN / "finial-plan.txt").write_text(text, encoding="utf-8")
    (GOLDEN / "finial-report.json").write_text(json.dumps(table, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    new = re.sub(r"```text\n.*?```", lambda _: f"```text\n{excerpt(text)}\n```", readme, count=1, flags=re.DOTALL)
    (ROOT / "README.md").write_text(new, encoding="utf-8")


if __name__ == "__main__":
    renew()
