"""Panels: a coarser skin of the same shape, pieces that tile it, and the way back to the faces."""

from __future__ import annotations

import models
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.engine.mesh import inspection
from addon.engine.field import coarsen as coarsening
from addon.engine.field import stars
from addon.engine.field.coarsen import coarsen, coarsen_roughly
from addon.engine.field.cover import cover
from addon.engine.field.panels import lay
from addon.engine.field.pieces import area, barycentric, cut, distance, split
from addon.engine.field.proximity import close_pairs, cut_close, width
from addon.engine.field.skin import reduced, skin
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface
from addon.engine.settings.job import read_job
from addon.engine.tank.arrange import arrange
from addon.engine.mesh.topology import Topology


def surface(*some: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*some, **marks)))


def volume(points: np.ndarray, triangles: np.ndarray) -> float:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0


def coarse(model: models.Model, size: float, most: int = 10**6, label: np.ndarray | None = None):
    points, triangles = model
    label = np.zeros(len(triangles), int) if label is None else label
    return run_to_end(coarsen(points, triangles, label, np.full(len(points), size), most))


@pytest.mark.parametrize("most", [10**6, 1500])
def test_flat_faces_stay_flat_and_sharp_edges_sharp(most):
    """Points slide onto points of the original only where no plane is left: a cube of 43,200 triangles stays a cube."""
    model = models.box((1, 1, 1), (60, 60, 60))
    found = coarse(model, 0.2, most)
    assert len(found.triangles) < 1500
    assert volume(model[0], found.triangles) == pytest.approx(1.0, abs=1e-12)
    assert not len(Topology.of(found.triangles, len(model[0])).open)


def test_curved_surfaces_lose_little():
    """A sphere of 20,480 triangles in under 4,000 loses less than 1 % of its volume, and stays closed."""
    model = models.sphere(1.0, 5)
    found = coarse(model, 0.08, 4000)
    assert len(found.triangles) < 4000
    assert volume(*model) * 0.99 < volume(model[0], found.triangles) < volume(*model)
    topology = Topology.of(found.triangles, len(model[0]))
    assert not len(topology.open) and not len(topology.non_manifold_edges)


def rough_torus() -> models.Model:
    """A torus of 2,048 triangles with a scanner's noise: a tenth of an edge, root mean square."""
    points, triangles = models.torus(around=64, across=16)
    return points + np.random.default_rng(3).normal(0.0, 0.012, points.shape), triangles


def test_a_rough_surface_is_prepared_all_the_way(monkeypatch):
    """As long as levels of panels must move it anyway: it used to stop after a pass, and each level began anew."""
    monkeypatch.setattr(coarsening, "MIN_FINE_TRIANGLES", 0)
    points, triangles = rough_torus()
    none, size = np.zeros(len(triangles), int), np.full(len(points), 0.5)
    found = run_to_end(coarsen_roughly(points, triangles, none, size, 250))
    assert len(found.triangles) <= 3 * 250
    topology = Topology.of(found.triangles, len(points))
    assert not len(topology.open) and not len(topology.non_manifold_edges)
    assert volume(points, found.triangles) == pytest.approx(volume(points, triangles), rel=0.05)


def test_stars_taken_back_are_looked_at_as_if_all_were(monkeypatch):
    """Only what reverted points touch is looked at again: the same surface comes out as when everything is."""
    points, triangles = rough_torus()
    label, size = (np.arange(len(triangles)) % 7 == 0).astype(int), np.full(len(points), 0.5)
    local = run_to_end(coarsen(points, triangles, label, size, 150))
    near, rounds = stars.clashing, []

    def everywhere(start, crowded, slide, heads):
        rounds.append(heads.all())
        return near(start, crowded, slide, np.ones(len(heads), dtype=bool))

    monkeypatch.setattr(stars, "clashing", everywhere)
    whole = run_to_end(coarsen(points, triangles, label, size, 150))
    assert not all(rounds), "some stars were taken back"
    np.testing.assert_array_equal(local.triangles, whole.triangles)
    np.testing.assert_array_equal(local.place, whole.place)


