"""A wire that cannot serve: through the command line one line, exit status 2 and no report; the panel takes no such resistance."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import models
import numpy as np
import pytest
import trimesh

from addon.suite import command
from addon.suite.scene import settings

BAR = models.box((30, 20, 40))  # mm
NEST = models.joined(BAR, models.moved(models.box((10, 10, 10)), (10, 5, 10)))
PAIR = models.joined(BAR, models.moved(models.box((10, 10, 10)), (45, 0, 0)))
BAD = {
    "off the surface": (
        "Bar",
        "[[wire]]\npoint_mm = [15, 10, 60]\n",
        "wire[0]: the point (15, 10, 60) mm lies 20 mm off the part",
    ),
    "the second, by its name": (
        "Bar",
        '[[wire]]\npoint_mm = [15, 10, 40]\n[[wire]]\nname = "hook"\npoint_mm = [15, 10, 70]\n',
        "hook: the point (15, 10, 70) mm lies 30 mm off the part",
    ),
    "buried": (
        "Nest",
        "[[wire]]\npoint_mm = [15, 10, 20]\n",
        "wire[0]: the point (15, 10, 20) mm lies on a face that the liquid",
    ),
    "nowhere": ("Bar", "[[wire]]\npoint_mm = [nan, 0, 0]\n", "wire[0].point_mm: nan is not usable"),
    "flat": ("Bar", "[[wire]]\npoint_mm = [1, 2]\n", "wire[0].point_mm: expected 3 numbers, found 2"),
    "no pad": ("Bar", "[[wire]]\npad_mm = 0\n", "wire[0].pad_mm: 0 is not usable; give between 0.1 and 100 mm"),
    "less than no resistance": (
        "Bar",
        "[coat]\nsheet_resistance_ohm_sq = -1\n",
        "sheet_resistance_ohm_sq: -1 is not usable",
    ),
    "no conductor": ("Bar", "[coat]\nsheet_resistance_ohm_sq = inf\n", "sheet_resistance_ohm_sq: inf is not usable"),
    "next to no resistance": (
        "Bar",
        "[coat]\nsheet_resistance_ohm_sq = 1e-300\n",
        "sheet_resistance_ohm_sq: 1e-300 is not usable; give 0, or between 1e-06 and 1e+06 ohm/sq",
    ),
    "an insulator": (
        "Bar",
        "[coat]\nsheet_resistance_ohm_sq = 1e300\n",
        "sheet_resistance_ohm_sq: 1e+300 is not usable",
    ),
    "no number": ("Bar", "[coat]\nsheet_resistance_ohm_sq = nan\n", "sheet_resistance_ohm_sq: nan is not usable"),
    "no such coat": ("Bar", '[coat]\nname = "coper paint"\n', "did you mean 'copper paint'?"),
}
QUICK = '[effort]\npanels = 500\nskip = "narrow, hanging, preparation, field"\n'


@pytest.fixture
def folder(tmp_path) -> Path:
    for name, model in (("Bar", BAR), ("Nest", NEST), ("Pair", PAIR)):
        trimesh.Trimesh(*model, process=False).export(tmp_path / f"{name}.stl")
    return tmp_path


def told(folder: Path, name: str, text: str, capfd) -> tuple[int, str]:
    (folder / "job.toml").write_text(f'[part]\nfile = "{name}.stl"\n{QUICK}{text}')
    status = command.main(["plan", str(folder / "job.toml"), "--report", str(folder / "r.json")])
    return status, capfd.readouterr().err


@pytest.mark.parametrize("case", BAD)
def test_one_line_status_two_and_no_report(folder, case, capfd):
    name, text, words = BAD[case]
    status, said = told(folder, name, text, capfd)
    assert status == 2
    assert len(said.splitlines()) == 1 and words in said, said
    assert not (folder / "r.json").exists()


@pytest.mark.slow
def test_a_wire_on_the_other_shell_leaves_one_without(folder, capfd):
    """The part that has no wire is named, with a place for one; the rest is answered."""
    status, said = told(folder, "Pair", "[[wire]]\npoint_mm = [15, 10, 40]\n", capfd)
    assert status == 0
    assert "no wire and will get no metal" in said
    report = json.loads((folder / "r.json").read_text())
    assert report["coat"]["pieces_without_wire"] == 1
    (found,) = (one for one in report["findings"] if one["code"] == "coat-unwired")
    assert found["severity"] == "spoils" and found["remedy"]["code"] == "add-wires" and len(found["places_mm"]) == 1
    assert found["quantities"]["area_cm2"] == pytest.approx(6.0)  # a cube of 10 mm


@pytest.mark.slow
def test_no_resistance_is_a_metal_part(folder, capfd):
    status, said = told(folder, "Bar", "[coat]\nsheet_resistance_ohm_sq = 0\n", capfd)
    coat = json.loads((folder / "r.json").read_text())["coat"]
    assert status == 0 and "error" not in said
    assert coat["worst_drop_V"] == 0 and coat["heating"] is None and len(coat["steps"]) == 1


def test_the_panel_s_field_takes_no_such_resistance(platewright):
    coat = settings.of(bpy.context.scene).coat
    coat.sheet_resistance = -1.0
    assert coat.sheet_resistance == 0.0
    coat.sheet_resistance = float("inf")
    assert np.isfinite(coat.sheet_resistance)
