"""The cut through the tank: where its plane stands in the scene, when it is stale, and its picture."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
import trimesh
from mathutils import Matrix, Vector

from addon.engine import color
from addon.suite import command
from addon.suite.scene import settings
from addon.suite.draw import cuts, overlay_cut, sheet
from addon.suite.scene import roles

from models import box, moved
from scene import updated

BAR = moved(box((0.030, 0.020, 0.040)), (0.5, 0.2, 0.1))  # meters, away from the scene's origin
MIDDLE = Vector((0.515, 0.21, 0.12))


@pytest.fixture
def part(platewright, measured):
    """The bar in a tank of objects, measured."""
    made = measured(BAR, "Bar")
    bpy.ops.platewright.tank()
    bpy.ops.platewright.cut()
    return made


def at(points: np.ndarray) -> np.ndarray:
    """Places of the plane (k, 2) in the scene (k, 3)."""
    found = updated()
    place = overlay_cut.placed(bpy.context, found.study.results.cut, found.study.job)
    return np.array([place @ Vector((*point, 0.0)) for point in points])


def corners() -> np.ndarray:
    """Lower left and upper right corner of the plane in the scene."""
    grid = updated().study.results.cut.grid
    return at(np.array([(grid.across[0], grid.up[0]), (grid.across[-1], grid.up[-1])]))


@pytest.mark.slow
def test_the_plane_stands_in_the_tank_and_round_the_part(part):
    """The middle of the plane is the middle of the part; its rim is the tank's inside from the floor to the level; the
    section of the part is the bar's."""
    assert at(np.zeros((1, 2)))[0] == pytest.approx(MIDDLE, abs=1e-4)
    tank = roles.inside(roles.tank(bpy.context.scene), bpy.context.scene)
    low, high = tank.of(corners())
    level = settings.of(bpy.context.scene).tank.level / 1000
    assert sorted([low[1], high[1]]) == pytest.approx([-tank.size[1] / 2, tank.size[1] / 2], abs=1e-3)
    assert [low[2], high[2]] == pytest.approx([0.0, level], abs=1e-3)
    section = at(updated().study.results.cut.outlines[0].section.segments.reshape(-1, 2))
    assert section.min(axis=0) == pytest.approx([0.515, 0.20, 0.10], abs=1e-4)
    assert section.max(axis=0) == pytest.approx([0.515, 0.22, 0.14], abs=1e-4)


@pytest.mark.slow
def test_it_stays_in_the_tank_when_the_part_is_moved_and_is_stale(part):
    """Moving the part in the tank makes the cut stale; the plane stays where the tank is, and goes with the tank."""
    before = corners()
    assert "cut" not in updated().stale(bpy.context.scene)
    part.location.x += 0.02
    assert "cut" in updated().stale(bpy.context.scene)
    assert corners() == pytest.approx(before, abs=1e-5)
    roles.tank(bpy.context.scene).location.z += 0.1
    bpy.context.view_layer.update()
    assert corners() == pytest.approx(before + (0, 0, 0.1), abs=1e-5)


