"""From a job to the field: the same answer however the part is meshed, placed and asked for; and one line on bad input."""

from __future__ import annotations

import models
from cubes import EDGE, cube, solved, surface
import numpy as np
import pytest

from addon.engine.reporting.finding_text import texts
from addon.engine.field.result import Field, Flag
from addon.engine.field.solve import run
from addon.engine.settings.job import read_job
from addon.engine.progress import run_to_end


@pytest.fixture(scope="module")
def plain() -> Field:
    """A cube of 12 triangles in the default job."""
    return solved(surface(cube()))


def slivers() -> models.Model:
    """The cube with 800 slivers of 1 : 100 on four of its faces."""
    points, faces = models.box([1, 1, 1], [1, 1, 100])
    return models.moved((points, faces), [-EDGE / 2] * 3, scale=EDGE)


def uneven() -> models.Model:
    """The cube with one face's triangles split three times over: T-shaped joints, so that no edge there is shared."""
    points, faces = cube(4)
    fine = points[faces].mean(axis=1)[:, 0] > 0.5 * EDGE / 2
    rest, some = (points, faces[~fine]), (points, faces[fine])
    for _ in range(3):
        some = models.split(some)
    return models.joined(rest, some)


@pytest.mark.slow
@pytest.mark.parametrize("model", [cube(24), slivers(), uneven()], ids=["6912 triangles", "slivers", "uneven"])
def test_the_triangulation_does_not_matter(plain, model):
    """Voltage within 0.2 %, the spread of density and the faces' means within 2 %, of those of 12 triangles."""
    part = surface(model)
    field = solved(part)
    assert field.voltage == pytest.approx(plain.voltage, rel=0.002)
    for name in ("min", "p5", "median", "p95"):
        assert getattr(field.density_spread, name) == pytest.approx(getattr(plain.density_spread, name), rel=0.02)
    simple = surface(cube())
    for axis in range(3):
        for way in (-1, 1):
            mean = [
                np.average(f.density[some], weights=p.area[some])
                for f, p in ((field, part), (plain, simple))
                for some in [p.normal[:, axis] * way > 0.9]
            ]
            assert mean[0] == pytest.approx(mean[1], rel=0.02)


def test_faces_carry_the_panels_current(plain):
    """density x area over the faces is the current; thickness goes with it, and its mean is what is wanted."""
    part = surface(cube())
    assert plain.current == pytest.approx(200.0 * 6 * EDGE**2, rel=1e-4)
    assert np.average(plain.thickness, weights=part.area) == pytest.approx(30e-6, rel=1e-6)
    assert plain.anode_current == pytest.approx(plain.current, rel=1e-3)
    assert plain.coat is None  # nothing was said of a coat
    assert (plain.flag == Flag.GOOD).all()
    assert plain.error < 0.06 and plain.residual < 1e-5


@pytest.mark.slow
def test_turning_model_and_way_up_together_changes_nothing(plain):
    """The tank sees the same part."""
    turn = models.rotation(5)
    part = surface(models.moved(cube(), turn=turn))
    field = solved(part, {"part": {"up": (turn @ [0, 0, 1]).tolist()}})
    # about the vertical the turn is not undone, so only what hangs on the way up can be compared
    again = solved(surface(models.moved(cube(), turn=np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]]))))
    assert again.voltage == pytest.approx(plain.voltage, rel=0.002)
    assert field.voltage == pytest.approx(plain.voltage, rel=0.01)


@pytest.mark.slow
def test_everything_twice_as_large():
    """Without overpotential twice the size at half the density takes the same voltage: R ~ 1 / L, I ~ L."""
    fields = []
    for size in (1.0, 2.0):
        table = {
            "bath": {"kinetics": {"kind": "none"}},
            "target": {"density_A_dm2": 2.0 / size},
            "tank": {"size_mm": [200 * size, 120 * size, 130 * size], "level_mm": 120 * size},
            "anode": [
                {
                    "plate_mm": [90 * size, 50 * size],
                    "centre_mm": [0, 50 * size, 60 * size],
                    "normal": [0, -1, 0],
                }
            ],
        }
        fields.append(solved(surface(models.moved(cube(), scale=size)), table, panels=800))
    assert fields[1].voltage == pytest.approx(fields[0].voltage, rel=0.003)
    assert fields[1].density_spread.median == pytest.approx(0.5 * fields[0].density_spread.median, rel=0.003)


@pytest.mark.slow
def test_a_supply_that_holds_a_voltage(plain):
    """Held at the voltage that the current took, by [supply] hold_V, the cell draws that current; by hand, at twice as
    much, the same as by [supply]. What follows is said where it is not the wanted density."""
    held = solved(surface(cube()), {"supply": {"hold_V": plain.voltage}})
    assert held.current == pytest.approx(plain.current, rel=1e-3)
    assert held.time == pytest.approx(plain.time, rel=1e-3)
    assert not any("held" in warning for warning in texts(held.findings))
    more = solved(surface(cube()), {"supply": {"hold_V": 2 * plain.voltage}})
    assert more.current > 2 * plain.current  # Tafel's line takes less of each further volt
    by_hand = solved(surface(cube()), voltage=2 * plain.voltage)
    assert by_hand.current == pytest.approx(more.current, rel=1e-9)
    assert more.time == pytest.approx(plain.time * plain.current / more.current, rel=1e-3)
    assert any("held" in warning and "not the wanted 2:" in warning for warning in texts(more.findings))