def dumbbell() -> models.Model:
    """Two balls of 5,120 triangles on a neck of three points, a thousandth as wide."""
    points, triangles = models.sphere(1.0, 4)
    top = int(points[:, 2].argmax())
    open_ball = triangles[~(triangles == top).any(axis=1)]
    points = points.copy()
    edge = np.concatenate([open_ball[:, [0, 1]], open_ball[:, [1, 2]], open_ball[:, [2, 0]]])
    rim = {(int(a), int(b)) for a, b in edge} - {(int(b), int(a)) for a, b in edge}
    follows = dict(rim)
    ring = [min(follows)]
    while follows[ring[-1]] != ring[0]:
        ring.append(follows[ring[-1]])
    count, turn = len(points), np.arange(3) * (2 * np.pi / 3)
    start = np.arctan2(points[ring[0], 1], points[ring[0], 0])
    way = np.sign(np.cross(points[ring[0]], points[ring[1]])[2])
    neck = np.stack([1e-3 * np.cos(start + way * turn), 1e-3 * np.sin(start + way * turn), np.full(3, 1.001)], axis=1)
    steps = [k * 3 // len(ring) for k in range(len(ring) + 1)]
    cap = []
    for k, one in enumerate(ring):
        other = ring[(k + 1) % len(ring)]
        here, there = count + steps[k] % 3, count + steps[k + 1] % 3
        cap.append([other, one, here])
        if here != there:
            cap.append([other, here, there])
    half = np.concatenate([points, neck]), np.concatenate([open_ball, cap])
    mirrored = half[0] * (1, 1, -1) + (0, 0, 2.002)
    both = np.concatenate([half[0], mirrored[:count]])
    other = np.where(half[1] < count, half[1] + count + 3, half[1])
    return both, np.concatenate([half[1], other[:, ::-1]]).astype(np.int32)


def test_a_neck_of_three_points_stays():
    """Two balls joined by it stay one surface like a ball, by Euler's number; closed to a point they had 3."""
    model = dumbbell()
    assert euler(model[0], model[1]) == 2
    found = coarse(model, 0.2, 800)
    assert len(found.triangles) < 2500
    assert euler(model[0], found.triangles) == 2


def test_small_bodies_do_not_vanish():
    """A tetrahedron laid flat is two triangles on the same points, whose edge's ends share one neighbor and not two:
    by the link condition it goes no further."""
    one = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]) * 1e-3
    at = 2e-3 * np.stack(np.unravel_index(np.arange(300), (10, 10, 3)), axis=1)
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]], np.int32)
    model = (
        (one + at[:, None]).reshape(-1, 3),
        (faces + 4 * np.arange(300, dtype=np.int32)[:, None, None]).reshape(-1, 3),
    )
    found = coarse(model, 1e-2, 10)
    assert len(np.unique(found.triangles.min(axis=1) // 4)) == 300


def euler(points: np.ndarray, triangles: np.ndarray) -> int:
    topology = Topology.of(triangles, len(points))
    assert not len(topology.open)
    return len(np.unique(triangles)) - len(topology.edges) + len(triangles)


def test_a_handle_and_a_thin_wall_stay():
    """Euler: points - edges + triangles is 0 for a torus and 4 for a hollow sphere, whose two sides stay apart."""
    ball = models.sphere(1.0, 4)
    hollow = models.joined(ball, models.moved((ball[0], ball[1][:, ::-1]), scale=0.97))
    for model, wanted in ((models.torus(1.0, 0.05, 400, 24), 0), (hollow, 4)):
        found = coarse(model, 0.15, 1200)
        assert len(found.triangles) < 0.2 * len(model[1])
        topology = Topology.of(found.triangles, len(model[0]))
        assert not len(topology.open) and not len(topology.non_manifold_edges)
        assert len(np.unique(found.triangles)) - len(topology.edges) + len(found.triangles) == wanted


def test_slivers_go():
    """A cylinder of 512 sides: slivers of 1 : 400 collapse to panels a tenth as slender."""
    model = models.cylinder(1.0, 5.0, 512)
    found = coarse(model, 0.3)
    corners = model[0][found.triangles]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    assert np.median(2.0 * area(corners) / longest**2) > 10 * 2.0 * np.pi / 512 / 5.0
    assert volume(model[0], found.triangles) == pytest.approx(volume(*model), rel=0.02)


@pytest.mark.parametrize("most", [10**6, 800])
def test_lines_between_labels_stay(most):
    """The border between what is plated and what is masked keeps its place: the labels' areas stay."""
    model = models.box((1, 1, 1), (24, 24, 24))
    label = (model[0][model[1]].mean(axis=1)[:, 0] < 0.5).astype(int)
    found = coarse(model, 0.2, most, label=label)
    whole = area(model[0][model[1]])
    left = area(model[0][found.triangles])
    for k in (0, 1):
        assert left[label[found.origin] == k].sum() == pytest.approx(whole[label == k].sum(), rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.05, 2.0))
def test_pieces_tile_their_triangles(seed, size):
    """Whatever the triangles, their pieces have their area, and none is longer than wanted."""
    corners = np.random.default_rng(seed).normal(size=(5, 3, 3))
    pieces, origin = split(corners, np.full((5, 3), size))
    np.testing.assert_allclose(np.bincount(origin, area(pieces), 5), area(corners), rtol=1e-9)
    assert np.linalg.norm(pieces - np.roll(pieces, 1, axis=1), axis=2).max() <= size * (1 + 1e-12)


def test_cut_meets_the_number_and_the_proportions():
    """A thousand pieces within a tenth, a quarter as long at one end of a plate as at the other."""
    flat, faces = models.plate((4.0, 1.0), (4, 1))
    pieces, _ = cut(flat[faces], lambda places: 1.0 + 0.75 * places[..., 0], 1000)
    assert 900 < len(pieces) < 1100
    x, length = pieces.mean(axis=1)[:, 0], np.sqrt(area(pieces))
    assert 2.5 < length[x > 3.8].mean() / length[x < 0.2].mean() < 5.5


def test_distance_finds_the_nearest():
    """Against all pairs."""
    random = np.random.default_rng(1)
    places, points = random.normal(size=(40, 3, 3)), random.normal(size=(60, 3))
    apart = np.linalg.norm(places[:, :, None] - points, axis=3).min(axis=2)
    np.testing.assert_allclose(distance(places, points), apart, rtol=1e-5)


@pytest.mark.parametrize("cells", [1, 7, 40])
def test_cover_gives_each_face_its_place(cells):
    """A linear density over the pieces comes back on the faces, whether they are smaller or larger than the pieces;
    a constant one exactly, and what goes from faces to pieces keeps its mean."""
    found = surface(models.moved(models.box((1, 1, 1), (cells, cells, cells)), turn=models.rotation(2)))
    whole = run_to_end(skin(found, np.full(len(found.points), 0.1), 1000))
    pieces, origin = cut(whole.corners, lambda places: np.ones(places.shape[:-1]), 1500)
    to = cover(whole, pieces, origin)
    np.testing.assert_allclose(to.to_faces(np.ones(len(pieces))), 1.0)
    slope = np.array([1.0, -0.5, 0.3])
    density = to.to_faces(4.0 + pieces.mean(axis=1) @ slope)
    off = np.abs(density - 4.0 - found.centroid @ slope)
    assert off.max() < 0.08 and np.quantile(off, 0.95) < 0.03  # pieces are 0.1 long, 0.1 from end to end
    faces = np.random.default_rng(0).uniform(size=len(found.triangles)) if cells == 1 else found.centroid @ slope
    back = to.to_pieces(faces)
    assert area(pieces) @ back == pytest.approx(found.area @ faces, rel=0.02, abs=0.02)


def test_what_was_reduced_once_gives_each_face_its_place():
    """A skin made of a surface that was coarsened before tells of every face which of its triangles it lies on."""
    found = surface(models.moved(models.box((1, 1, 1), (30, 30, 30)), turn=models.rotation(2)))
    start = run_to_end(reduced(found, 0.1, 500))
    assert start is not None and len(start.triangles) < 0.5 * len(found.triangles)
    whole = run_to_end(skin(found, np.full(len(found.points), 0.3), 200, start))
    pieces, origin = cut(whole.corners, lambda places: np.ones(places.shape[:-1]), 1500)
    to = cover(whole, pieces, origin)
    slope = np.array([1.0, -0.5, 0.3])
    density = to.to_faces(4.0 + pieces.mean(axis=1) @ slope)
    assert np.abs(density - 4.0 - found.centroid @ slope).max() < 0.08
    assert run_to_end(reduced(found, 0.1, 5000)) is None, "few faces are coarsened as they are"


def test_a_face_of_a_rough_scan_reads_a_piece_at_hand():
    """Noise turns the faces' normals: what they read was chosen by these, up to a third of the body away."""
    points, triangles = models.sphere(1.0, 4)
    points = points * (1.0 + np.random.default_rng(3).normal(0.0, 0.02, len(points)))[:, None]
    found = surface((points, triangles))
    whole = run_to_end(skin(found, np.full(len(points), 0.15), 400))
    pieces, origin = cut(whole.corners, lambda places: np.ones(places.shape[:-1]), 500)
    to = cover(whole, pieces, origin)
    apart = np.linalg.norm(found.centroid[to.face] - pieces.mean(axis=1)[to.piece], axis=1)
    reach = np.linalg.norm(pieces - pieces.mean(axis=1)[:, None], axis=2).max(axis=1)
    assert (apart < 1.5 * reach.max()).all()


def test_a_sliver_over_a_panel_is_close_to_it():
    """It is the smaller one by area, however far it sticks out; looked for by its reach it was lost."""
    panel = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    sliver = np.array([[-9.0, 0.3, 0.1], [10.0, 0.3, 0.1], [0.2, 0.31, 0.1]])
    found = close_pairs(np.stack([panel, sliver]))
    assert (found.small.tolist(), found.large.tolist()) == ([1], [0])
    np.testing.assert_allclose(found.gap, 0.1)


@pytest.mark.parametrize(
    ("degrees", "wall", "ragged_wall"), [(10.0, True, True), (25.0, False, True), (40.0, False, False)]
)
def test_a_sharp_fold_is_an_edge_but_on_a_scan_a_wall(degrees, wall, ragged_wall):
    """Two panels that meet at an angle, one over the other: a knife's edge of a sound part keeps both; on a shell with
    open edges it is what a scan made of a wall, or of a crossing."""
    angle = np.radians(degrees)
    panel = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    turn = np.array([[np.cos(angle), 0.0, -np.sin(angle)], [0.0, 1.0, 0.0], [np.sin(angle), 0.0, np.cos(angle)]])
    pieces = np.stack([panel, 0.9 * panel[::-1] @ turn])
    assert bool(len(close_pairs(pieces).gap)) == wall
    assert bool(len(close_pairs(pieces, ragged=np.ones(2, bool)).gap)) == ragged_wall
    assert bool(len(close_pairs(pieces, ragged=np.array([True, False])).gap)) == wall


def test_close_pairs_are_those_of_all_pairs():
    """Two plates 0.3 apart, one finer than the other, and a third 5 away: against every pair tried."""
    one, two, far = (
        models.moved(models.plate((4.0, 4.0), cells), (0, 0, height))
        for cells, height in (((4, 4), 0.0), ((7, 7), 0.3), ((4, 4), 5.0))
    )
    pieces = np.concatenate([points[faces] for points, faces in (one, models.inside_out(two), far)])
    found = close_pairs(pieces)
    middle, wide = pieces.mean(axis=1), width(pieces)
    small, large = np.nonzero(wide[:, None] < wide)
    inside = barycentric(middle[small], pieces[large]).min(axis=1) > 0.02
    near = inside & (np.abs(middle[small] - middle[large])[:, 2] < wide[large])
    assert set(zip(found.small, found.large, strict=True)) == set(zip(small[near], large[near], strict=True))
    np.testing.assert_allclose(found.gap, 0.3)
    assert len(found.gap) and (found.above == found.faces).all()
    assert len(set(found.above)) == 1, "all face each other, or none does"


def test_a_thick_part_is_cut_as_before():
    """Nothing of a cube is close to anything: its pieces stay as they are."""
    points, faces = models.box((1, 1, 1), (6, 6, 6))
    pieces, origin = cut_close(points[faces], np.arange(len(faces)), 0.05, 10**6)
    np.testing.assert_array_equal(pieces, points[faces])
    np.testing.assert_array_equal(origin, np.arange(len(faces)))


def test_coarse_panels_of_a_round_part_stay_in_its_tank():
    """A cup of 220 mm, 2 mm from the walls and under the surface: corners of coarse panels stand out from a round side
    by more than that. The equations had points behind a mirror then, and a traceback."""
    cup = surface(models.cup(0.1, 0.2, 0.01, rows=4))
    size = np.ptp(cup.points, axis=0) + 0.004
    tank = {"size_mm": [*(1e3 * (size + (0.0, 0.1, 0.02)))], "level_mm": 1e3 * size[2]}
    found = arrange(cup, read_job({"tank": tank}))
    pose = found.poses[0]
    panels = run_to_end(lay(cup, found, 500))
    own = panels.corners[panels.bodies[0]]
    assert np.abs(pose.of(panels.part.pieces))[..., 0].max() > found.box[1, 0]
    assert (own >= found.box[0]).all() and (own <= found.box[1]).all()
