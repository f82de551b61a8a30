"""What cannot stand in the tank: through the command line one line, exit status 2 and no report; in the panel a reason."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np
import pytest
import trimesh

from addon.suite import command
from addon.suite.session import session
from addon.suite.scene import settings

import models

pytestmark = pytest.mark.usefixtures("usual_tank")

BAR = models.box((30, 20, 40))  # mm
PLATE = "[[anode]]\nplate_mm = [120, 160]\ncentre_mm = [0, {y}, 100]\nnormal = [0, -1, 0]\n"
TUB = '[tank]\nshape = "mesh"\nfile = "tub.stl"\nlevel_mm = {level}\n'
BAD = {
    "outside the tank": (
        "[place]\ncentre_mm = [160, 0, 100]\n",
        "Bar: it reaches through the +x wall of the tank by 25 mm",
    ),
    "above the liquid": ("[place]\ncentre_mm = [0, 0, 215]\n", "Bar: its top is 15 mm above the liquid"),
    "through the floor": ("[place]\ncentre_mm = [0, 0, 5]\n", "Bar: it reaches through the floor of the tank by 15 mm"),
    "through an anode": (PLATE.format(y=8), "Bar and anode 1 overlap by 2 mm"),
    "touching an anode": (PLATE.format(y=10.05), "Bar touches anode 1: 0.05 mm apart"),
    "anode outside": (PLATE.format(y=130), "anode 1: it reaches through the +y wall of the tank by 30 mm"),
    "no anode": ("[tank]\nlevel_mm = 200\n", "there is no anode in the tank"),
    "zero conductivity": ("[bath]\nconductivity_S_m = 0\n", "bath.conductivity_S_m: 0 is not usable"),
    "open tank": (TUB.format(level=90), "the mesh does not hold the liquid: it has 3 open edges below the level"),
    "level over the rim": (TUB.format(level=150), "the liquid stands 50 mm above the rim"),
    "a shield without thickness": ('[[shield]]\nfile = "sheet.stl"\n', "shield 1"),
    "copies that meet": (
        "[rack]\npositions_mm = [[-10, 0, 100], [10, 0, 100]]\n",
        "copy 1 of Bar and copy 2 of Bar overlap by 10",
    ),
    "a target that contradicts itself": (
        "[target]\nthickness_um = 30\ndensity_A_dm2 = 2\ntime_h = 3\n",
        "thickness_um = 30 and time_h = 3 contradict each other: at 2 A/dm2 that time gives 79.4 um",
    ),
    "two conductivities": (
        "[bath]\nconductivity_S_m = 18\nmeasured = { area_cm2 = 25, gap_mm = 30, current_A = [0.5, 1], voltage_V = [0.4, 0.6] }\n",
        "conductivity_S_m is 18, but the readings under measured give 30",
    ),
    "readings without a slope": (
        "[bath]\nmeasured = { current_A = [0.5], voltage_V = [0.4] }\n",
        "bath.measured: read current and voltage at two settings at least",
    ),
}


def save(path: Path, model: models.Model) -> None:
    trimesh.Trimesh(*model, process=False).export(path)


@pytest.fixture
def folder(tmp_path) -> Path:
    save(tmp_path / "Bar.stl", BAR)
    points, faces = models.inside_out(models.moved(models.box((200, 150, 100)), (-100, -75, 0)))
    keep = [face for face in faces if points[face][:, 2].min() < 100]
    save(tmp_path / "tub.stl", (points, np.array(keep[1:])))  # without one triangle of a wall or the floor
    save(tmp_path / "sheet.stl", models.moved(models.plate((20, 20)), (0, 30, 100)))
    return tmp_path


@pytest.mark.slow
@pytest.mark.parametrize("name", BAD)
def test_one_line_status_two_and_no_report(folder, name, capfd):
    """Which objects, by how much. Nothing else is left in the folder."""
    text, words = BAD[name]
    table = "anode = []\n" if name == "no anode" else ""
    (folder / "job.toml").write_text(f'{table}[part]\nfile = "Bar.stl"\n[effort]\npanels = 500\n{text}')
    before = {path.name for path in folder.iterdir()}
    assert command.main(["plan", str(folder / "job.toml"), "--report", str(folder / "r.json")]) == 2
    out, err = capfd.readouterr()
    assert out == "" and len(err.splitlines()) == 1, err
    assert words in err, err
    assert "job.toml" in err or err.startswith("platewright: error: target:")
    assert {path.name for path in folder.iterdir()} == before


@pytest.mark.slow
def test_a_large_part_gets_a_tank_that_holds_it(folder):
    """Nothing was said of the tank: 400 mm of bar hang in a vessel at least 450 mm long, and the field is there."""
    save(folder / "Bar.stl", models.box((400, 20, 40)))
    (folder / "job.toml").write_text(
        '[part]\nfile = "Bar.stl"\n[effort]\npanels = 500\nskip = "narrow, openness, contacts, coat, hanging, ranges"\n'
    )
    assert command.main(["plan", str(folder / "job.toml"), "--report", str(folder / "r.json")]) == 0
    report = json.loads((folder / "r.json").read_text())
    assert report["field"] is not None and report["tank"]["assumed"] and max(report["tank"]["size_mm"]) >= 450


@pytest.mark.slow
def test_panels_that_do_not_fit_into_memory_are_fewer_with_a_warning(folder, monkeypatch, capfd):
    """The largest honest resolution: estimated before it is taken."""
    from addon.engine.field import solve

    monkeypatch.setattr(solve, "MEMORY_SHARE", solve.MEMORY_SHARE * 1e-4)
    (folder / "job.toml").write_text(
        '[part]\nfile = "Bar.stl"\n[effort]\nskip = "narrow, openness, contacts, coat, hanging, ranges"\n'
    )
    assert command.main(["plan", str(folder / "job.toml"), "--report", str(folder / "r.json")]) == 0
    assert "12000 panels do not fit into memory" in capfd.readouterr().err


METERS = models.moved(models.box((0.030, 0.020, 0.040)), (0.5, 0.2, 0.1))


def move(name: str, **to: float) -> None:
    for axis, value in to.items():
        setattr(bpy.context.scene.objects[name].location, axis, value)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda: move("Bar", x=0.16), "Bar: it reaches through the +x wall of the tank by 25 mm"),
        (lambda: move("Bar", z=0.105), "Bar: its top is 15 mm above the liquid"),
        (lambda: move("Bar", z=-0.105), "Bar: it reaches through the floor of the tank by 15 mm"),
        (lambda: move("Anode 1", y=0.008), "Bar and Anode 1 overlap by 2 mm"),
        (lambda: move("Anode 1", y=0.01005), "Bar touches Anode 1: 0.05 mm apart"),
        (lambda: move("Anode 1", y=0.13), "Anode 1: it reaches through the +y wall of the tank by 30 mm"),
        (
            lambda: [bpy.context.scene.objects[f"Anode {k}"].hide_set(True) for k in (1, 2)],
            "there is no anode in the tank",
        ),
    ],
)
def test_the_panel_tells_the_same(platewright, add, spoil, words):
    """As the reason why there is no field; what else was measured stays."""
    add(METERS, "Bar")
    settings.of(bpy.context.scene).effort.panels = 500
    bpy.ops.platewright.measure()
    bpy.ops.platewright.tank()
    spoil()
    bpy.context.view_layer.update()
    bpy.ops.platewright.study(only="field")
    study = session.find(bpy.context).study
    assert words in study.reasons["field"] and "\n" not in study.reasons["field"]
    assert study.results.deposit is not None


def test_a_bath_that_does_not_conduct_cannot_be_set(platewright):
    """The panel's field ends above zero, as the job's key does."""
    bath = settings.of(bpy.context.scene).bath
    bath.conductivity = 0.0
    assert bath.conductivity > 0
