"""Inspection of the mesh: figures of closed forms, repairs that change nothing, faults that are found and said."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.engine.mesh import inspection, weld
from addon.engine.errors import InputError
from addon.engine.findings import Code, Quantity
from addon.engine.progress import run_to_end
from addon.engine.reporting.finding_text import text
from addon.engine.units import MM

import models

BOX = models.moved(models.box((20, 20, 20), (2, 2, 2)), scale=MM)
CUP = models.moved(models.cup(around=24), scale=MM)


def inspect(*parts, **settings):
    return run_to_end(inspection.inspect(models.part(*parts), **settings))


def kinds(surface):
    return {fault.code.value for fault in surface.faults}


def loose(model):
    """Every triangle with points of its own, as in a file of loose triangles."""
    points, triangles = model
    return points[triangles].reshape(-1, 3), np.arange(triangles.size, dtype=np.int32).reshape(-1, 3)


def test_a_box_has_the_area_and_volume_of_a_box():
    surface = inspect(BOX)
    assert surface.wet_area.sum() == pytest.approx(6 * (20 * MM) ** 2)
    assert surface.volume == pytest.approx((20 * MM) ** 3)
    assert surface.closed and not surface.faults and surface.wetted.all()


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 1000), size=st.floats(3e-3, 0.3), split=st.booleans(), apart=st.booleans())
def test_area_and_volume_do_not_hang_on_how_the_model_is_written(seed, size, split, apart):
    """Turned, scaled, its triangles split and shuffled, its points given again for every triangle."""
    model = models.split(CUP) if split else CUP
    model = models.moved(model, shift=(size, -size, 2 * size), turn=models.rotation(seed), scale=size / (20 * MM))
    points, triangles = loose(model) if apart else model
    random = np.random.default_rng(seed)
    shuffled = random.permutation(triangles)
    shuffled = np.take_along_axis(shuffled, (np.arange(3) + random.integers(3, size=(len(shuffled), 1))) % 3, axis=1)
    plain, changed = inspect(CUP), inspect((points, shuffled))
    assert changed.wet_area.sum() == pytest.approx(plain.wet_area.sum() * (size / (20 * MM)) ** 2, rel=1e-12)
    assert changed.volume == pytest.approx(plain.volume * (size / (20 * MM)) ** 3, rel=1e-12)
    assert kinds(changed) == ({"points-welded"} if apart else set())


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000))
def test_points_that_single_precision_cannot_tell_apart_are_joined_at_open_edges(seed):
    """Loose triangles written in single precision far from the origin, each corner rounded its own way."""
    points, triangles = loose(models.moved(CUP, shift=(0.1, 0.2, -0.3), turn=models.rotation(seed)))
    noise = np.random.default_rng(seed).uniform(-0.5, 0.5, points.shape) * np.spacing(np.float32(0.3))
    surface = inspect((points + noise, triangles))
    assert surface.closed
    assert surface.volume == pytest.approx(inspect(CUP).volume, rel=1e-5)
    assert "edges-closed" in kinds(surface)


def test_near_points_are_joined_wherever_the_grid_lies():
    """Pairs half a tolerance apart, anywhere: none is lost at the border of a cell."""
    random = np.random.default_rng(0)
    places = random.uniform(-1, 1, (20_000, 3))
    other = places + 0.5 * weld.ULP * models.rotation(1)[random.integers(3, size=len(places))]
    first = weld.near(np.vstack([places, other]), np.arange(2 * len(places)))
    assert (first[len(places) :] == np.arange(len(places))).all()


def test_rows_with_one_hash_are_told_apart(monkeypatch):
    """A hash that is the same for all: slow, and right all the same."""
    monkeypatch.setattr(weld, "row_hash", lambda rows: np.zeros(len(rows), dtype=np.uint64))
    points = np.array([[1.0, 2, 3], [0.0, 0, 0], [1, 2, 3], [-0.0, 0, 0], [5, 5, 5]])
    assert weld.exact(points).tolist() == [0, 1, 0, 1, 4]
    monkeypatch.setattr(weld, "row_hash", lambda rows: rows[:, 0] >> np.uint64(52) << np.uint64(40))
    points = np.random.default_rng(2).integers(0, 6, (500, 3)).astype(float)
    _, first, place = np.unique(points, axis=0, return_index=True, return_inverse=True)
    assert (weld.exact(points) == first[place.reshape(-1)]).all(), "numpy's unique rows"


@pytest.mark.slow
@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10_000), st.floats(0, 1))
def test_faces_turned_at_random_are_turned_back(seed, share):
    points, triangles = CUP
    wrong = np.random.default_rng(seed).random(len(triangles)) < share
    surface = inspect((points, np.where(wrong[:, None], triangles[:, ::-1], triangles)))
    straight = inspect(CUP)
    assert np.allclose(surface.normal, straight.normal)
    assert surface.volume == pytest.approx(straight.volume)
    found = [fault.faces.tolist() for fault in surface.faults if fault.code == Code.FACES_TURNED]
    assert found == ([np.flatnonzero(wrong).tolist()] if wrong.any() else [])


@pytest.mark.parametrize("turned", range(8))
def test_shells_in_shells_by_depth(turned):
    """Box, hollow, loose body in the hollow: only the outermost is wetted, volumes alternate, whatever the winding."""
    shells = [models.moved(models.sphere(r, 2), scale=MM) for r in (10, 7, 4)]
    surface = inspect(*(models.inside_out(s) if turned >> k & 1 else s for k, s in enumerate(shells)))
    areas, volumes = zip(*((inspect(s).wet_area.sum(), inspect(s).volume) for s in shells), strict=True)
    assert surface.wet_area.sum() == pytest.approx(areas[0])
    assert surface.volume == pytest.approx(volumes[0] - volumes[1] + volumes[2])
    radial = np.einsum("ij,ij->i", surface.normal, surface.centroid)
    assert [bool((radial[surface.shell == k] > 0).all()) for k in range(3)] == [True, False, True]
    assert "shells-enclosed" in kinds(surface)


def test_a_box_in_the_notch_of_another_is_not_enclosed():
    """Its box lies in the other's box, but it lies in the cup's hollow, not in its solid."""
    surface = inspect(CUP, models.moved(models.sphere(3, 2), shift=(0, 0, 10 * MM), scale=MM))
    assert surface.wetted.all() and not surface.faults


def test_bodies_that_run_into_each_other_say_how_much_is_covered():
    """Two boxes 20 mm wide, shifted by (10, 5, 3): each covers half the faces of a 10 x 15 x 17 mm box."""
    surface = inspect(BOX, models.moved(BOX, shift=np.array([10, 5, 3]) * MM))
    [fault] = surface.faults
    assert fault.code == Code.SHELLS_OVERLAP
    covered = 2 * (10 * 15 + 15 * 17 + 10 * 17) * MM**2
    share = fault.quantities[Quantity.SHARE]
    assert share == pytest.approx(covered / surface.wet_area.sum(), rel=0.05)
    assert surface.wetted.all()


def test_a_shell_that_runs_into_itself_is_found():
    """A tube of radius 1 along an open loop that crosses its own start at the origin."""
    t = np.linspace(-0.5, np.pi + 0.5, 120)
    middle = 10 * np.stack([np.sin(t), np.sin(2 * t), 0 * t], axis=1)
    along = np.stack([np.cos(t), 2 * np.cos(2 * t), 0 * t], axis=1)
    across = np.cross(along, (0, 0, 1)) / np.linalg.norm(along, axis=1, keepdims=True)
    turn = np.arange(24) * 2 * np.pi / 24
    ring = across[:, None] * np.cos(turn)[:, None] + np.sin(turn)[:, None] * np.array([0, 0, 1])
    flat, triangles = models.lathe(np.stack([np.ones(120), np.arange(120)], axis=1), 24)  # a tube to be bent
    row, column = np.round(flat[:, 2]).astype(int), np.round(np.arctan2(flat[:, 1], flat[:, 0]) / turn[1]).astype(int)
    caps = [np.flatnonzero(row == end)[np.argsort(column[row == end] % 24)] for end in (0, 119)]
    lids = [np.stack([np.full(22, cap[0]), cap[1:-1], cap[2:]], axis=1) for cap in caps]
    points = (middle[:, None] + ring)[row, column % 24]
    surface = inspect((points * MM, np.vstack([triangles, lids[0][:, ::-1], lids[1]]).astype(np.int32)))
    [fault] = [fault for fault in surface.faults if fault.code == Code.SHELLS_OVERLAP]
    assert surface.closed and "runs into itself" in text(fault)
    assert np.linalg.norm(surface.centroid[fault.faces], axis=1).max() < 4 * MM


def test_a_body_standing_flush_in_another_counts_once():
    """A peg let into a block, its top level with the block's, meshed otherwise: the top is there twice."""
    peg = models.moved(models.box((6, 6, 10), (3, 3, 1)), shift=(7 * MM, 7 * MM, 10 * MM), scale=MM)
    [fault] = inspect(BOX, peg).faults
    covered = (4 * 6 * 10 + 6 * 6) + 6 * 6  # mm2: its sides and bottom, and one of the two tops
    share = fault.quantities[Quantity.SHARE]
    assert share == pytest.approx(covered / (6 * 400 + 2 * 36 + 240), rel=0.05)


