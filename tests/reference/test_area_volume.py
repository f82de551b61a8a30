"""Area and volume against closed forms, and on irregular models against libraries that know nothing of ours."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh

from addon.engine.findings import Code, Quantity
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end
from addon.engine.units import MM

import models
from scans import bunny, mended_bunny

R, TUBE = 20 * MM, 7 * MM
TAU = 2 * np.pi


def inspect(*parts):
    return run_to_end(inspection.inspect(models.part(*parts)))


def from_manifold(solid):
    found = solid.to_mesh()
    return np.asarray(found.vert_properties[:, :3], dtype=np.float64), np.asarray(found.tri_verts, dtype=np.int32)


def to_manifold(model):
    points, triangles = model
    return manifold3d.Manifold(manifold3d.Mesh(points.astype(np.float32), triangles.astype(np.uint32)))


@pytest.mark.parametrize(
    ("refine", "area", "volume"),
    [
        (lambda n: models.sphere(R, n), 2 * TAU * R**2, 2 / 3 * TAU * R**3),
        (lambda n: models.torus(R, TUBE, 8 << n, 4 << n), TAU**2 * R * TUBE, TAU**2 / 2 * R * TUBE**2),
    ],
    ids=["sphere", "torus"],
)
def test_round_bodies_converge_with_the_square_of_the_triangle(refine, area, volume):
    """4 pi r^2 and 4/3 pi r^3; 4 pi^2 R r and 2 pi^2 R r^2. Flat triangles on a curved surface: order two."""
    sizes = np.array([2, 3, 4])
    found = [inspect(refine(n)) for n in sizes]
    for value, exact in (([s.wet_area.sum() for s in found], area), ([s.volume for s in found], volume)):
        miss = 1 - np.array(value) / exact
        assert np.polyfit(sizes, np.log2(miss), 1)[0] == pytest.approx(-2, abs=0.1)
        assert 0 < miss[-1] < 0.01


def test_a_real_scan_as_it_is():
    """Holes, and edges of three faces: area, open edges and (not) closed as trimesh has them."""
    surface, peer = inspect(bunny()), trimesh.Trimesh(*bunny(), process=False)
    assert surface.wet_area.sum() == pytest.approx(peer.area, rel=1e-12)
    assert not surface.closed and not peer.is_watertight and np.isnan(surface.volume)
    uses = np.bincount(peer.edges_unique_inverse)
    assert (
        len(surface.topology.open) == (uses == 1).sum() and len(surface.topology.non_manifold_edges) == (uses > 2).sum()
    )


@pytest.mark.slow
def test_a_real_scan_with_its_holes_filled():
    surface, peer = inspect(mended_bunny()), trimesh.Trimesh(*mended_bunny(), process=False)
    assert surface.closed and peer.is_watertight
    assert surface.volume == pytest.approx(peer.volume, rel=1e-9)
    assert surface.wet_area.sum() == pytest.approx(peer.area, rel=1e-12)
    assert np.allclose(surface.normal[surface.wetted], peer.face_normals[surface.wetted], atol=1e-6)


def test_what_two_bodies_cover_of_each_other_is_what_their_union_lacks():
    """Ring and ball left as two bodies, against manifold3d's union of them: area too much, within the samples."""
    ring, ball = models.torus(R, TUBE, 96, 48), models.moved(models.sphere(12 * MM, 4), shift=(R, 0, 0))
    apart = inspect(ring, ball)
    union = to_manifold(ring) + to_manifold(ball)
    joined = inspect(from_manifold(union))
    [fault] = apart.faults
    assert fault.code == Code.SHELLS_OVERLAP and not joined.faults
    share = fault.quantities[Quantity.SHARE]
    assert share == pytest.approx(1 - union.surface_area() / apart.wet_area.sum(), abs=0.01)
    assert joined.wet_area.sum() == pytest.approx(union.surface_area(), rel=1e-5)
    assert joined.volume == pytest.approx(union.volume(), rel=1e-5)


def test_a_ball_cut_out_of_a_block_is_a_sealed_hollow():
    """manifold3d cuts a ball out of the middle of a block: its volume is ours, the hollow's area is not wetted."""
    block, ball = models.box((40 * MM,) * 3), models.moved(models.sphere(12 * MM, 4), shift=(20 * MM,) * 3)
    cut = to_manifold(block) - to_manifold(ball)
    surface = inspect(from_manifold(cut))
    assert surface.volume == pytest.approx(cut.volume(), rel=1e-5)
    assert surface.wet_area.sum() == pytest.approx(6 * (40 * MM) ** 2)
    assert surface.area.sum() == pytest.approx(cut.surface_area(), rel=1e-5)


def test_an_irregular_closed_surface():
    """A lattice of channels as a level set of manifold3d: one body with many handles, area and volume its."""

    def gyroid(x, y, z):
        return np.sin(x) * np.cos(y) + np.sin(y) * np.cos(z) + np.sin(z) * np.cos(x)

    solid = manifold3d.Manifold.level_set(gyroid, [-6, -6, -6, 6, 6, 6], 0.5, 0.2).scale((4 * MM,) * 3)
    surface = inspect(from_manifold(solid))
    assert surface.closed and solid.genus() > 3
    assert surface.volume == pytest.approx(solid.volume(), rel=1e-5)
    assert surface.wet_area.sum() == pytest.approx(solid.surface_area(), rel=1e-5)
