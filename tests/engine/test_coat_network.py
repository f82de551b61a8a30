"""The coat as a network: conductances, refinement, pads."""

from __future__ import annotations

import igl
import models
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.engine.mesh import inspection
from addon.engine.coat import laplacian, refine, sheet, wires
from addon.engine.coat.refine import Mesh
from addon.engine.errors import InputError
from addon.engine.settings.part import Wire
from addon.engine.progress import run_to_end
from addon.engine.mesh.surface import Surface
from addon.engine.mesh.topology import Topology


def surface(*parts: models.Model, **marks: object) -> Surface:
    return run_to_end(inspection.inspect(models.part(*parts, **marks)))


def shaken(model: models.Model, amount: float, seed: int = 0) -> models.Model:
    points, faces = model
    edge = np.linalg.norm(points[faces[:, 0]] - points[faces[:, 1]], axis=1).mean()
    return points + np.random.default_rng(seed).normal(size=points.shape) * amount * edge, faces


def network(model: models.Model):
    points, faces = model
    return laplacian.network(points, faces, Topology.of(faces, len(points)))


def dense(graph) -> np.ndarray:
    out = np.zeros((graph.count, graph.count))
    out[graph.low, graph.high] = out[graph.high, graph.low] = graph.weight
    return out


@pytest.mark.slow
@pytest.mark.parametrize(
    "model",
    [
        shaken(models.torus(2, 0.5, 40, 16), 0.2),
        shaken(models.sphere(1.0, 3), 0.25),
        shaken(models.plate((3, 1), (24, 8)), 0.3),
        models.cylinder(1.0, 20.0, 40, 2),
        models.cylinder(0.01, 1.0, 100, 1),
    ],
    ids=["torus", "sphere", "open plate", "long cylinder", "needles"],
)
def test_conductances_are_those_of_an_intrinsic_delaunay_triangulation(model):
    """Against libigl's intrinsic Delaunay cotangent matrix (MPL-2.0), entry by entry."""
    points, faces = model
    theirs = igl.intrinsic_delaunay_cotmatrix(points, faces.astype(np.int64))[0].toarray()
    np.fill_diagonal(theirs, 0.0)
    ours = dense(network(model))
    # where four points lie on one circle either diagonal will do, and carries nothing
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-6 * np.abs(theirs).max())


@pytest.mark.slow
def test_flips_change_nothing_where_the_mesh_is_delaunay():
    """An icosphere's cotangent weights, written out for each triangle."""
    points, faces = models.sphere(1.0, 3)
    plain = np.zeros((len(points), len(points)))
    for k in range(3):
        a, b, c = (points[faces[:, (k + i) % 3]] for i in range(3))
        u, v = b - a, c - a
        cot = np.einsum("ij,ij->i", u, v) / np.linalg.norm(np.cross(u, v), axis=1)
        np.add.at(plain, (faces[:, (k + 1) % 3], faces[:, (k + 2) % 3]), cot / 2)
    np.testing.assert_allclose(dense(network((points, faces))), plain + plain.T, rtol=0, atol=1e-9)