def test_bodies_that_touch_on_the_same_triangles_are_one():
    """Two boxes side by side: the wall between them is no surface; 10 faces of 400 mm2 are left."""
    surface = inspect(BOX, models.moved(BOX, shift=(20 * MM, 0, 0)))
    assert kinds(surface) == {"points-welded", "inner-walls"}
    assert surface.wet_area.sum() == pytest.approx(10 * (20 * MM) ** 2)
    assert surface.volume == pytest.approx(2 * (20 * MM) ** 3)
    assert surface.closed


def test_a_fin_without_thickness_keeps_both_its_sides():
    """Two triangles back to back on the box's top: one's edge is free, so liquid wets both."""
    fin = np.array([[0, 0, 20], [10, 10, 20], [0, 0, 30]]) * MM, np.array([[0, 1, 2], [2, 1, 0]], dtype=np.int32)
    surface = inspect(BOX, fin)
    assert surface.wetted.all() and surface.closed
    assert surface.volume == pytest.approx((20 * MM) ** 3)


def test_repeated_faces_count_once():
    points, triangles = BOX
    surface = inspect((points, np.vstack([triangles, triangles[:7], triangles[3:5]])))
    assert kinds(surface) == {"faces-repeated"}
    assert surface.wet_area.sum() == pytest.approx(6 * (20 * MM) ** 2)
    assert surface.closed and surface.volume == pytest.approx((20 * MM) ** 3)
    assert np.flatnonzero(~surface.wetted).tolist() == list(range(len(triangles), len(triangles) + 9))


