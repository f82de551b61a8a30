"""The client's picture: there, in color, the same from both renderers, and nothing left behind."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from addon.engine import color
from addon.engine import study as studies
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end
from addon.suite.scene import capture
from addon.suite.draw import sheet
from addon.suite.scene.tracers import HostTracer

from models import cup, moved

BELL = moved(cup(0.010, 0.020, 0.001, rows=4), turn=np.diag([1, -1, -1]))


@pytest.fixture
def study(add, monkeypatch) -> studies.Study:
    monkeypatch.setattr(sheet, "PIXELS", (400, 300))
    add(BELL)
    found = capture.selected(bpy.context)
    return run_to_end(studies.run(found.part, read_job({}), HostTracer, only=["deposit", "gas"]))


def pixels(path) -> np.ndarray:
    """(rows, columns, 3) as displayed, 0..1."""
    image = bpy.data.images.load(str(path))
    out = np.empty(len(image.pixels), dtype=np.float32)
    image.pixels.foreach_get(out)
    width, height = image.size
    bpy.data.images.remove(image)
    return out.reshape(height, width, 4)[::-1, :, :3]


def blocks() -> dict[str, int]:
    kinds = ("scenes", "objects", "meshes", "curves", "cameras", "materials", "images", "worlds", "fonts")
    return {kind: len(getattr(bpy.data, kind)) for kind in kinds}


@pytest.mark.slow
def test_the_trapped_gas_is_dark_and_hatched_below_and_not_seen_from_above(study, tmp_path):
    """From above the bell is all wetted, at the light end of the ramp; from below, its hollow is at the dark end."""
    before, scene = blocks(), bpy.context.scene
    sheet.picture(study, tmp_path / "bell.png", "gas")
    shown = pixels(tmp_path / "bell.png")
    dark = np.abs(shown - color.encoded(color.ramp([0.0]))[0]).max(axis=2) < 0.12
    above, below = dark[60:200, :200], dark[60:200, 200:]
    assert above.mean() < 0.002
    assert 0.05 < below.mean() < 0.5
    assert blocks() == before
    assert bpy.context.scene == scene


@pytest.mark.slow
def test_both_renderers_draw_the_same(study, tmp_path, monkeypatch):
    """But for how they smooth edges: nine pixels of ten differ by less than two steps of 255."""
    for engine in ("CYCLES", "BLENDER_WORKBENCH"):
        monkeypatch.setattr(sheet, "render_engine", lambda engine=engine: engine)
        sheet.picture(study, tmp_path / f"{engine}.png", "gas")
    one, other = (pixels(tmp_path / f"{engine}.png") for engine in ("CYCLES", "BLENDER_WORKBENCH"))
    assert np.quantile(np.abs(one - other).max(axis=2), 0.9) < 2 / 255


@pytest.mark.slow
def test_nothing_is_left_behind_by_a_picture_that_fails(study, tmp_path):
    before = blocks()
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(RuntimeError):
        sheet.picture(study, tmp_path / "file" / "bell.png", "gas")
    assert blocks() == before
