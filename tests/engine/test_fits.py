"""Bores, shafts and threads found in a model and re-measured; what plating makes of them; gaps that close."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from addon.engine.findings import Code
from addon.engine.mesh import inspection
from addon.engine.mesh.surface import Surface
from addon.engine.printing import clearances, cylinders, fits, threads
from addon.engine.printing.fits import FitKind
from addon.engine.printing.layer import Layer
from addon.engine.progress import run_to_end
from addon.engine.units import MM, UM

import models
import scans
from tracers import EmbreeTracer

LAYER = 40 * UM, 30 * UM  # coat, deposit


def surface(model, **marks) -> Surface:
    return run_to_end(inspection.inspect(models.part(model, **marks)))


def found(surface: Surface, deposit=None, span=(1.0, 1.0)) -> fits.Fits:
    layer = Layer.of(surface, *LAYER, deposit, span)
    return run_to_end(fits.find(surface, EmbreeTracer(surface), layer))


def plate(around: int = 48) -> models.Model:
    """60 x 40 x 8 mm with bores of 3, 6 and 12 mm, one of 4 mm askew, and shafts of 5 and 10 mm on it. Cut by manifold."""
    plate = trimesh.creation.box((60, 40, 8))

    def rod(diameter, height, at, tilt=0.0):
        made = trimesh.creation.cylinder(diameter / 2, height, sections=around)
        turn = trimesh.transformations.rotation_matrix(tilt, (1, 0, 0))
        made.apply_transform(turn)
        made.apply_translation(at)
        return made

    holes = [rod(3, 20, (-20, 0, 0)), rod(6, 20, (-8, 8, 0)), rod(12, 20, (10, 6, 0)), rod(4, 30, (22, -8, 0), 0.4)]
    plate = trimesh.boolean.difference([plate, *holes], engine="manifold")
    pegs = [rod(5, 9, (-20, -13, 8)), rod(10, 12, (0, -11, 9))]
    plate = trimesh.boolean.union([plate, *pegs], engine="manifold")
    return models.moved((np.asarray(plate.vertices), np.asarray(plate.faces, dtype=np.int32)), scale=MM)


@pytest.mark.parametrize("seed", [None, 4])
def test_known_bores_and_shafts_are_measured_again(seed):
    """Corners of a tessellated rod stand on its circle, its flats cos(pi / n) inside: a bore's gauge is that, a shaft's
    the circle; in any frame."""
    turn = np.eye(3) if seed is None else models.rotation(seed)
    result = found(surface(models.moved(plate(), turn=turn)))
    told = [(one.kind, one.diameter / MM, one.length / MM) for one in result.fits]
    flats = np.cos(np.pi / 48)
    assert [kind for kind, *_ in told] == [FitKind.BORE] * 4 + [FitKind.SHAFT] * 2
    assert [size for _, size, _ in told] == pytest.approx([3, 4, 6, 12, 5, 10], rel=1e-4)
    assert [one.gauge / MM for one in result.fits] == pytest.approx(
        [3 * flats, 4 * flats, 6 * flats, 12 * flats, 5, 10], rel=1e-4
    )
    straight = [length for kind, size, length in told if round(size) != 4]
    assert straight == pytest.approx([8, 8, 8, 8.5, 11], rel=1e-4)
    axis = turn @ [0, 0, 1]
    assert [abs(one.axis @ axis) for one in result.fits] == pytest.approx([1, np.cos(0.4), 1, 1, 1, 1], abs=1e-6)
    assert result.fits[0].center / MM == pytest.approx(turn @ [-20, 0, 0], abs=1e-3)


def test_a_bore_loses_twice_the_layer_and_a_shaft_gains_it():
    result = found(surface(plate()))
    bore, shaft = result.fits[0], result.fits[-2]
    assert bore.finished == pytest.approx([bore.gauge - 2 * sum(LAYER)] * 2)
    assert shaft.finished == pytest.approx([shaft.diameter + 2 * sum(LAYER)] * 2)
    assert shaft.model == pytest.approx(shaft.diameter - 2 * sum(LAYER))
    assert bore.model * bore.gauge / bore.diameter - 2 * sum(LAYER) == pytest.approx(bore.diameter)
    assert not result.local


def test_the_local_deposit_and_its_range_count():
    """Deposit of 10 um in the bores and 60 um elsewhere, sure to 0.8 and 1.5 times: 2 (40 + 8) to 2 (40 + 15) um."""
    part = surface(models.moved(models.lathe([(3, 0), (9, 0), (9, 8), (3, 8), (3, 0)], 64), scale=MM))
    inside = np.linalg.norm(part.centroid[:, :2], axis=1) < 3.1 * MM
    inside &= np.abs(part.normal[:, 2]) < 0.5
    result = found(part, np.where(inside, 10 * UM, 60 * UM), (0.8, 1.5))
    bore = result.fits[0]
    assert bore.layer == pytest.approx((48 * UM, 55 * UM))
    assert bore.finished == pytest.approx((bore.gauge - 110 * UM, bore.gauge - 96 * UM))
    assert result.local


def test_a_masked_bore_stays():
    part = models.moved(models.lathe([(3, 0), (9, 0), (9, 8), (3, 8), (3, 0)], 64), scale=MM)
    middle = part[0][part[1]].mean(axis=1)
    masked = np.linalg.norm(middle[:, :2], axis=1) < 3.05 * MM
    bore = found(surface(part, masked=masked)).fits[0]
    assert bore.finished == pytest.approx((bore.gauge, bore.gauge)) and bore.plated == 0.0


def test_a_bore_with_rounded_rims_is_found_in_its_smooth_face():
    turn = np.linspace(0, np.pi / 2, 9)
    rim = [(7 - 2 * np.sin(t), 10 + 2 * np.cos(t)) for t in turn]
    found_ = cylinders.find(
        surface(models.moved(models.lathe([(5, 0), (15, 0), (15, 12), *rim, (5, 0)], 48), scale=MM))
    )
    (bore,) = [one for one in found_ if one.hollow]
    assert (bore.diameter / MM, bore.length / MM) == pytest.approx((10, 10), rel=1e-3)


@pytest.mark.parametrize(
    "model",
    [
        models.box((0.01, 0.02, 0.03), (3, 3, 3)),
        models.sphere(0.01, 4),
        models.torus(0.02, 0.005),
        models.torus(0.02, 0.005, 12, 12),  # a ring of mitered rods
        models.lathe([(0, 0), (0.005, 0), (0.008, 0.02), (0, 0.02)], 48),  # a cone
        models.lathe([(0, 0), (0.02, 0), (0.02, 0.002), (0, 0.002)], 48),  # a disk: its rim is no shaft
        models.cylinder(0.005, 0.02, 8),  # an octagonal bar
    ],
)
def test_what_is_no_fit_gives_none(model):
    part = surface(model)
    assert not cylinders.find(part) and not threads.find(part)


@pytest.mark.slow
def test_a_scan_gives_no_phantom_fits():
    """The bunny as scanned, and with hundreds of drops on it."""
    for model in (scans.bunny(), scans.dirty_bunny()):
        part = surface(model)
        assert not cylinders.find(part) and not threads.find(part)


def screw(diameter: float, pitch: float, turns: int, starts: int = 1, left: bool = False) -> Surface:
    """A rod whose rows climb with the turn: a thread of 60 degrees, flats an eighth and a quarter of the pitch; meters.
    Open at its ends."""
    around = 48
    depth = (5 / 16) * pitch / np.tan(np.radians(30))
    heights = np.array([0, 1 / 8, 1 / 8 + 5 / 16, 1 / 8 + 5 / 16 + 1 / 4])
    rows = np.concatenate([*(heights + turn for turn in range(turns)), [turns]]) * pitch
    radius = 0.5 * diameter - depth * np.array([*([0, 0, 1, 1] * turns), 0])
    turn = np.arange(around + 1)[:, None] * 2 * np.pi / around
    way = -1 if left else 1
    points = np.stack(
        [radius * np.cos(turn), way * radius * np.sin(turn), rows + starts * pitch * turn / (2 * np.pi)], axis=-1
    ).reshape(-1, 3)
    a = (np.arange(around)[:, None] * len(rows) + np.arange(len(rows) - 1)).ravel()
    b = a + len(rows)
    faces = np.concatenate([np.stack([a, b, b + 1], axis=1), np.stack([a, b + 1, a + 1], axis=1)])
    _, first, place = np.unique(np.round(points / 1e-9), axis=0, return_index=True, return_inverse=True)
    faces = place.reshape(-1)[faces[:, ::way]].astype(np.int32)
    yes = np.ones(len(faces), dtype=bool)
    sides = np.ones(len(faces), dtype=np.int8)
    return Surface(
        "screw", points[first], faces, np.zeros(len(faces), dtype=np.int32), yes, yes, ~yes, sides, False, 0.0
    )


@pytest.mark.parametrize(
    ("diameter", "pitch", "turns", "starts", "left"),
    [(10 * MM, 1.5 * MM, 8, 1, False), (10 * MM, 1.5 * MM, 8, 2, True), (30 * MM, 3.5 * MM, 5, 1, True)],
)
def test_a_thread_is_found_by_its_axis_and_pitch(diameter, pitch, turns, starts, left):
    """Pitch diameter of ISO 68-1: less by 0.6495 pitch. It grows by 4 t for 60 degrees (ASME B1.1, section 7)."""
    bolt = screw(diameter, pitch, turns, starts, left)
    (one,) = threads.find(bolt)
    assert one.pitch == pytest.approx(pitch, rel=0.01) and one.starts == starts
    assert one.right_handed != left and not one.hollow
    assert one.major == pytest.approx(diameter, rel=1e-3)
    assert one.growth_factor == pytest.approx(4, rel=0.02)
    assert abs(one.axis[2]) == pytest.approx(1, abs=1e-4) and np.hypot(*one.center[:2]) < 1e-3 * diameter
    result = found(bolt)
    assert [fit.kind for fit in result.fits] == [FitKind.OUTSIDE_THREAD]
    assert result.fits[0].finished[1] - result.fits[0].diameter == pytest.approx(4 * sum(LAYER), rel=0.02)


def test_gaps_that_the_layers_close_and_walls_too_thin_to_print():
    """Two plates 0.1 mm apart take 70 um each; a wall of 0.5 mm leaves 0.36 mm, less than a line of 0.4 mm."""
    plates = models.joined(models.box((20, 20, 3)), models.moved(models.box((20, 20, 0.5)), (0, 0, 3.1)))
    part = surface(models.moved(plates, scale=MM))
    result = found(part)
    assert result.clearances.gap.distance == pytest.approx(0.1 * MM, rel=1e-3)
    assert result.clearances.gap.area == pytest.approx(2 * 400 * MM**2, rel=0.02)
    assert result.clearances.wall.remaining == pytest.approx(0.36 * MM, rel=1e-3)
    assert {one.code for one in result.findings} == {Code.GAP_CLOSES, Code.WALL_THIN}
    wide = models.joined(models.box((20, 20, 3)), models.moved(models.box((20, 20, 0.6)), (0, 0, 3.2)))
    assert not found(surface(models.moved(wide, scale=MM))).findings


def test_a_gap_that_no_printer_leaves_open_is_not_closed_by_plating():
    """Two plates 0.03 mm apart print as one (common practice, no source), as the folds of a scan do."""
    plates = models.joined(models.box((20, 20, 3)), models.moved(models.box((20, 20, 3)), (0, 0, 3.03)))
    result = found(surface(models.moved(plates, scale=MM)))
    assert not result.findings and result.clearances.gap.remaining == np.inf


def test_a_bore_that_closes_is_told():
    part = surface(models.moved(models.lathe([(0.06, 0), (4, 0), (4, 6), (0.06, 6), (0.06, 0)], 32), scale=MM))
    assert Code.BORE_CLOSES in {one.code for one in found(part).findings}


def test_a_wedge_is_no_wall():
    """Its point is thin, but its sides, 60 degrees apart, do not face each other."""
    edge = models.moved(models.lathe([(0, 0), (10, 0), (0, 10)], 6), scale=MM)
    clear = clearances.measure(surface(edge), EmbreeTracer(surface(edge)), np.full(len(edge[1]), 70 * UM))
    assert clear.wall.area == 0 and clear.gap.area == 0