def test_network_is_exact_for_linear_potentials_on_a_plane():
    """A flat sheet in an even field g carries g^2 x area: linear elements are exact for it."""
    points, faces = shaken(models.plate((3, 1), (24, 8)), 0.1)
    points[:, 2] = 0.0
    graph = network((points, faces))
    steps = points[graph.low, 0] - points[graph.high, 0]
    a, b, c = points[faces].transpose(1, 0, 2)
    signed = 0.5 * np.cross(b - a, c - a)[:, 2]
    assert signed.min() > 0, "no triangle is folded over"
    assert graph.weight @ steps**2 == pytest.approx(signed.sum(), rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("change", ["turn", "scale", "order"])
def test_conductances_do_not_depend_on_place_size_or_order(change):
    """A sheet's conductance has no length in it."""
    model = shaken(models.torus(2, 0.5, 24, 12), 0.2)
    points, faces = model
    if change == "turn":
        other, back = models.moved(model, (1, 2, 3), models.rotation(1)), np.arange(len(points))
    elif change == "scale":
        other, back = models.moved(model, scale=1e-3), np.arange(len(points))
    else:
        random = np.random.default_rng(4)
        back = random.permutation(len(points))
        place = np.empty_like(back)
        place[back] = np.arange(len(back))
        turned = np.roll(place[faces], 1, axis=1)[random.permutation(len(faces))]
        other = points[back], turned.astype(np.int32)
    expected = dense(network(model))[np.ix_(back, back)]
    np.testing.assert_allclose(dense(network(other)), expected, rtol=0, atol=1e-6)


def test_triangles_without_area_conduct_between_their_points():
    """A point in the middle of an edge, joined by a triangle of no area: the sheet is whole across it."""
    flat, faces = models.plate((2, 1), (2, 1))
    # lower row split at x = 1 on one side only: a sliver of three points in line closes the gap
    points = np.array([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0], [1, 0, 0], [0, -1, 0], [2, -1, 0]], dtype=float)
    triangles = np.array([[0, 1, 2], [0, 2, 3], [0, 4, 1], [5, 4, 0], [5, 6, 4], [6, 1, 4]], dtype=np.int32)
    part = run_to_end(inspection.inspect(models.part((points, triangles))))
    coat = run_to_end(sheet.build(part, triangles=1))
    assert coat.pieces == 1
    middle = np.flatnonzero((coat.mesh.points == [1, 0, 0]).all(axis=1))[0]
    joined = set(coat.graph.high[coat.graph.low == middle]) | set(coat.graph.low[coat.graph.high == middle])
    above = np.flatnonzero(coat.mesh.points[:, 1] == 1)
    assert joined & set(above.tolist()), "the flips reach across the triangle without area"
    assert coat.area.sum() == pytest.approx(4.0)


def owned(model: models.Model) -> Mesh:
    points, faces = model
    return Mesh(points, faces, np.arange(len(faces), dtype=np.int32))


def areas(cut: Mesh, count: int) -> np.ndarray:
    a, b, c = cut.points[cut.triangles].transpose(1, 0, 2)
    return np.bincount(cut.owner, 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1), count)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6), st.floats(0.0, 1.0))
def test_splitting_keeps_shape_and_closedness(seed, share):
    """However many edges are cut, each triangle keeps its area and a closed mesh stays closed."""
    random = np.random.default_rng(seed)
    before = owned(models.sphere(1.0, 1))
    topology = Topology.of(before.triangles, len(before.points))
    edges = np.flatnonzero(random.random(len(topology.edges)) < share)
    t = random.uniform(0.2, 0.8, (len(edges), 1))
    ends = before.points[topology.edges[edges]]
    after = refine.split(before, topology, edges, ends[:, 0] * t + ends[:, 1] * (1 - t))
    count = len(before.triangles)
    assert areas(after, count) == pytest.approx(areas(before, count), rel=1e-9)
    joined = Topology.of(after.triangles, len(after.points))
    assert len(joined.open) == 0
    assert len(joined.non_manifold_edges) == 0


@pytest.mark.parametrize("model", [models.cylinder(1, 10, 60), models.box((3, 2, 1)), models.cup()])
def test_long_edges_are_shortened_at_a_bounded_price(model):
    """No edge is left longer than the limit; a model of needles does not become millions of triangles."""
    before = owned(model)
    topology = Topology.of(before.triangles, len(before.points))
    limit = refine.affordable_edge_length(before, topology, 5000)
    after, topology = refine.shorten_edges(before, topology, limit)
    ends = after.points[topology.edges]
    assert np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).max() <= limit
    assert len(after.triangles) < 20_000
    count = len(before.triangles)
    assert areas(after, count) == pytest.approx(areas(before, count), rel=1e-9)
    assert len(topology.open) == 0