def test_collapsed_faces_change_nothing():
    points, triangles = BOX
    surface = inspect((points, np.vstack([triangles, [[0, 0, 1], [5, 5, 5]]])))
    assert kinds(surface) == {"faces-degenerate"}
    assert surface.closed and surface.volume == pytest.approx((20 * MM) ** 3)
    assert surface.faults[0].faces.tolist() == [len(triangles), len(triangles) + 1]


def test_a_triangle_without_area_may_still_close_the_mesh():
    """A sliver whose corners lie on one line, where the edge of one side is split and the other's is not."""
    points, triangles = models.box((20 * MM,) * 3)
    a, b, c = triangles[0]
    middle = len(points)
    points = np.vstack([points, (points[a] + points[b]) / 2])
    triangles = np.vstack([triangles[1:], [[a, middle, c], [middle, b, c], [a, b, middle]]])
    surface = inspect((points, triangles))
    assert surface.closed and kinds(surface) == {"faces-degenerate"}
    assert surface.volume == pytest.approx((20 * MM) ** 3)


def test_an_open_mesh_has_an_area_and_no_volume():
    points, triangles = CUP
    surface = inspect((points, triangles[9:]))
    peer = trimesh.Trimesh(points, triangles[9:], process=False)
    assert surface.wet_area.sum() == pytest.approx(peer.area)
    assert not surface.closed and np.isnan(surface.volume)
    [fault] = surface.faults
    alone = len(peer.edges_unique) - len(peer.face_adjacency)
    assert fault.code == Code.MESH_OPEN and f"{alone} open edges" in text(fault)


