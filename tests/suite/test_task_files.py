"""The .blend of each task: opened, its panels say what its job says, and its figures are those that its page tells."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import bpy
import pytest

from addon.engine.settings.job_file import load_job
from addon.engine.units import CM2, MINUTE
from addon.suite.scene import settings
from addon.suite.session import session

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tools"), str(ROOT / "docs" / "tasks")]
import jobs  # noqa: E402
import tasks  # noqa: E402

pytestmark = pytest.mark.usefixtures("platewright")


def told(page: str, what: str) -> float:
    """The figure that a page tells in the row of this name."""
    text = (ROOT / "docs" / "tasks" / f"{page}.md").read_text(encoding="utf-8")
    return float(re.search(rf"^\| {re.escape(what)} \| ([\d.]+) ", text, re.MULTILINE)[1])


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    made = tmp_path_factory.mktemp("tasks")
    jobs.write(made)
    return made


FIGURES = {
    "hang-a-bell": [("hang-a-bell", "current at 2 A/dm²", lambda study: study.results.deposit.current)],
    "bolt": [("nut-and-bolt", "plated area of the bolt", lambda study: study.surface.plated_area.sum() / CM2)],
    "nut": [],
    "six-parts": [("six-parts", "current of one", lambda study: study.results.deposit.current)],
    "scan": [("scan", "open edges", lambda study: len(study.surface.topology.open))],
    "copper": [("nickel-over-copper", "time in copper", lambda study: study.results.deposit.time / MINUTE)],
    "nickel": [("nickel-over-copper", "time in nickel", lambda study: study.results.deposit.time / MINUTE)],
}


@pytest.mark.parametrize("name", jobs.JOBS)
def test_a_task_opens_with_its_part_its_settings_and_its_figures(name, folder):
    """To the last digit that the page tells."""
    tasks.blend(folder / f"{name}.toml", folder / f"{name}.blend")
    bpy.ops.wm.open_mainfile(filepath=str(folder / f"{name}.blend"))
    given, found = load_job(folder / f"{name}.toml"), settings.job_of(bpy.context.scene)
    assert (found.target, found.bath.metal, found.coat.name) == (given.target, given.bath.metal, given.coat.name)
    assert found.rack.suggest == given.rack.suggest
    assert bpy.ops.platewright.study(only="deposit") == {"FINISHED"}
    study = session.find(bpy.context).study
    for page, what, figure in FIGURES[name]:
        text = f"{told(page, what):g}"
        step = 10.0 ** -len(text.partition(".")[2])
        assert figure(study) == pytest.approx(float(text), abs=0.6 * step), what