@pytest.mark.slow
def test_kinetics_at_the_anode_add_to_the_voltage(plain):
    """On plates far away their even overpotential is simply added, and the part's own is left as it was."""
    law = {"kind": "butler-volmer", "exchange_A_m2": 1.0}
    field = solved(surface(cube()), {"bath": {"anode_kinetics": law}})
    assert field.voltage > plain.voltage + 0.02
    assert field.density_spread.min == pytest.approx(plain.density_spread.min, rel=0.02)


@pytest.mark.slow
def test_masked_faces_carry_nothing():
    """Half of a cube masked: no density there, and the rest carries the part's current."""
    points, faces = cube(6)
    masked = points[faces].mean(axis=1)[:, 2] > 0
    part = surface((points, faces), masked=masked)
    field = solved(part, panels=600)
    assert (field.density[masked] == 0).all() and (field.flag[masked] == Flag.UNPLATED).all()
    assert field.current == pytest.approx(200.0 * 3 * EDGE**2, rel=1e-3)


@pytest.mark.slow
def test_what_lies_inside_another_shell_gets_nothing():
    """Two boxes pushed into each other, as modellers leave them: the buried ends carry no current, and a warning says so.
    The voltage is that of the union."""
    long = models.moved(models.box((0.03, 0.01, 0.01), (12, 4, 4)), (-0.015, -0.005, -0.005))
    across = models.moved(models.box((0.01, 0.03, 0.01), (4, 12, 4)), (-0.0049, -0.015, -0.0051))
    part = surface(long, across)
    field = solved(part, panels=1000)
    x, y, _ = np.abs(part.centroid).T
    buried = (np.maximum(x, y) < 0.0052) & (np.minimum(x, y) < 0.003) & (np.abs(part.normal[:, 2]) < 0.5)
    assert buried.sum() > 20
    assert np.median(np.abs(field.density[buried])) < 2.0
    assert any("inside another shell" in warning for warning in texts(field.findings))


@pytest.mark.slow
def test_a_sheet_carries_current_on_both_sides():
    """An open plate with liquid on both sides draws what a thin box of the same outline does, within 3 %."""
    sheet = surface(
        models.moved(models.plate((0.04, 0.03), (8, 6)), turn=np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0.0]]))
    )
    thin = surface(models.moved(models.box((0.04, 0.0004, 0.03), (8, 1, 6))))
    anodes = [{"plate_mm": [200, 30], "centre_mm": [0, y, 110], "normal": [0, -y, 0]} for y in (-95, 95)]
    none = {"bath": {"kinetics": {"kind": "none"}}, "anode": anodes}
    one, other = (
        run_to_end(run(p, read_job({**none, "effort": {"panels": 1500}}), voltage=0.1)) for p in (sheet, thin)
    )
    assert one.current == pytest.approx(other.current, rel=0.03)
    assert any("sheet" in warning for warning in texts(one.findings))


@pytest.mark.slow
def test_a_drop_along_the_coat_moves_current_towards_the_wire():
    """A drop that grows along x starves the far end; given as a function it is solved along, and the two agree."""
    part = surface(cube(4))
    per_amp = 0.2 * (part.centroid[:, 0] + EDGE / 2) / EDGE

    def drop(density: np.ndarray) -> np.ndarray:
        return per_amp * float(part.area @ density)

    coupled = solved(part, panels=700, wire_drop=drop)
    fixed = solved(part, panels=700, wire_drop=per_amp * coupled.current)
    assert coupled.coat > 0.01
    np.testing.assert_allclose(coupled.density, fixed.density, rtol=0.01)
    near, far = (coupled.density[part.normal[:, 0] * way > 0.9].mean() for way in (-1, 1))
    assert far < 0.8 * near


@pytest.mark.slow
def test_a_coat_that_rules_still_settles():
    """Ten times as resistive a coat: a fixed point would swing to and fro; the mixture of rounds does not."""
    part = surface(cube(4))
    per_amp = 3.0 * (part.centroid[:, 0] + EDGE / 2) / EDGE

    def drop(density: np.ndarray) -> np.ndarray:
        return per_amp * float(part.area @ density)

    field = solved(part, panels=700, wire_drop=drop)
    again = solved(part, panels=700, wire_drop=per_amp * field.current)
    assert field.coat == pytest.approx(again.coat, rel=0.03)


@pytest.mark.slow
def test_time_to_the_thinnest_show_face():
    """With only the top marked as a show face, the time is that of the top, not of the thinnest place of all."""
    points, faces = models.cup(8.0, 12.0, 1.0, 32, 4)
    model = models.moved((points, faces), scale=1e-3)
    outside = np.linalg.norm(model[0][model[1]].mean(axis=1)[:, :2], axis=1) > 8.5e-3
    field, shown = (solved(surface(model, **marks), panels=800) for marks in ({}, {"show": outside}))
    assert field.time_thinnest > 2.0 * shown.time_thinnest
    assert field.time == pytest.approx(shown.time)


@pytest.mark.slow
def test_a_show_face_smaller_than_a_panel_is_no_hollow():
    """On a ball that plates evenly: the thinnest place has the wanted thickness when nearly all have it."""
    ball = models.sphere(0.02, 4)
    part = surface(ball, show=np.arange(len(ball[1])) == 7)
    found = solved(part, panels=500)
    assert found.time_thinnest < 1.2 * found.time
