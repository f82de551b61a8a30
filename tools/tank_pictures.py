"""What is printed for the tank, as the docs show it: made by the command line, drawn by the engine.

A rack of six cups; anode holders, shields and a thief's former round a plate; a cage for a pin.
"""

from __future__ import annotations

import runpy
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from stl_surface import corners, surface_of  # beside this file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Corners = NDArray[np.float64]

ROOT = Path(__file__).resolve().parent.parent
PLAN_LIMIT_S = 1800
SKIP = "coat, narrow, fits, orientation, field"
EFFORT = f'[effort]\ndirections = 50\nrays = 16\npanels = 1500\nskip = "{SKIP}"\n'
COPIES = [[x, 0, z] for z in (155, 70) for x in (-50, 0, 50)]
PLATE_AT = [0, 0, 120]
PLACE = f"[place]\ncentre_mm = {PLATE_AT}\n"
RACK = f"[rack]\npositions_mm = {COPIES}\nturns_deg = {[0] * 6}\n"
VIEWS = ((0.5, -1.0, 0.35), (-1.0, -0.3, 0.2))  # toward the viewer, up along z
PIXELS = 420
MARGIN = 8
PART, HELPER = (0.85, 0.84, 0.82), (0.27, 0.47, 0.80)


class Picture(NamedTuple):
    """A part, what its job says beside the part, and the options of the command line that make things for it."""

    name: str
    more: str
    options: tuple[str, ...]


PICTURES = (
    Picture("cup", RACK, ("rack",)),
    Picture("plate", PLACE, ("anode-holder",)),
    Picture("plate", PLACE, ("shield",)),
    Picture("plate", PLACE, ("thief",)),
    Picture("pin", "", ("hanger",)),
)


def models() -> dict[str, Corners]:
    """Corners (m, 3, 3), mm."""
    import numpy as np

    import shapes

    planes = tuple(np.linspace(-half, half, 9) for half in (20.0, 1.5, 15.0))
    return {
        "cup": shapes.turned(np.array([(0, 0), (10, 0), (10, 20), (8.5, 20), (8.5, 1.5), (0, 1.5)], dtype=float), 48),
        "pin": shapes.turned(np.array([(0, 0), (1.5, 0), (1.5, 30), (0, 30)], dtype=float), 32),
        "plate": shapes.blocks(planes, np.ones((8, 8, 8), dtype=bool)),
    }


def draw(folder: Path, target: Path) -> None:
    """All of them in one row of pairs, each from two sides."""
    import numpy as np

    from addon.engine.reporting import png

    write = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))["write"]
    for name, model in models().items():
        write(folder / f"{name}.stl", model.astype(np.float32))
    rows = []
    for one in PICTURES:
        job, report = folder / f"{one.name}-{one.options[0]}.toml", folder / f"{one.options[0]}.json"
        job.write_text(f'[part]\nfile = "{one.name}.stl"\nhang = "as set"\n{one.more}{EFFORT}', encoding="utf-8")
        files = [part for option in one.options for part in (f"--{option}", folder / f"{option}.stl")]
        plan = [sys.executable, "-m", "addon", "plan", job, "--report", report, *files]
        subprocess.run(plan, cwd=ROOT, check=True, timeout=PLAN_LIMIT_S)
        rows.append(_seen(corners(folder / f"{one.name}.stl"), one, folder))
    high = max(len(row) for row in rows)
    pads = [((high - len(row), 0), (MARGIN, MARGIN), (0, 0)) for row in rows]
    target.write_bytes(png.encoded(np.hstack([np.pad(row, pad) for row, pad in zip(rows, pads, strict=True)])))


def _seen(part: Corners, one: Picture, folder: Path) -> NDArray[np.uint8]:
    """The part in its places with what was made for it, from two sides."""
    import numpy as np

    from addon.engine.visibility.shaded import sight, view

    helpers = np.concatenate([corners(folder / f"{option}.stl") for option in one.options])
    middle = (part.min(axis=(0, 1)) + part.max(axis=(0, 1))) / 2
    places = {"cup": COPIES, "plate": [PLATE_AT], "pin": [middle]}[one.name]
    shifts = [np.array(place, dtype=float) - middle for place in places]
    parts = np.concatenate([part + shift for shift in shifts])
    surface = surface_of(np.concatenate([parts, helpers]))
    tint = np.where(np.arange(len(surface.triangles))[:, None] < len(parts), PART, HELPER)
    seen = [sight(surface, view(np.array(toward), np.array([0.0, 0.0, 1.0])), PIXELS) for toward in VIEWS]
    drawn = [np.dstack([some.painted(tint), some.alpha]) for some in seen]
    high = max(len(some) for some in drawn)
    return np.hstack([np.pad(some, ((high - len(some), 0), (MARGIN, MARGIN), (0, 0))) for some in drawn])