def test_a_sheet_counts_both_sides_where_the_user_says_so():
    plate = models.moved(models.plate((20, 30), (4, 6)), scale=MM)
    assert inspect(plate).wet_area.sum() == pytest.approx(600 * MM**2)
    assert inspect(plate, sheet_sides=2).wet_area.sum() == pytest.approx(1200 * MM**2)


def test_a_solid_with_a_small_hole_is_no_sheet_and_is_turned_outward():
    """Its inside is not plated even where sheets count both sides, and it may be inside out as a closed one may."""
    points, triangles = models.moved(models.sphere(10, 3), scale=MM)
    surface = inspect((points, triangles[1:, ::-1]), sheet_sides=2)
    assert (surface.sides == 1).all()
    assert (np.einsum("ij,ij->i", surface.normal, surface.centroid) > 0).all()


def test_a_band_with_one_side_is_said_and_left():
    """A Moebius band of 40 squares."""
    t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    across = np.array([-1, 1])[:, None]
    radius = 10 + across * np.cos(t / 2)
    points = np.stack([radius * np.cos(t), radius * np.sin(t), across * np.sin(t / 2)], axis=-1).reshape(-1, 3)
    i = np.arange(40)
    low, high = i, i + 40
    low2, high2 = np.where(i == 39, 40, low + 1), np.where(i == 39, 0, high + 1)
    triangles = np.vstack([np.stack([low, low2, high2], 1), np.stack([low, high2, high], 1)]).astype(np.int32)
    surface = inspect((points * MM, triangles))
    assert "one-sided-surface" in kinds(surface) and np.isnan(surface.volume)


def test_an_inner_wall_leaves_edges_of_three_faces():
    """A sheet across the inside of a tube: its rim is shared by three faces, so no volume can be told."""
    points, triangles = models.moved(models.cylinder(5, 20, 16, 2), scale=MM)
    ring = np.flatnonzero(np.isclose(points[:, 2], 10 * MM) & (np.hypot(*points[:, :2].T) > 4 * MM))
    ring = ring[np.argsort(np.arctan2(points[ring, 1], points[ring, 0]))]
    fan = np.stack([np.full(14, ring[0]), ring[1:-1], ring[2:]], axis=1)
    surface = inspect((points, np.vstack([triangles, fan])))
    assert "mesh-non-manifold" in kinds(surface) and np.isnan(surface.volume)


@pytest.mark.parametrize(
    ("size", "word"),
    [(0.06 * MM, "meters"), (1.9 * MM, "inches"), (60, "meters"), (0.9, "centimeters"), (1.5, "inches")],
)
def test_an_unlikely_size_draws_a_question_that_names_the_likely_unit(size, word):
    [fault] = inspect(models.box((size, size / 2, size / 2))).faults
    assert fault.code == Code.WRONG_SCALE and f" {word}" in text(fault) and "?" in text(fault)


def test_usual_sizes_draw_no_question():
    assert not inspect(models.box((2.1 * MM,) * 3)).faults
    assert not inspect(models.box((0.599,) * 3)).faults


def test_a_mesh_without_any_area_is_refused_in_one_line():
    flat = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0]]) * MM, np.array([[0, 1, 2]], dtype=np.int32)
    with pytest.raises(InputError, match="no face has an area"):
        inspect(flat)


def test_nothing_of_the_part_is_changed():
    points, triangles = loose(models.inside_out(CUP))
    part = models.part((points.copy(), triangles.copy()))
    before = part.fingerprint
    surface = run_to_end(inspection.inspect(part))
    assert (part.points == points).all() and (part.triangles == triangles).all() and part.fingerprint == before
    assert len(surface.triangles) == len(triangles)
    corners = np.sort(surface.corners.reshape(-1, 9), axis=1)
    assert (corners == np.sort(points[triangles].reshape(-1, 9), axis=1)).all()


def test_masked_faces_are_wetted_and_not_plated():
    masked = np.arange(len(BOX[1])) < 8
    surface = run_to_end(inspection.inspect(models.part(BOX, masked=masked)))
    assert surface.wetted.all() and (surface.plated == ~masked).all()
