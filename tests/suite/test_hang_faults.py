"""What cannot be weighed or hung as it is said, by the command line and by the panel: one clear line, and nothing lost."""

from __future__ import annotations

import json
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
import trimesh

from addon.engine.reporting.finding_text import texts
from addon.suite import command
from addon.suite.panels import hang
from addon.suite.session import session
from addon.suite.scene import settings

import models
import panels

pytestmark = pytest.mark.usefixtures("platewright")

QUICK = (
    "[effort]\ndirections = 50\nrays = 16\n"
    'skip = "gas, drainage, field, coat, contacts, openness, narrow, preparation"\n'
)
CUBE = models.box((30, 30, 30), (3, 3, 3))  # mm
OPEN = CUBE[0], CUBE[1][2:]
WORDS = {
    "open": "the mesh is open, so it has no volume to weigh; close the holes",
    "walls": "part.walls_mm: walls of 20 mm meet everywhere inside, so the print counts as solid",
    "inside": "wire[0]: the point (15, 15, 10) mm lies 10 mm off the part; move it onto the surface",
    "off": "wire[0]: the point (15, 15, 60) mm lies 30 mm off the part; move it onto the surface",
    "plastic": "is not in the table of plastics",
    "bath": "bath.density_g_mL: 0 is not usable; give between",
}
JOBS = {
    "open": 'file = "open.stl"\n',
    "walls": 'file = "cube.stl"\nwalls_mm = 20\n',
    "inside": 'file = "cube.stl"\n[[wire]]\npoint_mm = [15, 15, 10]\n',
    "off": 'file = "cube.stl"\n[[wire]]\npoint_mm = [15, 15, 60]\n',
    "plastic": 'file = "cube.stl"\nmaterial = "foam"\n',
    "bath": 'file = "cube.stl"\n[bath]\ndensity_g_mL = 0\n',
}


@pytest.mark.slow
@pytest.mark.parametrize("case", ["open", "walls"])
def test_what_can_still_be_answered_is_and_the_rest_said_in_a_line(tmp_path, capfd, case):
    """A complete report with ways up, and one line that names mesh or key and the remedy."""
    trimesh.Trimesh(*CUBE, process=False).export(tmp_path / "cube.stl")
    trimesh.Trimesh(*OPEN, process=False).export(tmp_path / "open.stl")
    (tmp_path / "job.toml").write_text(f"[part]\n{JOBS[case]}{QUICK}")
    assert command.main(["plan", str(tmp_path / "job.toml"), "--report", str(tmp_path / "r.json")]) == 0
    lines = [line for line in capfd.readouterr().err.splitlines() if WORDS[case] in line]
    assert len(lines) == 1
    report = json.loads((tmp_path / "r.json").read_text())
    assert sum(WORDS[case] in warning for warning in report["warnings"]) == 1
    assert report["hanging"]["suggestions"]
    assert (report["hanging"]["mass_g"] is None) == (case == "open")


@pytest.mark.parametrize("case", ["plastic", "bath", "inside", "off"])
def test_what_has_no_density_or_no_place_is_refused_in_one_line(tmp_path, capfd, case):
    """Exit status 2, one line, no report."""
    trimesh.Trimesh(*CUBE, process=False).export(tmp_path / "cube.stl")
    (tmp_path / "job.toml").write_text(f"[part]\n{JOBS[case]}{QUICK}")
    assert command.main(["plan", str(tmp_path / "job.toml"), "--report", str(tmp_path / "r.json")]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert WORDS[case] in line
    assert not (tmp_path / "r.json").exists()


@pytest.mark.slow
@pytest.mark.parametrize(("case", "model"), [("open", OPEN), ("walls", CUBE)])
def test_the_panel_says_the_same(add, case, model):
    """The same sentence with the result; the object stays as it is."""
    part = add((model[0] / 1000, model[1]))
    chosen = settings.of(bpy.context.scene)
    chosen.effort.directions, chosen.effort.rays = 50, 16
    if case == "walls":
        chosen.part.walls = 20.0
    before = [tuple(vertex.co) for vertex in part.data.vertices]
    assert bpy.ops.platewright.study(only="hanging") == {"FINISHED"}
    found = session.find(bpy.context).study.results.hanging
    assert sum(WORDS[case] in sentence for sentence in texts(found.findings)) == 1
    assert found.suggestions
    assert [tuple(vertex.co) for vertex in part.data.vertices] == before


def test_the_panel_refuses_a_plastic_that_there_is_not(add):
    """One line that names the setting; what was measured before is still there."""
    add((CUBE[0] / 1000, CUBE[1]))
    bpy.ops.platewright.measure()
    settings.of(bpy.context.scene).part.material = "foam"
    with pytest.raises(RuntimeError, match="Plastic: .*is not in the table of plastics"):
        bpy.ops.platewright.study(only="hanging")
    assert session.find(bpy.context).study.results.gas is not None


@pytest.mark.parametrize("pays", [True, False])
def test_the_panel_tells_of_two_positions_in_turn_only_where_they_pay(monkeypatch, pays):
    """As the plan does: a change at half time that frees next to nothing is no advice."""
    one, other = (SimpleNamespace(up=np.array(up)) for up in ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0)))
    pair = SimpleNamespace(first=one, second=other, missed=1e-4, gain=0.0, pays=pays)
    found = SimpleNamespace(findings=(), suggestions=(), pair=pair)
    monkeypatch.setattr(hang, "answer", lambda *_: found)
    said = " ".join(panels.draw(hang.PLATEWRIGHT_PT_positions).texts)
    assert ("half time" in said) == pays
