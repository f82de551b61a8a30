"""gallery.py FOLDER: the twelve parts of docs/gallery planned in one call; their table and pictures go to docs.

FOLDER : takes models, jobs, reports and sheets. Run by a Python that has the bpy wheel, from the repository's root.
docs/gallery.md keeps what is written by hand; the table in it is made here.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import palette  # beside this file

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "gallery.md"
PICTURES = ROOT / "docs" / "pictures" / "gallery"
TABLE = re.compile(r"(?<=<!-- table -->\n).*?(?=<!-- end -->)", re.DOTALL)
VIEWS_MM = (12.0, 31.0, 144.0, 124.5)  # left, top, right, bottom of the two views on the square sheet
SHEET_MM = 210.0
SHRINK = 3  # pixels of the sheet, each way, that one pixel of a picture averages
GAP = 6  # pixels of paper above and below
PLAN_LIMIT_S = 3000

sys.path[:0] = [str(ROOT), str(ROOT / "docs" / "gallery")]


def main(folder: Path) -> int:
    import parts

    parts.write(folder)
    command = [
        sys.executable,
        "-m",
        "addon",
        "plan",
        folder,
        "--report",
        folder,
        "--sheet",
        folder / "{name}-sheet.png",
    ]
    done = subprocess.run([*command, "--page", "square"], cwd=ROOT, timeout=PLAN_LIMIT_S)
    if done.returncode:
        return done.returncode
    publish(folder, parts.ORDERS)
    return 0


def publish(folder: Path, orders: dict[str, Any]) -> None:
    """The table and the pictures, from the reports and sheets in a folder."""
    rows = [
        "| | part | verdict: what to change | plated area | current | time | thinnest / wanted |",
        "|---|" + "---|" * 6,
    ]
    PICTURES.mkdir(parents=True, exist_ok=True)
    for name, order in orders.items():
        report = json.loads((folder / f"{name}-report.json").read_text(encoding="utf-8"))
        rows.append(row(name, order.what, report))
        shrink(folder / f"{name}-sheet.png", PICTURES / f"{name}.png")
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(TABLE.sub(lambda _: "\n".join(rows) + "\n", text), encoding="utf-8")
    print(f"gallery: {len(orders)} parts in {PAGE.relative_to(ROOT)}")


def row(name: str, what: str, report: dict[str, Any]) -> str:
    from addon.engine.reporting import plan_text

    verdict = report["verdict"]
    told = {one["code"]: first(one["text"]) for one in reversed(report["findings"])}
    changes = plan_text.typeset(". ".join(told[code] for code in verdict["changes"])) or "Nothing to change"
    field, wanted = report["field"], report["assumed"]["target"]["thickness_um"]
    thin = f"{field['thickness_um']['min']:.2g} / {wanted:g} µm" if field else "-"
    time = f"{verdict['time_h']:.2g} h" if verdict["time_h"] else "-"
    current = f"{verdict['current_A']:.2g} A" if verdict["current_A"] else "-"
    picture = f"![{what}](pictures/gallery/{name}.png)"
    area = f"{100 * report['part']['plated_area_dm2']:.4g} cm²"
    return f"| {' | '.join([picture, what, changes, area, current, time, thin])} |"


def first(text: str) -> str:
    """The first statement of a finding."""
    return re.split(r"[.:;] |\.$", text)[0]


def shrink(sheet: Path, picture: Path) -> None:
    """The two views of a sheet as a small picture."""
    import bpy
    import numpy as np

    from addon.engine.reporting import png

    image = bpy.data.images.load(str(sheet))
    width, height = image.size
    pixels = np.empty(width * height * 4, dtype=np.float32)
    image.pixels.foreach_get(pixels)
    bpy.data.images.remove(image)
    left, top, right, bottom = (round(side * width / SHEET_MM) for side in VIEWS_MM)
    view = pixels.reshape(height, width, 4)[::-1][top:bottom, left:right, :3]
    rows, columns = (side // SHRINK * SHRINK for side in view.shape[:2])
    small = view[:rows, :columns].reshape(rows // SHRINK, SHRINK, columns // SHRINK, SHRINK, 3).mean(axis=(1, 3))
    used = np.flatnonzero((small < 0.99).any(axis=(1, 2)))
    small = small[max(0, used[0] - GAP) : used[-1] + GAP]
    solid = np.dstack([np.rint(255 * small), np.full(small.shape[:2], 255)]).astype(np.uint8)
    picture.write_bytes(png.encoded(solid))
    palette.packed(picture, shaded=True)  # a palette draws contours into the colors of the map


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
