"""A job that asks for the recommended way up is checked in the tank as it will hang, before anything is computed."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from addon.suite import command

from models import cup, moved

BELL = moved(cup(10, 60, 1.5, around=32), turn=np.diag([1.0, -1.0, -1.0]))  # 23 mm wide, 61.5 mm long, mouth down
JOB = """[part]
file = "bell.stl"
hang = "{hang}"
[[anode]]
plate_mm = [100, 60]
centre_mm = [0, {y}, 110]
normal = [0, -1, 0]
[[anode]]
plate_mm = [100, 60]
centre_mm = [0, -{y}, 110]
normal = [0, 1, 0]
[[anode]]
plate_mm = [20, 60]
centre_mm = [{y}, 0, 110]
normal = [-1, 0, 0]
[[anode]]
plate_mm = [20, 60]
centre_mm = [-{y}, 0, 110]
normal = [1, 0, 0]
[effort]
directions = 50
rays = 16
panels = 500
skip = "{skip}"
"""


@pytest.mark.slow
@pytest.mark.parametrize(("hang", "status"), [("as set", 0), ("recommended", 2)])
def test_anodes_beside_the_upright_part_are_in_the_way_of_the_part_on_its_side(tmp_path, capfd, hang, status):
    """Plates 16 mm from the axis all round clear a bell of 11.5 mm radius that hangs upright; on its side, 61.5 mm long, it
    runs through two of them, or through a plate's edge, whichever way it is turned."""
    trimesh.Trimesh(*BELL, process=False).export(tmp_path / "bell.stl")
    job = tmp_path / "job.toml"
    job.write_text(JOB.format(hang=hang, y=16, skip="coat, contacts, openness, narrow, layouts, ranges"))
    report = tmp_path / "report.json"
    assert command.main(["plan", str(job), "--report", str(report)]) == status
    assert report.exists() == (status == 0)
    if status:
        errors = [line for line in capfd.readouterr().err.splitlines() if "error" in line]
        assert len(errors) == 1 and "overlap" in errors[0]