@pytest.mark.slow
def test_without_a_tank_of_objects_it_goes_with_the_part(platewright, add):
    """In a scene in millimeters, moved and scaled: the plane's middle is the part's, and moving it makes nothing stale."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    made = add(box((3.0, 2.0, 4.0)), "Bar")
    made.matrix_world = Matrix.LocRotScale(Vector((50.0, -20.0, 5.0)), None, Vector((10.0, 10.0, 10.0)))
    settings.of(bpy.context.scene).effort.panels = 500
    bpy.ops.platewright.measure()
    bpy.ops.platewright.cut()
    assert at(np.zeros((1, 2)))[0] == pytest.approx([65.0, -10.0, 25.0], abs=1e-2)
    made.location.x += 100.0
    assert "cut" not in updated().stale(bpy.context.scene)
    assert at(np.zeros((1, 2)))[0] == pytest.approx([165.0, -10.0, 25.0], abs=1e-2)


@pytest.mark.slow
def test_the_slider_makes_it_stale_and_solves_nothing_again(part):
    """Another plane reads the solution that there is: the same object; Back to Normal takes the cut away."""
    scene = bpy.context.scene
    solution = updated().study.results.potential
    assert overlay_cut.shown_cut(bpy.context) is not None
    settings.of(scene).cut.offset = 12.0
    assert {"cut", "potential"} & updated().stale(scene) == {"cut"}
    bpy.ops.platewright.cut()
    assert "cut" not in updated().stale(scene)
    assert updated().study.results.potential is solution
    assert abs(at(np.zeros((1, 2)))[0, 0] - MIDDLE.x) == pytest.approx(0.012, abs=1e-4)
    bpy.ops.platewright.normal()
    assert overlay_cut.shown_cut(bpy.context) is None
    settings.of(scene).cut.offset = 5000.0
    bpy.ops.platewright.cut()  # warns, and leaves what there is
    assert "cut" in updated().stale(scene)
    assert overlay_cut.shown_cut(bpy.context) is None


@pytest.mark.slow
def test_only_cells_with_liquid_are_colored(part):
    """Their area is the plane's without the bar's section (30 or 20 x 40 mm), to the cells along its rim."""
    cut = updated().study.results.cut
    places, triangles = cuts.cells(cut)
    a, b, c = places[triangles].swapaxes(0, 1)
    (x, y), (u, v) = (b - a).T, (c - a).T
    area = 0.5 * np.abs(x * v - y * u).sum()
    whole = np.ptp(cut.grid.across) * np.ptp(cut.grid.up)
    assert whole - area == pytest.approx(0.020 * 0.040, abs=0.25 * 0.020 * 0.040)
    assert cut.low < 0.6 * cut.voltage
    assert len(cuts.caption(cut)) == 2


@pytest.fixture
def job(tmp_path):
    """A ball of 20 mm in a small tank."""
    trimesh.creation.icosphere(2, 10.0).export(tmp_path / "ball.stl")
    path = tmp_path / "ball.toml"
    path.write_text(
        '[part]\nfile = "ball.stl"\n[tank]\nsize_mm = [120, 80, 100]\nlevel_mm = 80\n[effort]\npanels = 500\n'
        'skip = "gas, drainage, narrow, openness, contacts, field, coat, hanging, preparation"\n'
    )
    return path


@pytest.mark.slow
def test_the_picture(job, monkeypatch):
    """The liquid is light beside the part and dark at the anodes, in the colors of the ramp; the part's section is gray
    and as large against the tank as it is; nothing else is written."""
    assert sheet.PIXELS == (1200, 900)
    monkeypatch.setattr(sheet, "PIXELS", (600, 450))
    assert command.main(["plan", str(job), "--cut", str(job.parent / "cut.png")]) == 0
    assert {path.name for path in job.parent.iterdir()} == {"ball.stl", "ball.toml", "cut.png"}
    image = bpy.data.images.load(str(job.parent / "cut.png"))
    shown = np.array(image.pixels).reshape(image.size[1], image.size[0], 4)[::-1, :, :3]
    assert shown.shape == (450, 600, 3)
    millimeter = 0.5 * 0.3 * 1.88 / 80 * 1000  # pixels
    ramp = color.encoded(color.ramp(np.linspace(0.0, 1.0, 256)))
    shares = []
    for off in (12, 20, 35):
        spot = np.median(shown[210:260, int(300 + off * millimeter)], axis=0)  # between the lines
        apart = np.abs(ramp - spot).max(axis=1)
        assert apart.min() < 0.03
        shares.append(apart.argmin() / 255)
    assert shares[0] - 0.1 > shares[1] > shares[2] + 0.1
    assert shares[2] < 0.3
    gray = np.ptp(shown, axis=2) < 0.02
    gray &= (shown[..., 0] > 0.5) & (shown[..., 0] < 0.65)
    tall = np.flatnonzero(gray[:, 300][75:350])
    assert np.ptp(tall) / millimeter == pytest.approx(20, rel=0.05)


def test_a_plane_beside_the_tank_is_one_line(job, capfd):
    """Exit status 2, the key and the range; nothing is written."""
    job.write_text(job.read_text() + "[cut]\noffset_mm = 300\n")
    assert command.main(["plan", str(job), "--cut", str(job.parent / "cut.png")]) == 2
    last = capfd.readouterr().err.strip().splitlines()[-1]
    assert last == "platewright: error: cut.offset_mm: the plane passes beside the tank; give -60 to 60 mm"
    assert not (job.parent / "cut.png").exists()