@pytest.mark.slow
def test_pad_covers_its_disc_whatever_the_mesh():
    """The triangles under a pad on a flat face have the area of its disc, within the polygon's 2 %."""
    for model in (models.box((3, 3, 1)), models.box((3, 3, 1), (40, 40, 10)), models.cylinder(2.0, 1.0, 90)):
        part = surface(models.moved(model, scale=0.01))
        top = part.bounds[1, 2]
        pads = wires.specified_pads(part, [Wire((0.011, 0.007, top), 0.004)])
        coat, covered = run_to_end(sheet.with_pads(part, run_to_end(sheet.build(part)), pads))
        under = np.isin(coat.mesh.triangles, covered[0]).all(axis=1)
        assert coat.share[under].sum() == pytest.approx(np.pi * 0.002**2, rel=0.02)
        assert coat.share.sum() == pytest.approx(part.plated_area.sum(), rel=1e-9)


def test_pad_stays_on_its_side_of_a_thin_wall():
    """A pad wider than the wall is thick does not reach through it."""
    part = surface(models.moved(models.box((40, 40, 1)), scale=1e-3))
    pads = wires.specified_pads(part, [Wire((0.02, 0.02, 0.001), 0.006)])
    coat, covered = run_to_end(sheet.with_pads(part, run_to_end(sheet.build(part)), pads))
    assert (coat.mesh.points[covered[0], 2] > 0.0009).all()


def test_masked_band_divides_the_coat():
    """Masked faces carry no coat: a ring of them leaves two pieces, each with its own area."""
    model = models.moved(models.cylinder(1.0, 3.0, 40, 9), scale=0.01)
    points, faces = model
    height = points[faces].mean(axis=1)[:, 2]
    masked = (height > 0.012) & (height < 0.018)
    part = surface(model, masked=masked)
    coat = run_to_end(sheet.build(part))
    assert coat.pieces == 2
    assert coat.area.sum() == pytest.approx(part.plated_area.sum(), rel=1e-9)
    assert (coat.piece_of_face[masked] == -1).all()
    assert len(set(coat.piece_of_face[~masked])) == 2


BOX = surface(models.moved(models.box((30, 20, 10)), scale=1e-3), masked=np.arange(12) < 2)  # x = 0 is masked
NESTED = surface(
    models.moved(models.box((30, 20, 10)), scale=1e-3),
    models.inside_out(models.moved(models.box((10, 10, 4)), (0.01, 0.005, 0.003), scale=1e-3)),
)


@pytest.mark.parametrize(
    ("part", "point", "words"),
    [
        (BOX, (0.015, 0.010, 0.018), "8 mm off the part"),
        (BOX, (0.0, 0.010, 0.005), "on a masked face"),
        (NESTED, (0.0100, 0.0060, 0.0050), "the liquid does not reach"),
    ],
    ids=["off the surface", "masked", "buried"],
)
def test_wire_that_does_not_touch_plated_coat_is_a_fault(part, point, words):
    with pytest.raises(InputError, match=words) as fault:
        wires.specified_pads(part, [Wire(None, 0.003), Wire(point, 0.003)])
    assert "wire[1]" in str(fault.value)
    assert "\n" not in str(fault.value)


def test_wire_near_the_surface_is_put_on_it():
    pads = wires.specified_pads(BOX, [Wire((0.015, 0.010, 0.0107), 0.003)])
    assert pads[0].centre == pytest.approx((0.015, 0.010, 0.010))
    assert BOX.normal[pads[0].face] == pytest.approx([0, 0, 1])


@pytest.mark.slow
@settings(deadline=None, max_examples=50)
@given(st.tuples(*[st.floats(-2, 2)] * 3))
def test_nearest_place_is_that_of_an_independent_library(point):
    """Against libigl's distance to a mesh."""
    part = run_to_end(inspection.inspect(models.part(models.torus(1.0, 0.4, 16, 9))))
    square, _, _ = igl.point_mesh_squared_distance(np.array([point]), part.points, part.triangles.astype(np.int64))
    face, place, distance = wires.nearest(part, point)
    assert distance == pytest.approx(float(np.sqrt(square).ravel()[0]), abs=1e-9)
    assert np.linalg.norm(place - point) == pytest.approx(distance, abs=1e-12)
    assert 0 <= face < len(part.triangles)
