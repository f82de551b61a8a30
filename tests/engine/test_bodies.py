"""Gas as closed bodies: Gauss's theorem gives each the volume that its pocket has, and no solid lies in it."""

from __future__ import annotations

import numpy as np
import pytest

from addon.engine.trapping import bodies, gas
from addon.engine.mesh import inspection
from addon.engine.progress import run_to_end

import models

BELL = models.moved(models.cup(10.0, 20.0, 1.0, rows=3), turn=np.diag([1, -1, -1]))  # it opens downwards
LENGTH = 2.7e-3  # m, capillary


def surface_of(*found, scale=1e-3):
    return run_to_end(inspection.inspect(models.part(*(models.moved(one, scale=scale) for one in found))))


def gauss(found):
    """(k,) volumes of bodies by Gauss's theorem, from a point of each so that digits are kept."""
    first = found.triangles[np.searchsorted(found.body, found.body), 0]
    a, b, c = np.moveaxis(found.triangles - first[:, None], 1, 0)
    return np.bincount(found.body, np.einsum("ij,ij->i", a, np.cross(b, c)) / 6, len(found.volume))


def vectors(triangles):
    return 0.5 * np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])


def winding(triangles, points):
    """(p,) how often a surface winds round each point (van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125)."""
    a, b, c = np.moveaxis(triangles[None] - points[:, None, None], 2, 0)
    la, lb, lc = (np.linalg.norm(side, axis=2) for side in (a, b, c))
    triple = np.einsum("ptk,ptk->pt", a, np.cross(b, c))
    below = la * lb * lc + (a * b).sum(2) * lc + (b * c).sum(2) * la + (c * a).sum(2) * lb
    return np.arctan2(triple, below).sum(axis=1) / (2 * np.pi)


def lumps():
    """A ball with hollows and a bell, turned at random: several pockets of any form."""
    points, faces = models.sphere(10.0, 4)
    unit = points / np.linalg.norm(points, axis=1, keepdims=True)
    random = np.random.default_rng(5)
    for _ in range(30):
        middle = random.normal(size=3)
        near = np.exp((unit @ (middle / np.linalg.norm(middle)) - 1) / random.uniform(0.01, 0.05))
        points = points - unit * 2.5 * near[:, None]
    return (points, faces), models.moved(BELL, shift=(40, 0, 0), turn=models.rotation(2))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("of", [bodies.gas_bodies, bodies.liquid_bodies])
def test_each_body_is_closed_and_has_its_pockets_volume(seed, of):
    """Gauss's theorem on each body against the integral that fills the pockets, for any way up."""
    surface = surface_of(*lumps())
    up = np.random.default_rng(seed).normal(size=3)
    found = of(surface, up)
    if of is bodies.gas_bodies:
        listed = [pocket.volume for pocket in run_to_end(gas.trapped(surface, up, capillary_length=LENGTH)).pockets]
    else:
        listed = [pool.volume for pool in run_to_end(gas.held(surface, up, capillary_length=LENGTH)).pools]
    assert len(listed) >= 1
    np.testing.assert_allclose(found.volume[: len(listed)], listed, rtol=1e-12)
    np.testing.assert_allclose(gauss(found), found.volume, rtol=1e-9, atol=1e-9 * found.volume.max())
    along = vectors(found.triangles)
    for k in range(len(found.volume)):
        own = along[found.body == k]
        assert np.abs(own.sum(axis=0)).max() < 1e-9 * np.linalg.norm(own, axis=1).sum()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_a_body_takes_no_room_of_the_solid_and_none_below_its_level(seed):
    """Points at random: where a body winds round one, once, the part does not, and the point is above the sheet."""
    surface = surface_of(*lumps())
    up = np.random.default_rng(seed).normal(size=3)
    found = bodies.gas_bodies(surface, up)
    for k in range(min(len(found.volume), 3)):
        own, sheet = found.triangles[found.body == k], found.triangles[(found.body == k) & found.sheet]
        low, high = own.reshape(-1, 3).min(axis=0), own.reshape(-1, 3).max(axis=0)
        points = np.random.default_rng(9).uniform(low, high, (300, 3))
        turns = winding(own, points)
        inside = turns > 0.5
        np.testing.assert_allclose(turns, np.round(turns), atol=1e-6)
        assert set(np.round(turns)) <= {0.0, 1.0}
        assert np.abs(winding(surface.corners, points[inside])).max(initial=0.0) < 1e-6
        assert (points[inside] @ up > (sheet.reshape(-1, 3) @ up).min() - 1e-12).all()
        share = found.volume[k] / np.prod(high - low)
        assert inside.mean() == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 300) + 1e-3)


def test_a_bell_holds_a_prism_with_a_flat_sheet_over_its_mouth():
    """Its hollow is a polygon with 64 corners on a radius of 10 mm, 20 mm deep (by hand)."""
    surface = surface_of(BELL)
    found = bodies.gas_bodies(surface, (0, 0, 1))
    mouth = 32 * np.sin(np.pi / 32) * 100e-6  # m2
    down = vectors(found.triangles[found.sheet])
    np.testing.assert_allclose(down[:, :2], 0.0, atol=1e-15)
    assert down[:, 2].max() < 1e-15
    assert -down[:, 2].sum() == pytest.approx(mouth, rel=1e-9)
    assert found.volume == pytest.approx([mouth * 20e-3], rel=1e-9)


def test_what_stands_in_the_gas_leaves_a_hole_in_its_sheet():
    """A square bar of 4 mm pokes 6 mm into the bell from below its mouth: 16 mm2 less sheet, 96 mm3 less gas."""
    bell, bar = surface_of(BELL), surface_of(BELL, models.moved(models.box((4, 4, 20)), shift=(-2, -2, -34)))
    alone, poked = (bodies.gas_bodies(surface, (0, 0, 1)) for surface in (bell, bar))
    area = [np.linalg.norm(vectors(found.triangles[found.sheet]), axis=1).sum() for found in (alone, poked)]
    assert area[0] - area[1] == pytest.approx(16e-6, rel=1e-6)
    assert alone.volume[0] - poked.volume[0] == pytest.approx(96e-9, rel=1e-6)
    np.testing.assert_allclose(gauss(poked), poked.volume, rtol=1e-9)


def test_no_gas_no_bodies():
    found = bodies.gas_bodies(surface_of(models.box((10, 10, 10))), (0, 0, 1))
    assert found.triangles.shape == (0, 3, 3)
    assert found.volume.shape == (0,)
